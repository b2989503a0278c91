/** The three requests of the bench. Each answers `{status, body}` and throws only when the server is out of reach. */

export function readSet(url) {
  return ask(url, { method: "GET" });
}

export function postEvents(url, events) {
  return ask(url, { method: "POST", body: JSON.stringify({ events }) });
}

export function putDraft(url, draft, { leaving = false } = {}) {
  return ask(url, { method: "PUT", body: JSON.stringify(draft), keepalive: leaving });
}

async function ask(url, options) {
  const response = await fetch(url, { ...options, headers: headers(options), credentials: "same-origin", cache: "no-store" });
  const retryAfterS = Number(response.headers.get("Retry-After")) || undefined;
  return { status: response.status, body: await bodyOf(response), retryAfterS };
}

function headers({ method }) {
  const accept = { Accept: "application/json" };
  if (method === "GET") return accept;
  const token = document.querySelector('meta[name="csrf-token"]')?.content ?? "";
  return { ...accept, "Content-Type": "application/json", "X-CSRFToken": token };
}

/** A page of HTML instead of JSON (a proxy's error, a sign-in page) has nothing to tell a script. */
async function bodyOf(response) {
  try {
    return await response.json();
  } catch {
    return null;
  }
}
