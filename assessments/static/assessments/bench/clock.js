/** The clock worked out from instants. Pure: `now` is an argument, in milliseconds of the server's clock. */

const MINUTE_S = 60;

/** Seconds worked at `now`; the document tells those at its `server_now`. */
export function workedSeconds(set, now) {
  const running = set.state === "working" ? (now - Date.parse(set.server_now)) / 1000 : 0;
  return Math.max(0, set.clock.worked_s + running);
}

export function pausedSeconds(set, now) {
  const resting = set.state === "paused" ? (now - Date.parse(set.server_now)) / 1000 : 0;
  return Math.max(0, set.clock.paused_s + resting);
}

/** Milliseconds to add to this device's clock to get the server's. */
export function clockOffset(serverNow, receivedAt) {
  return Date.parse(serverNow) - receivedAt;
}

/** A duration as on a clock face: `1:05:09`. */
export function face(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  const [hours, minutes, rest] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  return `${hours}:${String(minutes).padStart(2, "0")}:${String(rest).padStart(2, "0")}`;
}

/** A duration in words: `2 h 05 min`. */
export function inWords(seconds) {
  const minutes = Math.max(0, Math.floor(seconds / MINUTE_S));
  const hours = Math.floor(minutes / 60);
  return hours ? `${hours} h ${String(minutes % 60).padStart(2, "0")} min` : `${minutes} min`;
}

export function againstTarget(workedS, targetS) {
  return workedS <= targetS
    ? `${inWords(targetS - workedS + MINUTE_S - 1)} left of ${inWords(targetS)}`
    : `${inWords(workedS - targetS)} over the ${inWords(targetS)} target`;
}

/** Share of the target used, 0 to 1. */
export function shareUsed(workedS, targetS) {
  return targetS > 0 ? Math.min(1, Math.max(0, workedS / targetS)) : 0;
}

/** Moments worth saying aloud, earliest first. */
export function milestones(targetS) {
  return [
    { at: targetS / 2, words: "Half of the target time is used." },
    { at: targetS - 10 * MINUTE_S, words: "10 minutes left." },
    { at: targetS - 5 * MINUTE_S, words: "5 minutes left. Time to comb through and look for stuck lashes." },
    { at: targetS, words: "The target time is reached. The clock goes on." },
  ].filter(({ at }) => at > 0).sort((one, other) => one.at - other.at);
}

/** What to say when the clock has moved from `beforeS` to `afterS`: the last milestone passed, or null. */
export function milestonePassed(beforeS, afterS, targetS) {
  const passed = milestones(targetS).filter(({ at }) => beforeS < at && at <= afterS);
  return passed.length ? passed[passed.length - 1].words : null;
}
