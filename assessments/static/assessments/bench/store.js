/**
 * Where unsent events wait: opaque ids and findings, never a name. Each event has a key of its own, so that two
 * tabs cannot overwrite each other. The methods are asynchronous for the sake of storages that are.
 */

const PREFIX = "fanlight.bench";

export class EventStore {
  constructor(storage, setUid) {
    this.storage = storage;
    this.prefix = `${PREFIX}.${setUid}.event.`;
  }

  /** Unsent events in the order in which they happened. */
  async all() {
    const keys = Object.keys(this.storage).filter((key) => key.startsWith(this.prefix)).sort();
    return keys.map((key) => parsed(this.storage.getItem(key))).filter(Boolean);
  }

  /** True when the event will outlive this page. */
  async add(event) {
    try {
      this.storage.setItem(this.#key(event), JSON.stringify(event));
      return true;
    } catch {
      return false;
    }
  }

  async remove(events) {
    for (const event of events) this.storage.removeItem(this.#key(event));
  }

  isOurs(key) {
    return key === null || key.startsWith(this.prefix);
  }

  #key({ order, uid }) {
    return `${this.prefix}${order}.${uid}`;
  }
}

/** A small setting of this device, such as a hidden clock. */
export function setting(storage, name) {
  const key = `${PREFIX}.setting.${name}`;
  return {
    get: () => { try { return parsed(storage.getItem(key)); } catch { return null; } },
    set: (value) => { try { storage.setItem(key, JSON.stringify(value)); } catch { /* shown until the page closes */ } },
  };
}

function parsed(text) {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}
