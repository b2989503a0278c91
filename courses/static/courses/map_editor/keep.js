/** Unsaved work, kept in this browser until it is saved. Holds what was typed about a brief, and no person. */

const SENT = "fanlight.brief.sent";

export class Keep {
  constructor(key) {
    this.key = key;
    attempt(() => sessionStorage.removeItem(SENT));
  }

  /** `{at, entries}` or null. */
  read() {
    return attempt(() => JSON.parse(localStorage.getItem(this.key)));
  }

  write(entries) {
    attempt(() => localStorage.setItem(this.key, JSON.stringify({ at: new Date().toISOString(), entries })));
  }

  drop() {
    attempt(() => localStorage.removeItem(this.key));
  }

  /** The form is on its way; the page of the saved brief forgets the work then. */
  send() {
    attempt(() => sessionStorage.setItem(SENT, this.key));
  }
}

/** On the page of a brief: what was sent from the editor has arrived. */
export function forgetSent() {
  const key = attempt(() => sessionStorage.getItem(SENT));
  if (!key) return;
  attempt(() => sessionStorage.removeItem(SENT));
  if (/\/briefs\/(new|\d+\/edit)\/$/.test(new URL(document.referrer || location.href).pathname)) {
    attempt(() => localStorage.removeItem(key));
  }
}

/** Storage may be forbidden or full: then the work lasts as long as the page. */
function attempt(work) {
  try {
    return work();
  } catch {
    return null;
  }
}
