/** Asks the server what the form comes to so far. The answer is a piece of the page, read as a document. */

/** Resolves to the fragment's root; rejects with "signed_out" or "offline". */
export function readDraft(url, entries) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open("POST", url);
    request.responseType = "document";
    request.onload = () => {
      const root = request.response?.querySelector("[data-map-editor]");
      if (request.status === 200 && root) resolve(root);
      else reject(new Error(request.status >= 500 ? "offline" : "signed_out"));
    };
    request.onerror = () => reject(new Error("offline"));
    request.send(new URLSearchParams(entries));
  });
}
