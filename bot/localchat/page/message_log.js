// The messages of one chat in order, with a separator where the person's local day changes.
// Messages are kept by id and drawn again only when they changed, so that the screen reader says
// what is new and nothing else, and the keyboard's focus survives an edit by the bot.

import { icon } from "./icons.js";
import { arrange, make } from "./dom.js";
import { drawMessage } from "./message.js";
import { dayKey, dayName } from "./moments.js";

/** How far from the end, in pixels, still counts as reading the newest message. */
const NEAR_END = 80;

export class MessageLog {
  /** `reader` has `zone`, `name` and `language`; `actions` as `drawMessage` wants them. */
  constructor(reader, actions) {
    this.reader = reader;
    this.actions = actions;
    this.messages = new Map();
    this.drawn = new Map();
    this.days = new Map();
    this.following = true;
    this.lastTop = 0;
    this.list = make("div", {
      class: "log", role: "log", "aria-live": "polite", "aria-relevant": "additions",
      "aria-label": `Messages of ${reader.name}`, tabindex: "0", onscroll: () => this.onScroll(),
    });
    this.newest = make("button", {
      type: "button", class: "newest", hidden: true, onclick: () => this.toEnd(),
    }, icon("down"), "Newest message");
    this.element = make("div", { class: "talk" }, this.list, this.newest);
    // The list shrinks when a keyboard or an error appears below it, and has no height while hidden.
    new ResizeObserver(() => this.keepPlace()).observe(this.list);
  }

  /** Replace all messages by `messages`. */
  reset(messages) {
    this.messages = new Map(messages.map((message) => [message.id, message]));
    this.draw();
  }

  /** Add or replace one message. */
  put(message) {
    this.messages.set(message.id, message);
    this.draw();
  }

  remove(id) {
    this.messages.delete(id);
    this.draw();
  }

  get empty() {
    return this.list.childElementCount === 0;
  }

  /**
   * Scroll to the newest message and stay there when more come. One that is taller than the pane
   * is shown from its top: in an alarm the first line is the one that must be seen.
   */
  toEnd() {
    this.following = true;
    const { scrollTop, scrollHeight, clientHeight } = this.list;
    const last = [...this.list.querySelectorAll("article")].at(-1);
    const above = last ? last.getBoundingClientRect().top - this.list.getBoundingClientRect().top : 0;
    const top = last ? scrollTop + above : scrollHeight;
    this.list.scrollTop = Math.min(top, scrollHeight - clientHeight);
    this.lastTop = this.list.scrollTop;
    this.newest.hidden = true;
  }

  keepPlace() {
    if (this.following) this.toEnd();
    else this.newest.hidden = this.nearEnd();
  }

  onScroll() {
    if (this.list.clientHeight === 0) return;
    // Only a move upwards ends the following: a scroll event can arrive after the list has shrunk,
    // and then it looks as if the end were far away.
    const { scrollTop } = this.list;
    if (this.nearEnd()) this.following = true;
    else if (scrollTop < this.lastTop) this.following = false;
    this.lastTop = scrollTop;
    this.newest.hidden = this.following;
  }

  draw() {
    const focused = this.focusedPlace();
    const visible = [...this.messages.values()].filter((message) => !message.deleted)
      .sort((one, other) => one.id - other.id);
    arrange(this.list, this.withDays(visible));
    this.restoreFocus(focused);
    this.keepPlace();
  }

  withDays(messages) {
    const nodes = [];
    let previous = null;
    for (const message of messages) {
      const key = dayKey(message.date, this.reader.zone);
      if (key !== previous) nodes.push(this.dayNode(key, message.date));
      previous = key;
      nodes.push(this.node(message));
    }
    return nodes;
  }

  dayNode(key, moment) {
    if (!this.days.has(key)) {
      this.days.set(key, make("h3", { class: "day" }, make("span", {}, dayName(moment, this.reader.zone))));
    }
    return this.days.get(key);
  }

  node(message) {
    const quoted = this.messages.get(message.reply_to) ?? null;
    const version = JSON.stringify([message, quoted?.text]);
    const before = this.drawn.get(message.id);
    if (before?.version === version) return before.node;
    const node = drawMessage(message, this.reader, quoted, this.actions);
    this.drawn.set(message.id, { version, node });
    return node;
  }

  nearEnd() {
    const { scrollTop, scrollHeight, clientHeight } = this.list;
    return scrollHeight - scrollTop - clientHeight < NEAR_END;
  }

  /** Which control of which message has the focus, so that a redrawn message gets it back. */
  focusedPlace() {
    const article = document.activeElement?.closest("article");
    if (!article || !this.list.contains(article)) return null;
    const controls = [...article.querySelectorAll("button, a")];
    return { id: Number(article.dataset.message), place: controls.indexOf(document.activeElement) };
  }

  restoreFocus(focused) {
    if (focused === null || this.list.contains(document.activeElement)) return;
    const node = this.drawn.get(focused.id)?.node;
    const control = node?.isConnected ? node.querySelectorAll("button, a")[focused.place] : null;
    (control ?? this.list).focus({ preventScroll: true });
  }
}
