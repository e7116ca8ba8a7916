// The pane of one person: head with role and local time, messages, what the bot is doing, notices
// and errors, the bot's reply keyboard, the typing field. It talks to the server for this one chat.

import { icon } from "./icons.js";
import { announce, make } from "./dom.js";
import { Composer } from "./composer.js";
import { MessageLog } from "./message_log.js";
import { shortMoment, zonePlace } from "./moments.js";
import { openPicture } from "./picture.js";
import { askForPlace } from "./place.js";
import { roleName } from "./roles.js";
import { Refusal, post } from "./server.js";

/** How long the platform shows "writing" after one chat action. */
const TYPING_MS = 5000;

/** From the range that the British regulator keeps free for stories. */
const INVENTED_NUMBER = "+441632960001";

export class Pane {
  constructor(chat) {
    this.chat = chat;
    this.log = new MessageLog({ zone: chat.zone, name: chat.name, language: chat.language }, {
      press: (message, button) => this.attempt(() => this.post("press", { message_id: message.id, data: button.data })),
      answer: (message) => this.composer.answer(message),
      change: (message) => this.composer.startChanging(message),
      openPicture,
    });
    this.composer = new Composer(chat, this.composerActions());
    this.drawParts();
    this.update(chat);
  }

  composerActions() {
    return {
      send: (text, answered) => this.attempt(() => this.post("send", {
        text, ...(answered === null ? {} : { reply_to: answered.id }),
      })),
      edit: (message, text) => this.attempt(() => this.change(message, text)),
      sendFile: (file, caption) => this.attempt(() => this.postFile(file, caption)),
      sticker: () => this.attempt(() => this.post("sticker", {})),
      voice: () => this.attempt(() => this.post("voice", {})),
      place: () => this.attempt(() => this.sendPlace()),
      block: (blocked) => this.attempt(() => this.block(blocked)),
      commands: () => this.chat.commands,
      blocked: () => this.chat.blocked,
    };
  }

  drawParts() {
    const title = `name-${this.chat.id}`;
    this.localTime = make("span", { class: "local-time" });
    this.blocked = make("p", { class: "blocked", hidden: true }, `${this.chat.name} has blocked Cuffbell.`);
    this.start = make("div", { class: "start", hidden: true });
    this.log.element.append(this.start);
    this.typing = make("p", { class: "typing", hidden: true },
      make("span", { class: "dots", "aria-hidden": "true" }), "Cuffbell is writing");
    this.notice = new Strip("notice");
    this.trouble = new Strip("trouble");
    this.keyboard = make("div", { class: "keyboard", role: "group", "aria-label": "Suggested answers", hidden: true });
    this.element = make("section", {
      class: `pane ${this.chat.role}`, id: `pane-${this.chat.id}`, "data-chat": this.chat.id, "aria-labelledby": title,
    },
    make("header", { class: "pane-head" },
      make("h2", { id: title }, make("span", {}, this.chat.name),
        make("span", { class: "role" }, roleName(this.chat.role))),
      this.localTime),
    this.blocked, this.log.element, this.typing, this.notice.element, this.trouble.element, this.keyboard,
    this.composer.element);
  }

  /** Take over the whole state of the chat. */
  update(chat) {
    this.chat = chat;
    this.log.reset(chat.messages);
    this.blocked.hidden = !chat.blocked;
    this.setTyping(chat.typing);
    this.setKeyboard(chat.reply_keyboard);
    this.drawStart();
  }

  /** A message came or was changed. */
  put(message) {
    this.log.put(message);
    if (message.from === "bot") this.setTyping(false);
    else this.log.toEnd();
    this.drawStart();
  }

  remove(id) {
    this.log.remove(id);
    this.drawStart();
  }

  setNow(now) {
    this.localTime.textContent = `${shortMoment(now, this.chat.zone)} in ${zonePlace(this.chat.zone)}`;
  }

  setTyping(typing) {
    clearTimeout(this.typingEnd);
    this.typing.hidden = !typing;
    if (typing) this.typingEnd = setTimeout(() => this.setTyping(false), TYPING_MS);
  }

  setKeyboard(keyboard) {
    const drawing = JSON.stringify(keyboard);
    if (this.keyboardDrawing === drawing) return;
    this.keyboardDrawing = drawing;
    this.leaveFocus(this.keyboard);
    this.keyboard.hidden = keyboard === null;
    this.composer.suggest(keyboard?.placeholder);
    this.keyboard.replaceChildren(...(keyboard?.rows ?? []).map((row) => make("div", { class: "button-row", lang: this.chat.language },
      ...row.map((button) => make("button", {
        type: "button", class: "choice", onclick: () => this.answer(button, keyboard),
      }, button.text)))));
  }

  /** What the bot says to a press: a passing notice, or one that must be noticed. */
  showNotice(text, alert) {
    this.notice.show(text, alert ? "Please note" : null);
    announce(`To ${this.chat.name}: ${text}`, { urgent: alert });
  }

  drawStart() {
    const empty = this.log.empty;
    if (this.start.hidden === !empty) return;
    this.leaveFocus(this.start);
    this.start.hidden = !empty;
    if (!empty) return;
    const text = this.chat.invitation ?? "/start";
    const invited = this.chat.invitation !== null;
    this.start.replaceChildren(
      make("p", {}, invited
        ? `${this.chat.name} has been invited and has not joined yet.`
        : `${this.chat.name} has no invitation. A message to Cuffbell shows what a stranger is told.`),
      make("button", {
        type: "button", class: "send", onclick: () => this.attempt(() => this.post("send", { text })),
      }, invited ? `Join as ${this.chat.name}` : "Write to Cuffbell"),
      make("p", { class: "start-hint" }, "This sends ", make("code", {}, text)),
    );
  }

  async answer(button, keyboard) {
    const done = await this.attempt(() => this.answerTo(button));
    if (done && keyboard.one_time) this.setKeyboard(null);
  }

  answerTo(button) {
    if (button.request_location) return this.sendPlace();
    if (button.request_contact) return this.post("contact", { phone_number: INVENTED_NUMBER });
    return this.post("send", { text: button.text });
  }

  // Not into the typing field: on a phone that would open the screen's keyboard unasked.
  leaveFocus(element) {
    if (element.contains(document.activeElement)) this.log.list.focus({ preventScroll: true });
  }

  change(message, text) {
    if (text.trim() === "") throw new Refusal("A message cannot become empty. Write something, or press Escape.");
    return this.post("edit", { message_id: message.id, text });
  }

  async sendPlace() {
    const place = await askForPlace(this.chat.name);
    if (place !== null) await this.post("location", place);
  }

  async block(blocked) {
    await this.post("block", { blocked });
    this.chat.blocked = blocked;
    this.blocked.hidden = !blocked;
    announce(blocked ? "Cuffbell is blocked" : "Cuffbell may write again");
  }

  postFile(file, caption) {
    const form = new FormData();
    form.append("caption", caption);
    form.append("file", file, file.name);
    return this.post("file", form);
  }

  post(action, body) {
    return post(`/chat/${this.chat.id}/${action}`, body);
  }

  /** Run `action`; a refusal is shown above the typing field. Gives true when it went well. */
  async attempt(action) {
    this.trouble.hide();
    this.notice.hide();
    try {
      await action();
      return true;
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.tell(error.message);
      return false;
    }
  }

  tell(text) {
    this.trouble.show(text, "Not sent");
    announce(`${this.chat.name}: ${text}`, { urgent: true });
  }
}

/** A line above the typing field that can be put away. */
class Strip {
  constructor(kind) {
    this.heading = make("strong");
    this.words = make("span");
    this.element = make("div", { class: `strip ${kind}`, hidden: true },
      make("p", {}, this.heading, this.words),
      make("button", { type: "button", class: "tool", "aria-label": "Put this away", onclick: () => this.hide() },
        icon("close")));
  }

  show(text, heading) {
    this.heading.textContent = heading === null ? "" : `${heading}: `;
    this.words.textContent = text;
    this.element.hidden = false;
  }

  hide() {
    this.element.hidden = true;
  }
}
