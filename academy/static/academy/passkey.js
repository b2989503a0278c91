// The sign-in library only logs what a device refuses; people need a sentence.
const REFUSED = "The passkey was not used: the device did not recognise you, or the request was cancelled. Try again, or choose another way.";

document.addEventListener("allauth.error", (event) => {
  event.preventDefault();
  const note = document.createElement("p");
  note.className = "message message--error";
  note.textContent = REFUSED;
  document.querySelector(".messages").replaceChildren(note);
});
