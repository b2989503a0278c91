/* Counts along while the file is written, and opens the page anew when it is. Without this script a link reloads it. */

const WAIT_MS = 1500;
const progress = document.getElementById("batch-progress");
const words = document.getElementById("batch-words");

/** True when there is nothing more to wait for. */
async function look() {
  const answer = await fetch(location.href, { headers: { Accept: "application/json" } });
  if (!answer.ok) return false;
  const batch = await answer.json();
  progress.value = batch.done;
  if (words.textContent !== batch.words) words.textContent = batch.words;
  return batch.state !== "working";
}

async function wait() {
  try {
    if (await look()) return location.reload();
  } catch {
    // no network just now: the next look may find it
  }
  setTimeout(wait, WAIT_MS);
}

setTimeout(wait, WAIT_MS);
