/** Says whether everything has reached the server, and what to do when it has not. */

import { plural } from "./words.js";

/** Keep the `[data-sync]` line of the page true to `benchSet`. */
export function showSync(benchSet) {
  const line = document.querySelector("[data-sync]");
  const problem = document.querySelector("[data-problem]");
  line.querySelector("[data-sync-now]").addEventListener("click", () => benchSet.queue.flush());
  line.querySelector("[data-sync-sign-in]").href = `${benchSet.urls.signInUrl}?next=${encodeURIComponent(location.pathname)}`;
  const show = () => {
    showLine(line, benchSet.queue);
    problem.hidden = !benchSet.problem;
    write(problem.querySelector("[data-problem-text]"), benchSet.problem ?? "");
  };
  benchSet.onChange(show);
  show();
}

function showLine(line, queue) {
  const waiting = queue.events.length;
  const troubled = queue.trouble !== null;
  line.dataset.state = troubled ? "waiting" : waiting ? "sending" : "saved";
  write(line.querySelector("[data-sync-words]"), words(queue, waiting));
  const now = line.querySelector("[data-sync-now]");
  now.hidden = !(waiting && queue.trouble === "offline");
  write(now, `Send now (${waiting})`);
  line.querySelector("[data-sync-sign-in]").hidden = queue.trouble !== "signed_out";
}

function words({ trouble, outlivesPage }, waiting) {
  if (trouble === "signed_out") return waiting ? `Signed out. ${plural(waiting, "entry", "entries")} kept here.` : "Signed out.";
  if (!waiting) return "All saved";
  if (!outlivesPage) return "Not sent yet. Keep this page open.";
  return trouble === "offline" ? "No connection. Kept here." : "Sending…";
}

/** Change text only when it differs, so that a status line is read aloud once. */
export function write(element, text) {
  if (element.textContent !== text) element.textContent = text;
}
