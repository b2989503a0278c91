/** A student's last brief is chosen with the student, until somebody chooses another. */

const form = document.getElementById("bench-new");
const briefs = [...form.querySelectorAll('[name="brief"]')];
let chosenByHand = briefs.some(({ defaultChecked }) => defaultChecked) && briefs.length > 1;

for (const brief of briefs) brief.addEventListener("change", () => { chosenByHand = true; });
form.addEventListener("change", ({ target }) => {
  if (target.name !== "student" || chosenByHand) return;
  const last = briefs.find(({ value }) => value === target.dataset.brief);
  if (last) last.checked = true;
});
// A second tap would only open the same set again; it need not leave the page twice.
form.addEventListener("submit", (sent) => {
  if (form.dataset.sent) sent.preventDefault();
  form.dataset.sent = "1";
});
addEventListener("pageshow", () => delete form.dataset.sent);
