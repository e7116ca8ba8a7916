// Which person's chat a narrow window shows, with the number of messages not seen yet. On a wide
// window all panes stand side by side and the style sheet hides the switch.

import { arrange, make } from "./dom.js";
import { roleName } from "./roles.js";

const NARROW = window.matchMedia("(max-width: 47.999em), (max-height: 30em)");

export class Switch {
  /** `onChosen(pane)` runs when a pane comes to the front. */
  constructor(onChosen) {
    this.onChosen = onChosen;
    this.element = document.getElementById("switch");
    this.entries = new Map();
    this.chosen = null;
    NARROW.addEventListener("change", () => this.draw());
  }

  /** Show a button for each of `panes`, in their order. */
  set(panes) {
    this.panes = new Map(panes.map((pane) => [pane.chat.id, pane]));
    for (const pane of panes) if (!this.entries.has(pane.chat.id)) this.entries.set(pane.chat.id, this.makeEntry(pane));
    if (!this.panes.has(this.chosen)) this.chosen = panes[0]?.chat.id ?? null;
    arrange(this.element, panes.map((pane) => this.entries.get(pane.chat.id).button));
    this.draw();
  }

  makeEntry(pane) {
    const badge = make("span", { class: "badge", "aria-hidden": "true" });
    const spoken = make("span", { class: "unseen" });
    const button = make("button", { type: "button", onclick: () => this.choose(pane.chat.id) },
      make("span", { class: "switch-name" }, givenName(pane.chat.name)),
      make("span", { class: "switch-role" }, roleName(pane.chat.role), spoken), badge);
    button.classList.add(pane.chat.role);
    return { button, badge, spoken, unread: 0 };
  }

  choose(id) {
    this.chosen = id;
    this.draw();
    this.onChosen(this.panes.get(id));
  }

  /** Count a message of the bot for the pane, unless the pane is in view. */
  count(id) {
    const entry = this.entries.get(id);
    if (entry === undefined || !NARROW.matches || id === this.chosen) return;
    entry.unread += 1;
    this.draw();
  }

  draw() {
    for (const [id, entry] of this.entries) {
      const chosen = id === this.chosen;
      // A wide window shows every pane, so nothing in it can be unread.
      if (chosen || !NARROW.matches) entry.unread = 0;
      entry.button.setAttribute("aria-pressed", String(chosen));
      entry.badge.textContent = entry.unread === 0 ? "" : String(entry.unread);
      entry.spoken.textContent = entry.unread === 0 ? "" : ` ${entry.unread} not read`;
      this.panes.get(id)?.element.classList.toggle("chosen", chosen);
    }
  }
}

/** All but the family name, where there is room for no more. */
function givenName(name) {
  return name.split(" ").slice(0, -1).join(" ") || name;
}
