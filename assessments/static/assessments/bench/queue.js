/** Events on their way to the server: kept until acknowledged, sent in order, one request at a time. */

const BATCH = 40;
const WAITS_S = [1, 2, 4, 8, 15, 30];
const SIGNED_OUT = new Set([401, 403]);
const TRY_LATER = new Set([408, 425, 429]);

/** A random version 4 UUID, also where the page was not opened over https. */
export function newUid() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

export class EventQueue {
  #sending = false;
  #failures = 0;
  #timer = null;
  #batch = BATCH;
  #count = 0;

  /**
   * `send(events)` answers `{status, body}` or throws when the server cannot be reached.
   * `onAnswer(set, refused)` gets the newest document and the events the server said no to, with their problems.
   */
  constructor({ store, send, onChange, onAnswer, alone = alongside, later = after }) {
    Object.assign(this, { store, send, onChange, onAnswer, alone, later });
    this.events = [];
    this.trouble = null; // null | "offline" | "signed_out"
    this.outlivesPage = true;
  }

  async open() {
    this.events = await this.store.all();
    this.onChange();
    if (this.events.length) this.flush();
  }

  /** Another tab has added or sent something. */
  async reload() {
    this.events = await this.store.all();
    this.onChange();
  }

  async add(event) {
    const order = `${String(Date.now()).padStart(14, "0")}-${String(this.#count++).padStart(6, "0")}`;
    const kept = { ...event, order };
    this.events = [...this.events, kept];
    this.onChange();
    this.outlivesPage = await this.store.add(kept);
    this.flush();
  }

  /** Send what waits, now; a person asks, or the network is back. */
  async flush() {
    if (this.#sending || !this.events.length) return;
    clearTimeout(this.#timer);
    this.#sending = true;
    try {
      while (this.events.length && (await this.alone(() => this.#sendBatch())));
    } finally {
      this.#sending = false;
      this.onChange();
    }
  }

  /** True when the next batch may follow at once. */
  async #sendBatch() {
    const batch = this.events.slice(0, this.#batch);
    let answer;
    try {
      answer = await this.send(batch.map(({ order, ...event }) => event));
    } catch {
      return this.#wait("offline");
    }
    return this.#read(answer, batch);
  }

  async #read({ status, body, retryAfterS }, batch) {
    if (status === 200) return this.#acknowledge(batch, body);
    if (SIGNED_OUT.has(status)) {
      this.trouble = "signed_out";
      return false;
    }
    if (status >= 500 || TRY_LATER.has(status)) return this.#wait("offline", retryAfterS);
    return this.#giveUp(batch, body);
  }

  async #acknowledge(batch, body) {
    const refused = body.results
      .filter(({ status }) => status === "refused")
      .map(({ uid, problem }) => ({ event: batch.find((event) => event.uid === uid), problem }));
    await this.#drop(batch.filter(({ uid }) => body.results.some((result) => result.uid === uid)));
    this.#failures = 0;
    this.trouble = null;
    this.onAnswer(body.set, refused);
    return body.results.length > 0;
  }

  /** The server cannot read this batch: find the event at fault, and let that one go with its problem told. */
  async #giveUp(batch, problem) {
    if (batch.length > 1) {
      this.#batch = 1;
      return true;
    }
    await this.#drop(batch);
    this.#batch = BATCH;
    this.onAnswer(null, [{ event: batch[0], problem }]);
    return true;
  }

  async #drop(events) {
    await this.store.remove(events);
    const gone = new Set(events.map(({ uid }) => uid));
    this.events = this.events.filter(({ uid }) => !gone.has(uid));
  }

  #wait(trouble, seconds = WAITS_S[Math.min(this.#failures, WAITS_S.length - 1)]) {
    this.#failures += 1;
    this.trouble = trouble;
    this.#timer = this.later(() => this.flush(), seconds * 1000);
    return false;
  }
}

const after = (work, ms) => setTimeout(work, ms);

/** Runs `work` at once: for a page that has its storage to itself. */
async function alongside(work) {
  return work();
}
