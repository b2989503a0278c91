/** Saves what is entered, a moment after each change, until the server has it. */

import { putDraft } from "./api.js";

const QUIET_MS = 400;
const WAITS_S = [2, 5, 10, 30];

export class DraftSaver {
  #dirty = false;
  #saving = false;
  #failures = 0;
  #timer = null;

  /**
   * `read()` gives what to send; `onState(state, detail)` hears of "unsaved", "saving", "saved", "offline",
   * "signed_out", "refused"; `onAnswer(body)` of new proposals; `onConflict(draft)` of somebody else's draft.
   */
  constructor({ url, base, read, onState, onAnswer, onConflict }) {
    Object.assign(this, { url, base, read, onState, onAnswer, onConflict });
    this.held = false; // while two versions wait for a choice
  }

  get isDirty() {
    return this.#dirty || this.#saving;
  }

  changed() {
    this.#dirty = true;
    if (this.held) return;
    this.onState("unsaved");
    this.#saveIn(QUIET_MS);
  }

  /** Save over somebody else's draft, or forget one's own in its favour. */
  settle(base, { keep }) {
    Object.assign(this, { base, held: false });
    this.#dirty = keep;
    if (keep) this.save();
  }

  async save({ leaving = false } = {}) {
    if (!this.#dirty || this.#saving || this.held) return;
    clearTimeout(this.#timer);
    [this.#dirty, this.#saving] = [false, true];
    this.onState("saving");
    try {
      this.#read(await putDraft(this.url, { ...this.read(), base: this.base }, { leaving }));
    } catch {
      this.#again("offline");
    }
    this.#saving = false;
    if (this.#dirty && !this.#failures && !this.held) this.#saveIn(QUIET_MS);
  }

  #read({ status, body }) {
    if (status === 200) return this.#saved(body);
    this.#dirty = true;
    if (status === 409 && body?.current) {
      this.held = true;
      return this.onConflict(body.current, body.detail);
    }
    if (status === 401 || status === 403) return this.onState("signed_out");
    if (status >= 500 || status === 429) return this.#again("offline");
    this.#dirty = false; // the same again would be refused again
    return this.onState("refused", body?.detail);
  }

  #saved(body) {
    this.#failures = 0;
    this.base = body.draft.saved_at;
    this.onAnswer(body);
    if (!this.#dirty) this.onState("saved", this.base);
  }

  #again(state) {
    this.#dirty = true;
    this.onState(state);
    this.#saveIn(1000 * WAITS_S[Math.min(this.#failures++, WAITS_S.length - 1)]);
  }

  #saveIn(ms) {
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.save(), ms);
  }
}
