// A button that opens a small list of actions. Arrow keys, Home and End move inside it, Escape and
// Tab close it; after Escape the focus is back on the button.

import { icon } from "./icons.js";
import { make } from "./dom.js";

export class Menu {
  /** `entries()` gives the list at each opening: `{label, detail?, drawing?, run}`. */
  constructor({ label, drawing, entries }) {
    this.entries = entries;
    this.list = make("div", {
      class: "menu-list", role: "menu", "aria-label": label, hidden: true,
      onkeydown: (event) => this.onKey(event),
    });
    this.button = make("button", {
      type: "button", class: "quiet", "aria-haspopup": "menu", "aria-expanded": "false",
      onclick: () => this.toggle(),
    }, icon(drawing), label);
    this.element = make("div", { class: "menu", onfocusout: (event) => this.onLeave(event) },
      this.button, this.list);
    document.addEventListener("pointerdown", (event) => {
      if (!this.element.contains(event.target)) this.close();
    });
  }

  toggle() {
    if (this.list.hidden) this.open();
    else this.close();
  }

  open() {
    this.list.replaceChildren(...this.entries().map((entry) => this.drawEntry(entry)));
    this.list.hidden = false;
    this.button.setAttribute("aria-expanded", "true");
    this.list.firstElementChild?.focus();
  }

  close() {
    this.list.hidden = true;
    this.button.setAttribute("aria-expanded", "false");
  }

  drawEntry(entry) {
    return make("button", {
      type: "button", role: "menuitem", tabindex: "-1",
      onclick: () => {
        this.button.focus();
        this.close();
        entry.run();
      },
    }, entry.drawing ? icon(entry.drawing) : null,
    make("span", {}, entry.label, entry.detail ? make("small", {}, entry.detail) : null));
  }

  onKey(event) {
    if (event.key === "Escape") {
      event.preventDefault();
      this.button.focus();
      this.close();
      return;
    }
    const items = [...this.list.children];
    const here = items.indexOf(document.activeElement);
    const target = { ArrowDown: here + 1, ArrowUp: here - 1, Home: 0, End: -1 }[event.key];
    if (target === undefined) return;
    event.preventDefault();
    items.at(target % items.length)?.focus();
  }

  onLeave(event) {
    if (!this.element.contains(event.relatedTarget)) this.close();
  }
}
