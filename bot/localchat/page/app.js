// Starts the page: one state, one stream of events, one pane for each person. Events that arrive
// while the state is being fetched wait for it, so that an older state never undoes a newer event.

import { arrange } from "./dom.js";
import { Pane } from "./pane.js";
import { EventStream, Refusal, fetchState } from "./server.js";
import { Switch } from "./switch.js";
import { TimeBar } from "./time_bar.js";

const panes = new Map();
const people = document.getElementById("people");
const lost = document.getElementById("lost");
const opening = document.getElementById("opening");

const RETRY_MS = 2000;

let waiting = null;

const timeBar = new TimeBar((now) => {
  for (const pane of panes.values()) pane.setNow(now);
});
const personSwitch = new Switch((pane) => pane.log.toEnd());

/** Fetch the whole state and show it, then the events that came meanwhile. */
async function refresh() {
  if (waiting !== null) {
    waiting.again = true;
    return;
  }
  waiting = { events: [], again: false };
  try {
    show(await fetchState());
    lost.hidden = true;
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    lost.hidden = false;
    setTimeout(refresh, RETRY_MS);
  } finally {
    const { events, again } = waiting;
    waiting = null;
    events.forEach(handle);
    if (again) refresh();
  }
}

function show(state) {
  const present = new Set(state.chats.map((chat) => chat.id));
  for (const id of panes.keys()) if (!present.has(id)) panes.delete(id);
  for (const chat of state.chats) {
    if (panes.has(chat.id)) panes.get(chat.id).update(chat);
    else panes.set(chat.id, new Pane(chat));
  }
  const ordered = state.chats.map((chat) => panes.get(chat.id));
  opening.remove();
  arrange(people, ordered.map((pane) => pane.element));
  personSwitch.set(ordered);
  timeBar.set(state.now, state.next_due);
  showFolder(state.folder);
}

function showFolder(folder) {
  document.getElementById("kept").hidden = !folder;
  document.getElementById("folder").textContent = folder;
}

function handle(event) {
  if (waiting !== null) waiting.events.push(event);
  else if (event.type === "clock") timeBar.set(event.now, event.next_due);
  else handleInPane(event, panes.get(event.chat));
}

function handleInPane(event, pane) {
  // What is not told in full by its event, or is about somebody new, is fetched.
  if (pane === undefined) refresh();
  else if (event.type === "message") handleMessage(event.message, pane);
  else if (event.type === "edited") pane.put(event.message);
  else if (event.type === "deleted") pane.remove(event.message.id);
  else if (event.type === "typing") pane.setTyping(true);
  else if (event.type === "keyboard") pane.setKeyboard(event.reply_keyboard);
  else if (event.type === "notice") pane.showNotice(event.text, event.alert);
  else refresh();
}

function handleMessage(message, pane) {
  pane.put(message);
  if (message.from === "bot") personSwitch.count(pane.chat.id);
}

new EventStream({
  onOpen: refresh,
  onEvent: handle,
  onLost: () => {
    lost.hidden = false;
  },
});
