// Copies a text to the clipboard. Without this file the text is selected and copied by hand.

for (const button of document.querySelectorAll("[data-copy]")) {
  if (!navigator.clipboard) continue;
  button.hidden = false;
  button.addEventListener("click", async () => {
    await navigator.clipboard.writeText(document.getElementById(button.dataset.copy).textContent);
    const said = button.parentElement.querySelector("[data-copied]");
    if (said) said.hidden = false;
  });
}
