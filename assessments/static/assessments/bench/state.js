/** What is shown: the server's document with the events it does not know yet. Pure; the server's word counts. */

const FOLLOWING = {
  ready: { start: "working", abandon: "abandoned" },
  working: { pause: "paused", split: "working", finish: "finished", abandon: "abandoned" },
  paused: { resume: "working", finish: "finished", abandon: "abandoned" },
  finished: { position: "finished", inspect: "inspected", abandon: "abandoned" },
};

/** May this kind of event happen now? Keeps a second tap from sending a second start. */
export function isAllowed(set, kind) {
  if (kind === "inspect" && unseen(set).length) return false;
  return Boolean(FOLLOWING[set.state]?.[kind]);
}

export function withEvents(set, events) {
  return events.reduce(withEvent, set);
}

/** The set after one event; one that does not fit changes nothing. */
export function withEvent(set, event) {
  if (!isAllowed(set, event.kind)) return set;
  if (event.kind === "position") return withPosition(set, event);
  const state = FOLLOWING[set.state][event.kind];
  const moved = { ...set, state, server_now: event.at, clock: clockAfter(set, event) };
  return event.kind === "inspect" ? { ...moved, inspection: { ...set.inspection, closed: true } } : moved;
}

function clockAfter(set, event) {
  const stretch = (Date.parse(event.at) - Date.parse(set.server_now)) / 1000;
  const clock = { ...set.clock };
  if (set.state === "working") clock.worked_s += stretch;
  if (set.state === "paused") clock.paused_s += stretch;
  if (event.kind === "start") clock.started_at = event.at;
  if (event.kind === "finish") clock.finished_at = event.at;
  if (event.kind === "split") clock.splits = [...clock.splits, splitAt(clock, event)];
  if (event.kind !== "split") clock.running_since = ["start", "resume"].includes(event.kind) ? event.at : null;
  return clock;
}

function splitAt(clock, { eye, layer }) {
  const before = clock.splits.at(-1)?.total_s ?? 0;
  return { eye, layer, worked_s: clock.worked_s - before, total_s: clock.worked_s };
}

function withPosition(set, event) {
  const { finding, faults, gap_mm, direction_deg, found_length_mm = null } = event;
  const found = { finding, faults, gap_mm, direction_deg, found_length_mm };
  const positions = set.inspection.positions.map((position) =>
    position.index === event.index ? { ...position, ...found } : position);
  return { ...set, inspection: { ...set.inspection, positions } };
}

export function unseen(set) {
  return (set.inspection?.positions ?? []).filter(({ finding }) => finding === "unseen");
}

/** Where to go on: the first position not looked at, or null when all are. */
export function nextUnseen(set, after = -1) {
  const open = unseen(set);
  return (open.find(({ index }) => index > after) ?? open[0] ?? null)?.index ?? null;
}

export function counts(set) {
  const tally = { clean: 0, faulty: 0, bare: 0, unseen: 0 };
  for (const { finding } of set.inspection?.positions ?? []) tally[finding] += 1;
  return tally;
}

/** How many inspected fans carry each fault, in the order of the fault list; faults not found are left out. */
export function faultCounts(set) {
  const positions = set.inspection?.positions ?? [];
  return set.faults
    .map((fault) => ({ ...fault, count: positions.filter(({ faults }) => faults.includes(fault.code)).length }))
    .filter(({ count }) => count > 0);
}
