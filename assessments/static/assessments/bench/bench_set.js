/** One practice set in this tab: the newest document of the server, plus what it has not been told yet. */

import { postEvents, readSet } from "./api.js";
import { clockOffset } from "./clock.js";
import { EventQueue, newUid } from "./queue.js";
import { isAllowed, withEvents } from "./state.js";
import { EventStore } from "./store.js";

export class BenchSet {
  #document;
  #offsetMs;
  #listeners = [];

  constructor(root) {
    this.urls = root.dataset;
    this.#document = JSON.parse(document.getElementById("set-document").textContent);
    this.#offsetMs = clockOffset(this.#document.server_now, pageArrivedAt());
    this.problem = null;
    this.queue = new EventQueue({
      store: new EventStore(keptStorage(), this.#document.uid),
      send: (events) => postEvents(this.urls.eventsUrl, events),
      onChange: () => this.#tell(),
      onAnswer: (set, refused) => this.#takeAnswer(set, refused),
      alone: (work) => oneTabAtATime(`fanlight.bench.${this.#document.uid}`, work),
    });
  }

  /** What the person should see now. */
  get shown() {
    return withEvents(this.#document, this.queue.events);
  }

  /** Milliseconds of the server's clock. */
  get now() {
    return Date.now() + this.#offsetMs;
  }

  onChange(listener) {
    this.#listeners.push(listener);
  }

  async open() {
    addEventListener("online", () => this.queue.flush());
    addEventListener("storage", ({ key }) => this.queue.store.isOurs(key) && this.queue.reload());
    addEventListener("pageshow", ({ persisted }) => persisted && this.refresh());
    addEventListener("focus", () => this.refresh());
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && this.refresh());
    await this.queue.open();
  }

  /** Remember that something happened; false when it does not fit what is shown. */
  record(kind, data = {}) {
    if (!isAllowed(this.shown, kind)) return false;
    this.problem = null;
    this.queue.add({ uid: newUid(), kind, at: new Date(this.now).toISOString(), ...data });
    return true;
  }

  /** Read the document again: another tab or another person may have moved the set on. */
  async refresh() {
    if (this.queue.events.length) return this.queue.flush();
    try {
      const { status, body } = await readSet(this.urls.setUrl);
      if (status === 200) this.#take(body);
      if (status === 401 || status === 403) this.queue.trouble = "signed_out";
    } catch {
      return; // out of reach: what is shown stays
    }
    this.#tell();
  }

  #takeAnswer(set, refused) {
    if (refused.length) this.problem = refused.map(({ problem }) => sentence(problem)).join(" ");
    if (set) this.#take(set);
    else this.refresh();
    this.#tell();
  }

  #take(set) {
    this.#document = set;
    this.#offsetMs = clockOffset(set.server_now, Date.now());
  }

  #tell() {
    for (const listener of this.#listeners) listener(this.shown);
  }
}

function sentence(problem) {
  return problem?.detail || "This could not be recorded. Reload the page to see where the set is.";
}

/** When this page was answered, by this device's clock. */
function pageArrivedAt() {
  const [navigation] = performance.getEntriesByType("navigation");
  return navigation?.responseStart ? performance.timeOrigin + navigation.responseStart : Date.now();
}

function oneTabAtATime(name, work) {
  return navigator.locks ? navigator.locks.request(name, work) : work();
}

/** The browser's storage, or a list that lasts as long as the page where storage is forbidden. */
export function keptStorage() {
  try {
    localStorage.getItem("fanlight");
    return localStorage;
  } catch {
    return new MemoryStorage();
  }
}

class MemoryStorage {
  getItem(key) {
    return this[key] ?? null;
  }

  setItem(key, text) {
    this[key] = text;
  }

  removeItem(key) {
    delete this[key];
  }
}
