// One message as an element: words, picture or file, buttons, local time. It is drawn anew whenever
// the message changes; what a press or an edit does is decided by the pane that gives `actions`.

import { icon } from "./icons.js";
import { make, shortened } from "./dom.js";
import { clockTime, shortMoment } from "./moments.js";
import { safeFragment } from "./safe_html.js";

const KINDS = {
  photo: "A picture",
  document: "A file",
  sticker: "A sticker",
  voice: "A voice note",
  location: "A place",
  contact: "A contact",
};

/**
 * The element of `message`.
 *
 * `reader` has `zone`, `name` and `language`; `quoted` is the message answered to, or null; `actions` has
 * `press(message, button)`, `answer(message)`, `change(message)` and `openPicture(message)`.
 */
export function drawMessage(message, reader, quoted, actions) {
  const own = message.from === "person";
  const who = own ? reader.name : "Cuffbell";
  return make("article", { class: `note ${own ? "from-person" : "from-bot"}`, "data-message": message.id },
    make("p", { class: "unseen" }, `${who}, ${shortMoment(message.date, reader.zone)}:`),
    quoted === null ? null : drawQuote(quoted),
    drawPicture(message, actions),
    drawDocument(message),
    drawWords(message, reader),
    drawFoot(message, reader, actions),
    drawButtons(message, reader, actions),
  );
}

function drawQuote(quoted) {
  return make("p", { class: "quote" }, `Answer to “${shortened(messageWords(quoted), 80)}”`);
}

/** The text of a message, or what it is when it has none. */
export function messageWords(message) {
  return message.text || KINDS[message.kind] || "A message";
}

function drawPicture(message, actions) {
  if (message.photo === null) return null;
  const { url, width, height } = message.photo;
  const image = make("img", { src: url, width, height, alt: pictureWords(message) });
  return make("button", {
    type: "button", class: "picture", onclick: () => actions.openPicture(message),
  }, image, make("span", { class: "picture-hint" }, "Open larger"));
}

/** What stands for a picture where it is not seen. */
export function pictureWords(message) {
  return message.text ? `Picture: ${shortened(message.text, 120)}` : "Picture without words";
}

function drawDocument(message) {
  if (message.document === null) return null;
  const { url, name, size } = message.document;
  return make("p", { class: "document" },
    make("a", { class: "open", href: url, target: "_blank", rel: "noopener" },
      icon("file"), make("span", {}, make("u", {}, name), make("small", {}, sizeWords(size)))),
    make("a", { class: "quiet", href: url, download: name, "aria-label": `Save ${name}` }, "Save"),
  );
}

/** "812 bytes", "12 kB", "3.4 MB". */
export function sizeWords(bytes) {
  if (bytes < 1000) return `${bytes} bytes`;
  if (bytes < 1_000_000) return `${Math.round(bytes / 1000)} kB`;
  return `${(bytes / 1_000_000).toFixed(1)} MB`;
}

function drawWords(message, reader) {
  if (message.html) return make("div", { class: "words", lang: reader.language }, safeFragment(message.html));
  if (message.photo !== null || message.document !== null) return null;
  return make("div", { class: "words kind" }, messageWords(message));
}

function drawFoot(message, reader, actions) {
  const time = make("time", { datetime: message.date }, clockTime(message.date, reader.zone));
  const changed = message.edited === null ? null
    : make("span", {}, `changed ${clockTime(message.edited, reader.zone)}`);
  const canChange = message.from === "person" && message.text !== "";
  return make("div", { class: "note-foot" }, time, changed,
    make("span", { class: "note-tools" },
      noteTool("answer", "Answer", message, () => actions.answer(message)),
      canChange ? noteTool("change", "Change", message, () => actions.change(message)) : null));
}

function noteTool(name, verb, message, run) {
  return make("button", {
    type: "button", class: `note-tool ${name}`, title: verb,
    "aria-label": `${verb} the message “${shortened(messageWords(message))}”`, onclick: run,
  }, icon(name === "change" ? "pencil" : name));
}

function drawButtons(message, reader, actions) {
  if (message.buttons.length === 0) return null;
  const rows = message.buttons.map((row) => make("div", { class: "button-row", lang: reader.language },
    ...row.map((button) => drawButton(message, button, actions))));
  return make("div", { class: "buttons", role: "group", "aria-label": "Answers to this message" }, ...rows);
}

function drawButton(message, button, actions) {
  if (button.url !== null) {
    return make("a", { class: "choice", href: button.url, target: "_blank", rel: "noopener noreferrer" },
      button.text);
  }
  // Not `disabled` while it waits: a disabled button would lose the keyboard's focus.
  return make("button", {
    type: "button", class: "choice",
    onclick: async ({ currentTarget }) => {
      if (currentTarget.getAttribute("aria-disabled") === "true") return;
      currentTarget.setAttribute("aria-disabled", "true");
      await actions.press(message, button);
      currentTarget.removeAttribute("aria-disabled");
    },
  }, button.text);
}
