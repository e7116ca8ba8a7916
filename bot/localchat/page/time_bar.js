// The bot's clock at the top of the page and the four ways to move it. Between two messages from
// the server the clock goes on by itself, at the pace of the computer's.

import { announce } from "./dom.js";
import { barMoment, dueMoment } from "./moments.js";
import { Refusal, post } from "./server.js";

const TICK_MS = 1000;

export class TimeBar {
  /** `onTick(now)` runs whenever the shown time may have changed. */
  constructor(onTick) {
    this.onTick = onTick;
    this.told = null;
    this.moving = false;
    this.now = document.getElementById("now");
    this.state = document.getElementById("moving");
    this.trouble = document.getElementById("clock-trouble");
    this.buttons = [...document.querySelectorAll("[data-step]")];
    for (const button of this.buttons) button.addEventListener("click", () => this.move(button));
    this.foldable();
    setInterval(() => this.tick(), TICK_MS);
  }

  /** What the server says about its clock: ISO moments, `nextDue` may be null. */
  set(now, nextDue) {
    this.told = { now: Date.parse(now), at: performance.now(), nextDue };
    this.tick();
  }

  tick() {
    if (this.told === null) return;
    const now = new Date(this.told.now + performance.now() - this.told.at).toISOString();
    this.now.textContent = barMoment(now);
    this.now.dateTime = now;
    this.drawButtons(now);
    this.onTick(now);
  }

  drawButtons(now) {
    const { nextDue } = this.told;
    for (const button of this.buttons) {
      const isNext = button.dataset.step === "next";
      if (isNext) {
        button.textContent = nextDue === null
          ? "Nothing is due" : `To the next thing due (${dueMoment(nextDue, now)})`;
      }
      // aria-disabled and not disabled: the focus stays where it is while the clock moves.
      button.setAttribute("aria-disabled", String(this.moving || (isNext && nextDue === null)));
    }
  }

  async move(button) {
    if (button.getAttribute("aria-disabled") === "true") return;
    this.setMoving(true);
    this.trouble.hidden = true;
    try {
      const clock = await post("/clock/move", { step: button.dataset.step });
      if (clock?.now !== undefined) this.set(clock.now, clock.next_due ?? null);
      announce(`It is now ${this.now.textContent}`);
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.trouble.textContent = `The clock was not moved. ${error.message}`;
      this.trouble.hidden = false;
      announce(this.trouble.textContent, { urgent: true });
    } finally {
      this.setMoving(false);
    }
  }

  setMoving(moving) {
    this.moving = moving;
    this.state.hidden = !moving;
    if (moving) announce("Moving the clock…");
    this.tick();
  }

  /** On a narrow window the four buttons are folded away to leave room for the chat. */
  foldable() {
    const fold = document.getElementById("show-moves");
    fold.addEventListener("click", () => {
      const open = fold.getAttribute("aria-expanded") !== "true";
      fold.setAttribute("aria-expanded", String(open));
    });
  }
}
