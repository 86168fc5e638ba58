// One key an answer, only while the question has focus (WCAG 2.1.4). Everything works without this file.

const TYPING = "input[type=text], textarea, select, [contenteditable]";

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || event.repeat) return;
  if (!(event.target instanceof Element) || event.target.matches(TYPING)) return;
  const box = event.target.closest("[data-keys]");
  const wanted = box && [...box.querySelectorAll("[data-key]")].find((one) => one.dataset.key === event.key);
  if (!wanted) return;
  event.preventDefault();
  wanted.click();
  advance(box);
});

// In a form with many questions, go to the next one; after the last to the button.
function advance(box) {
  const form = box.closest("[data-advance]");
  if (!form) return;
  const boxes = [...form.querySelectorAll("[data-keys]")];
  const next = boxes[boxes.indexOf(box) + 1] || form.querySelector("[data-last]");
  next.focus();
  next.scrollIntoView({ block: "nearest" });
}

// Say what changed to those who do not see it. The region stays in the page, its text changes.
document.addEventListener("htmx:after:swap", () => {
  document.getElementById("lost").hidden = true;
  const said = document.querySelector("[data-announce]");
  document.getElementById("announced").textContent = said ? said.textContent : "";
});

document.addEventListener("htmx:error", () => {
  document.getElementById("lost").hidden = false;
});
