// Asks the server, and notices when it is gone and when it is back.
//
// Asked by `candidate`, `feel` and `files`; tells `workbench.js` by events: `gone`, `back` (with the
// board), and what the server itself tells: `candidate`, `board_file`, `kept`, `stopping`.

const FIRST_WAIT_MS = 400;
const LONGEST_WAIT_MS = 8000;

/** Names this page among others, so that the server can tell who changed something. */
export const page_id = `page-${Array.from(crypto.getRandomValues(new Uint32Array(2)), (n) => n.toString(36)).join("")}`;

/** The server did not answer, or not with what can be used. */
export class Unanswered extends Error {}

/** The server's own words for why it refuses, or the number that it answered with. */
async function why_not(path, answer) {
  try {
    const { why } = await answer.json();
    if (why) return why;
  } catch {
    // No words: the number has to do.
  }
  return `${path}: the server answered ${answer.status}`;
}

export class Server extends EventTarget {
  #events = null;
  #retry = null;
  #wait_ms = FIRST_WAIT_MS;
  /** Whether the last word from the server is still good. */
  there = true;

  /** The answer to `path` as `{ status, answer }`. Throws [`Unanswered`] where there is none. */
  async ask(path, body, headers = {}) {
    const given = body !== undefined;
    const as_it_is = body instanceof Blob;
    try {
      const answer = await fetch(path, {
        method: given ? "POST" : "GET",
        cache: "no-store",
        headers: given && !as_it_is ? { "Content-Type": "application/json", ...headers } : headers,
        body: given ? (as_it_is ? body : JSON.stringify(body)) : undefined,
      });
      if (!answer.ok && answer.status !== 409) throw new Unanswered(await why_not(path, answer));
      return { status: answer.status, answer: await answer.json() };
    } catch (problem) {
      if (!(problem instanceof Unanswered)) this.#lose();
      throw problem instanceof Unanswered ? problem : new Unanswered(`${path}: ${problem.message}`);
    }
  }

  /** Listens to what the server tells by itself. */
  listen() {
    this.#events?.close();
    const events = new EventSource("/api/events");
    this.#events = events;
    for (const name of ["candidate", "board_file", "kept", "stopping"]) {
      events.addEventListener(name, (event) => this.#tell(name, JSON.parse(event.data)));
    }
    events.onerror = () => this.#lose();
  }

  #tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }

  #lose() {
    this.#events?.close();
    this.#events = null;
    if (this.there) {
      this.there = false;
      this.#wait_ms = FIRST_WAIT_MS;
      this.#tell("gone", {});
    }
    // Several questions may fail together: one attempt at a time is enough.
    this.#retry ??= setTimeout(() => this.look_again(), this.#wait_ms);
  }

  /** Looks at once whether the server is back. */
  async look_again() {
    clearTimeout(this.#retry);
    this.#retry = null;
    this.#wait_ms = Math.min(this.#wait_ms * 2, LONGEST_WAIT_MS);
    try {
      const { answer } = await this.ask("/api/board");
      this.there = true;
      this.listen();
      this.#tell("back", answer);
    } catch {
      // An answer that can't be used counts as none.
      this.#lose();
    }
  }
}
