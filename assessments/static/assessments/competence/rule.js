/* The picture follows what the owner types. Without this script the form shows it by submit. */

const WAIT_MS = 300;
const form = document.getElementById("rule-form");
const picture = document.getElementById("rule-picture");
const status = document.getElementById("rule-status");
const own = document.getElementById("own-rates");
const presets = JSON.parse(document.getElementById("presets").textContent);
let asked = new XMLHttpRequest();
let waiting = 0;

const chosen = () => form.elements.preset.value;

function fill(preset) {
  for (const [name, value] of Object.entries(presets[preset] ?? {})) {
    const field = form.elements[name];
    if (name === "preset" || !field) continue;
    if (field.type === "checkbox") field.checked = value;
    else field.value = value;
  }
}

/** Only what this kind of rule asks for; a preset asks for nothing. */
function show() {
  own.hidden = chosen() !== "own";
  const kind = form.elements.kind.value;
  for (const part of form.querySelectorAll("[data-kinds]")) {
    part.hidden = !part.dataset.kinds.split(" ").includes(kind);
  }
  form.querySelector("[data-watched]").hidden = !form.elements.is_watched.checked;
}

/** The newest picture of what is typed; an older answer still on its way is dropped. */
function draw() {
  asked.abort();
  asked = new XMLHttpRequest();
  const typed = new URLSearchParams(new FormData(form));
  typed.delete("csrfmiddlewaretoken");
  asked.open("GET", `${form.dataset.picture}?${typed}`);
  asked.responseType = "document"; // markup from a string would be blocked
  asked.onload = ({ target }) => put(target.response, target.status);
  asked.onerror = () => { status.textContent = "The picture cannot be fetched just now."; };
  asked.send();
}

function put(answer, code) {
  if (!answer || (code !== 200 && code !== 422)) {
    status.textContent = "The picture cannot be fetched just now.";
    return;
  }
  const wasOpen = picture.querySelector("details")?.open ?? false;
  picture.replaceChildren(...document.importNode(answer.body, true).childNodes);
  picture.querySelector("details")?.toggleAttribute("open", wasOpen);
  status.textContent = picture.querySelector(".rule-meaning")?.textContent ?? picture.textContent.trim();
}

form.addEventListener("change", (event) => {
  if (event.target.name === "preset") fill(chosen());
  show();
});

form.addEventListener("input", () => {
  clearTimeout(waiting);
  waiting = setTimeout(draw, WAIT_MS);
});

for (const part of document.querySelectorAll("[data-without-script]")) part.hidden = true;
show();
