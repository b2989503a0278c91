/** What was typed, step by step. Pure: a snapshot is whatever `same` can compare. */

export class History {
  #past = [];
  #future = [];

  constructor(first, same) {
    this.now = first;
    this.same = same;
  }

  get canUndo() {
    return this.#past.length > 0;
  }

  get canRedo() {
    return this.#future.length > 0;
  }

  /** Remember a new state; false when nothing has changed. */
  add(snapshot) {
    if (this.same(this.now, snapshot)) return false;
    this.#past.push(this.now);
    this.#future = [];
    this.now = snapshot;
    return true;
  }

  /** The state before, or null. */
  undo() {
    return this.#move(this.#past, this.#future);
  }

  redo() {
    return this.#move(this.#future, this.#past);
  }

  #move(from, to) {
    if (!from.length) return null;
    to.push(this.now);
    this.now = from.pop();
    return this.now;
  }
}
