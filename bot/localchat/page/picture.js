// The dialog that shows one picture as large as the window allows. Escape closes it, and the
// browser gives the focus back to the picture in the chat.

import { icon } from "./icons.js";
import { make } from "./dom.js";
import { pictureWords } from "./message.js";
import { safeFragment } from "./safe_html.js";

/** Open the picture of `message`. */
export function openPicture(message) {
  const dialog = make("dialog", { class: "viewer", "aria-label": "Picture, larger" });
  const close = make("button", { type: "button", class: "quiet", onclick: () => dialog.close() },
    icon("close"), "Close");
  const alone = make("a", {
    class: "quiet", href: message.photo.url, target: "_blank", rel: "noopener",
  }, "Open by itself");
  dialog.append(
    make("div", { class: "viewer-tools" }, alone, close),
    make("img", { src: message.photo.url, alt: pictureWords(message) }),
    make("div", { class: "viewer-words", tabindex: "0", role: "group", "aria-label": "The picture in words" },
      safeFragment(message.html || "No words came with this picture.")),
  );
  dialog.addEventListener("click", (event) => {
    if (event.target === dialog) dialog.close();
  });
  dialog.addEventListener("close", () => dialog.remove());
  document.body.append(dialog);
  dialog.showModal();
  close.focus();
}
