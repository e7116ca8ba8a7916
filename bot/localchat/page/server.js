// The page's only way to the local server: the state, the posts, the stream of events.
// Every failure becomes a `Refusal` whose text is meant to be read by the person at the page.

const RETRY_MS = [300, 1000, 2000, 4000];

/** Something the server did not do; `message` says in words what happened. */
export class Refusal extends Error {}

/** The whole state as one value. */
export async function fetchState() {
  return answered(() => fetch("/chat/state", { cache: "no-store" }));
}

/** Post `body` (an object for JSON, or FormData) and give back the server's answer, or null. */
export async function post(path, body) {
  const headers = { "X-Cuffbell": "1" };
  const form = body instanceof FormData;
  if (!form) headers["Content-Type"] = "application/json";
  return answered(() => fetch(path, { method: "POST", headers, body: form ? body : JSON.stringify(body) }));
}

async function answered(request) {
  let response;
  let text;
  try {
    response = await request();
    text = await response.text();
  } catch {
    throw new Refusal("Cuffbell does not answer. Is the program still running?");
  }
  const answer = parsed(text);
  if (response.ok) return answer;
  throw new Refusal(reason(answer) ?? `The server answered with error ${response.status}.`);
}

function parsed(text) {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

function reason(answer) {
  if (answer === null || typeof answer !== "object") return null;
  return answer.error ?? answer.description ?? null;
}

/**
 * Listens to the server's events and comes back after every interruption.
 *
 * `onOpen` runs after each connection, so that the state can be fetched anew: events are not
 * repeated, and a server that was started again has a stream that begins afresh.
 */
export class EventStream {
  constructor({ onOpen, onEvent, onLost }) {
    this.handlers = { onOpen, onEvent, onLost };
    this.failures = 0;
    this.source = null;
    this.connect();
  }

  connect() {
    this.source = new EventSource("/chat/events");
    this.source.onopen = () => {
      this.failures = 0;
      this.handlers.onOpen();
    };
    this.source.onmessage = (event) => this.handlers.onEvent(JSON.parse(event.data));
    this.source.onerror = () => this.retry();
  }

  // The browser's own retry gives up for good when a restarting server answers with an error.
  retry() {
    this.source.close();
    if (this.failures > 0) this.handlers.onLost();
    const wait = RETRY_MS[Math.min(this.failures, RETRY_MS.length - 1)];
    this.failures += 1;
    setTimeout(() => this.connect(), wait);
  }
}
