// The typing field of one chat with what belongs to it: the file to send along, the message that is
// being changed or answered, the two menus. A text leaves the field when it is sent and comes back when the
// sending failed, so nothing typed is ever lost.

import { icon } from "./icons.js";
import { make, shortened } from "./dom.js";
import { Menu } from "./menu.js";
import { messageWords, sizeWords } from "./message.js";

const TALLEST = 190; // pixels: about six lines

export class Composer {
  /**
   * `actions` has `send(text, answered)` (`answered` a message or null), `sendFile(file, caption)`,
   * `edit(message, text)`, `sticker()`, `voice()`, `place()` and `block(blocked)`. Each promises true
   * when it was done, and false when it was refused and the person has been told. `commands()` and
   * `blocked()` give the present state.
   */
  constructor(person, actions) {
    this.actions = actions;
    this.file = null;
    this.editing = null;
    this.answering = null;
    this.draft = "";
    this.drawField(person);
    this.drawModes();
    this.element = make("form", {
      class: "composer", "aria-label": `Write as ${person.name}`,
      onsubmit: (event) => {
        event.preventDefault();
        this.submit();
      },
    }, this.changing, this.answered, this.attached, this.field, make("div", { class: "tools" },
      this.commandsMenu().element, this.moreMenu().element, this.sendButton));
  }

  drawField(person) {
    this.field = make("textarea", {
      rows: "1", placeholder: "Write to Cuffbell", enterkeyhint: "send", autocomplete: "off",
      "aria-label": `Message from ${person.name} to Cuffbell`, lang: person.language,
      oninput: () => this.grow(), onkeydown: (event) => this.onKey(event),
    });
    this.sendButton = make("button", { type: "submit", class: "send" }, "Send");
    this.picker = make("input", {
      type: "file", hidden: true, "aria-label": `File to send as ${person.name}`,
      onchange: () => this.attach(this.picker.files[0] ?? null),
    });
  }

  drawModes() {
    this.changing = modeLine("pencil", "Cancel", () => this.stopChanging());
    this.answered = modeLine("answer", "Cancel", () => this.answer(null));
    this.attached = modeLine("file", "Leave it out", () => this.attach(null));
  }

  commandsMenu() {
    return new Menu({
      label: "Commands", drawing: "commands",
      entries: () => {
        const commands = this.actions.commands();
        if (commands.length === 0) return [{ label: "Cuffbell has named no commands yet", run: () => {} }];
        return commands.map(({ command, description }) => ({
          label: `/${command}`, detail: description, run: () => this.actions.send(`/${command}`, null),
        }));
      },
    });
  }

  moreMenu() {
    const menu = new Menu({
      label: "More", drawing: "more",
      entries: () => [
        { label: "Attach a file", drawing: "file", run: () => this.picker.click() },
        { label: "Send a sticker", drawing: "sticker", run: () => this.actions.sticker() },
        { label: "Send a voice note", drawing: "voice", run: () => this.actions.voice() },
        { label: "Send a place", drawing: "place", run: () => this.actions.place() },
        {
          label: this.actions.blocked() ? "Unblock Cuffbell" : "Block Cuffbell", drawing: "block",
          run: () => this.actions.block(!this.actions.blocked()),
        },
      ],
    });
    menu.element.append(this.picker);
    return menu;
  }

  /** Change the placeholder to what the bot's keyboard suggests; null gives the usual one. */
  suggest(placeholder) {
    this.field.placeholder = placeholder ?? "Write to Cuffbell";
  }

  /** Put `message` into the field to be changed; what was being typed waits until that is over. */
  startChanging(message) {
    if (this.editing === null) this.draft = this.field.value;
    this.editing = message;
    showMode(this.changing, `Changing “${shortened(message.text, 32)}”`);
    this.sendButton.textContent = "Save";
    this.setText(message.text);
    this.field.focus();
  }

  stopChanging() {
    this.editing = null;
    showMode(this.changing, null);
    this.sendButton.textContent = "Send";
    this.setText(this.draft);
    this.draft = "";
    this.field.focus();
  }

  /** The next message answers `message`; null takes that back. */
  answer(message) {
    this.answering = message;
    showMode(this.answered, message === null ? null : `Answering “${shortened(messageWords(message), 32)}”`);
    this.field.focus();
  }

  attach(file) {
    this.file = file;
    if (file === null) this.picker.value = "";
    showMode(this.attached, file === null ? null : `${shortened(file.name, 32)}, ${sizeWords(file.size)}`);
    this.field.focus();
  }

  cancel() {
    if (this.editing !== null) this.stopChanging();
    else if (this.answering !== null) this.answer(null);
    else if (this.file !== null) this.attach(null);
  }

  submit() {
    const text = this.field.value;
    if (this.editing !== null) this.submitChange(this.editing, text);
    else if (this.file !== null) this.submitFile(this.file, text);
    else if (text.trim() !== "") this.submitText(text);
    this.field.focus();
  }

  async submitChange(message, text) {
    const changed = await this.actions.edit(message, text);
    if (changed && this.editing === message) this.stopChanging();
  }

  async submitFile(file, caption) {
    this.setText("");
    this.attach(null);
    const sent = await this.actions.sendFile(file, caption);
    if (sent) return;
    this.giveBack(caption);
    this.attach(file);
  }

  async submitText(text) {
    const answering = this.answering;
    this.setText("");
    this.answer(null);
    const sent = await this.actions.send(text, answering);
    if (sent) return;
    this.giveBack(text);
    if (answering !== null) this.answer(answering);
  }

  giveBack(text) {
    const since = this.editing === null ? this.field.value : this.draft;
    const whole = since === "" ? text : `${text}\n${since}`;
    if (this.editing === null) this.setText(whole);
    else this.draft = whole;
  }

  setText(text) {
    this.field.value = text;
    this.grow();
  }

  grow() {
    this.field.style.height = "auto";
    this.field.style.height = `${Math.min(this.field.scrollHeight + 4, TALLEST)}px`;
  }

  onKey(event) {
    if (event.key === "Escape") {
      event.preventDefault();
      this.cancel();
    }
    // While an input method is composing, Enter chooses a word and must not send.
    if (event.key !== "Enter" || event.shiftKey || event.isComposing) return;
    event.preventDefault();
    this.submit();
  }
}

/** A line above the field that says what the next sending is about, with a button to give that up. */
function modeLine(drawing, label, giveUp) {
  return make("p", { class: "mode", hidden: true }, icon(drawing), make("span"),
    make("button", { type: "button", class: "quiet", onclick: giveUp }, label));
}

function showMode(line, words) {
  line.hidden = words === null;
  line.querySelector("span").textContent = words ?? "";
}
