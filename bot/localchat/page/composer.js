// The typing field of one chat with what belongs to it: the file to send along, the message that is
// being changed, the two menus. A text leaves the field when it is sent and comes back when the
// sending failed, so nothing typed is ever lost.

import { icon } from "./icons.js";
import { make, shortened } from "./dom.js";
import { Menu } from "./menu.js";
import { sizeWords } from "./message.js";

const TALLEST = 190; // pixels: about six lines

export class Composer {
  /**
   * `actions` has `send(text)`, `sendFile(file, caption)`, `edit(message, text)` (all reject when
   * they fail), `sticker()`, `place()`, `block(blocked)`, and gives `commands()` and `blocked()`.
   */
  constructor(person, actions) {
    this.actions = actions;
    this.file = null;
    this.editing = null;
    this.draft = "";
    this.drawField(person);
    this.drawModes();
    this.element = make("form", {
      class: "composer", "aria-label": `Write as ${person.name}`,
      onsubmit: (event) => {
        event.preventDefault();
        this.submit();
      },
    }, this.changing, this.attached, this.field, make("div", { class: "tools" },
      this.commandsMenu().element, this.moreMenu().element, this.sendButton));
  }

  drawField(person) {
    this.field = make("textarea", {
      rows: "1", placeholder: "Write to Cuffbell", enterkeyhint: "send", autocomplete: "off",
      "aria-label": `Message from ${person.name} to Cuffbell`,
      oninput: () => this.grow(), onkeydown: (event) => this.onKey(event),
    });
    this.sendButton = make("button", { type: "submit", class: "send" }, "Send");
    this.picker = make("input", {
      type: "file", hidden: true, "aria-label": `File to send as ${person.name}`,
      onchange: () => this.attach(this.picker.files[0] ?? null),
    });
  }

  drawModes() {
    this.changingWords = make("span");
    this.changing = make("p", { class: "mode", hidden: true }, icon("pencil"), this.changingWords,
      make("button", { type: "button", class: "quiet", onclick: () => this.stopChanging() }, "Cancel"));
    this.attachedWords = make("span");
    this.attached = make("p", { class: "mode", hidden: true }, icon("file"), this.attachedWords,
      make("button", { type: "button", class: "quiet", onclick: () => this.attach(null) }, "Leave it out"));
  }

  commandsMenu() {
    return new Menu({
      label: "Commands", drawing: "commands",
      entries: () => {
        const commands = this.actions.commands();
        if (commands.length === 0) return [{ label: "Cuffbell has named no commands yet", run: () => {} }];
        return commands.map(({ command, description }) => ({
          label: `/${command}`, detail: description, run: () => this.deliver(() => this.actions.send(`/${command}`)),
        }));
      },
    });
  }

  moreMenu() {
    const menu = new Menu({
      label: "More", drawing: "more",
      entries: () => [
        { label: "Attach a file", drawing: "file", run: () => this.picker.click() },
        { label: "Send a sticker", drawing: "sticker", run: () => this.deliver(() => this.actions.sticker()) },
        { label: "Send a place", drawing: "place", run: () => this.deliver(() => this.actions.place()) },
        {
          label: this.actions.blocked() ? "Unblock Cuffbell" : "Block Cuffbell", drawing: "block",
          run: () => this.deliver(() => this.actions.block(!this.actions.blocked())),
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
    this.changingWords.textContent = `Changing “${shortened(message.text, 32)}”`;
    this.changing.hidden = false;
    this.sendButton.textContent = "Save";
    this.setText(message.text);
    this.field.focus();
  }

  stopChanging() {
    this.editing = null;
    this.changing.hidden = true;
    this.sendButton.textContent = "Send";
    this.setText(this.draft);
    this.draft = "";
    this.field.focus();
  }

  attach(file) {
    this.file = file;
    if (file === null) this.picker.value = "";
    else this.attachedWords.textContent = `${shortened(file.name, 32)}, ${sizeWords(file.size)}`;
    this.attached.hidden = file === null;
    this.field.focus();
  }

  submit() {
    const text = this.field.value;
    if (this.editing !== null) this.submitChange(this.editing, text);
    else if (this.file !== null) this.submitFile(this.file, text);
    else if (text.trim() !== "") this.submitText(text);
    this.field.focus();
  }

  async submitChange(message, text) {
    if (text.trim() === "") return;
    await this.deliver(async () => {
      await this.actions.edit(message, text);
      if (this.editing === message) this.stopChanging();
    });
  }

  async submitFile(file, caption) {
    this.setText("");
    this.attach(null);
    const sent = await this.deliver(() => this.actions.sendFile(file, caption));
    if (sent) return;
    this.giveBack(caption);
    this.attach(file);
  }

  async submitText(text) {
    this.setText("");
    const sent = await this.deliver(() => this.actions.send(text));
    if (!sent) this.giveBack(text);
  }

  /** Run one action that may be refused; the pane has told about the refusal already. */
  async deliver(action) {
    try {
      await action();
      return true;
    } catch {
      return false;
    }
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
    if (event.key === "Escape" && this.editing !== null) {
      event.preventDefault();
      this.stopChanging();
    }
    // While an input method is composing, Enter chooses a word and must not send.
    if (event.key !== "Enter" || event.shiftKey || event.isComposing) return;
    event.preventDefault();
    this.submit();
  }
}
