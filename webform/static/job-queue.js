// Entries of a visit: sent at once, or kept on the device until there is a signal, each with an id
// so that it goes in once. Without this file the same forms are sent the plain way.

const STORE = "triage.entries";
const RETRY_MS = 20000;
const PATIENCE_MS = 10000;

const sheet = document.querySelector("[data-job]");
const day = document.querySelector("[data-day]");
const page = sheet || day;
let isSending = false;

const read = () => JSON.parse(localStorage.getItem(STORE) || "[]");
const write = (entries) => localStorage.setItem(STORE, JSON.stringify(entries));
const newId = () => [...crypto.getRandomValues(new Uint8Array(16))].map((one) => one.toString(16).padStart(2, "0")).join("");

// Keep an entry, then try to send everything that waits.

function keepEntry(form, button) {
  const fields = {};
  for (const [name, value] of new FormData(form)) {
    if (typeof value === "string") fields[name] = value;
  }
  if (button && button.name) fields[button.name] = button.value;
  const { kind } = fields;
  for (const name of ["kind", "csrf_token", "client_id", "shown_version"]) delete fields[name];
  const answer = button && button.querySelector(".answer-label");
  const entry = {
    id: newId(),
    kind,
    fields,
    made_at: new Date().toISOString(),
    shown_version: Number(sheet.dataset.version),
    to: sheet.dataset.entries,
    label: [form.dataset.title, (fields.reading && `${fields.reading} ${fields.unit || ""}`.trim()) || (answer ? answer.textContent : "") || fields.text].filter(Boolean).join(": "),
  };
  write([...read(), entry]);
  return entry;
}

// Send what waits, job by job, in order. True if nothing waits any more.

async function sendAll() {
  if (isSending) return false;
  isSending = true;
  try {
    let entries = read().filter((one) => !one.refused);
    while (entries.length) {
      const first = entries[0].to;
      const batch = entries.filter((one) => one.to === first);
      settle(await post(first, batch));
      entries = read().filter((one) => !one.refused);
    }
    const areSent = await sendPhotos();
    say("");
    return areSent && !read().length;
  } catch (error) {
    say(error instanceof TypeError || error.name === "TimeoutError" ? "There is no signal." : error.message);
    return false;
  } finally {
    isSending = false;
    show();
  }
}

async function freshToken() {
  const asked = await fetch(page.dataset.token, { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
  if (asked.redirected || !asked.ok) throw new Error("Sign in again; what waits stays on this device.");
  return (await asked.json()).token;
}

async function post(to, batch) {
  const token = await freshToken();
  const entries = batch.map(({ id, kind, fields, made_at, shown_version }) => ({ id, kind, fields, made_at, shown_version }));
  const answer = await fetch(to, {
    method: "POST",
    headers: { "Content-Type": "application/json", "X-CSRFToken": token },
    body: JSON.stringify({ sent_at: new Date().toISOString(), entries }),
    signal: AbortSignal.timeout(PATIENCE_MS),
  });
  const isJson = (answer.headers.get("Content-Type") || "").includes("json");
  if (!answer.ok || !isJson) throw new Error("The program did not take the entries; they stay on this device.");
  return (await answer.json()).entries;
}

// Whether the program answers; a device that is connected to something may still be out of its reach.
async function hasSignal() {
  try {
    return Boolean(await freshToken());
  } catch (error) {
    return false;
  }
}

// Drop what was stored; keep what was refused, with the reason, until a person drops it.

function settle(received) {
  const told = new Map(received.map((one) => [one.id, one]));
  const left = read()
    .filter((one) => !told.has(one.id) || told.get(one.id).reception === "refused")
    .map((one) => (told.has(one.id) ? { ...one, refused: told.get(one.id).message, field: told.get(one.id).field } : one));
  write(left);
}

// What waits, on the page.

function say(text) {
  const place = document.querySelector("#unsent [data-said]");
  if (place) place.textContent = text;
}

function show() {
  const box = document.getElementById("unsent");
  if (!box) return;
  const entries = read();
  const count = entries.length + keptPhotos.length;
  box.hidden = !count;
  box.querySelector("[data-count]").textContent = String(count);
  const drop = (one) => write(read().filter((other) => other.id !== one.id));
  const lines = entries.map((one) => line(one, () => drop(one)));
  box.querySelector("ol").replaceChildren(...lines, ...keptPhotos.map((one) => line(one, () => dropPhoto(one.id))));
}

function line(entry, remove) {
  const item = document.createElement("li");
  item.textContent = entry.label;
  if (!entry.refused) return item;
  item.className = "refused";
  const drop = document.createElement("button");
  drop.type = "button";
  drop.className = "link";
  drop.textContent = `Drop “${entry.label}”`;
  drop.addEventListener("click", async () => {
    await remove();
    show();
  });
  item.append(` (not recorded: ${entry.refused}) `, drop);
  return item;
}

// Off line: walk the tree of the plan that the page holds.

function walk(entry) {
  const step = entry.fields.observation || entry.fields.repair;
  const now = document.getElementById("now");
  if (!now || (entry.kind !== "finding" && entry.kind !== "job_repair")) return;
  if (entry.fields.verified === "works") return ended("It works. Close the job when there is a signal; what you entered is kept.");
  if (entry.fields.answer === "could_not_be_run" && !leadsFrom(step, "could_not_be_run")) return ended("Could not be run. Choose another step from the plan below.");
  const next = leadsFrom(step, resultOf(entry));
  if (!next) return ended("Off the stored plan here. Keep entering what you find: it all counts, and the next step is worked out when there is a signal. Choose a step below.");
  return goTo(next);
}

function resultOf(entry) {
  if (entry.kind === "job_repair") return entry.fields.verified;
  if (!entry.fields.reading) return entry.fields.answer;
  const now = document.getElementById("now");
  const [low, high] = [now.dataset.low, now.dataset.high].map(Number);
  const value = Number(entry.fields.reading.replace(",", "."));
  return value >= low && value <= high ? "inside" : "outside";
}

function leadsFrom(step, answer) {
  const lines = [...document.querySelectorAll("[data-plan] [data-line]")];
  const here = document.querySelector("[data-plan] .is-now");
  const from = here && here.dataset.step === step ? [here] : lines.filter((one) => one.dataset.step === step);
  for (const source of from) {
    const next = lines.find((one) => one.dataset.from === source.dataset.line && one.dataset.answer.split(" ").includes(answer));
    if (next) return next;
  }
  return null;
}

async function goTo(target) {
  for (const one of document.querySelectorAll("[data-plan] .is-now")) {
    one.classList.remove("is-now");
    one.removeAttribute("aria-current");
  }
  target.classList.add("is-now");
  target.setAttribute("aria-current", "step");
  const parts = target.dataset.kind === "list" ? [".plan-title", ".plan-listed"] : [".plan-title"];
  const told = parts.map((part) => target.querySelector(part).textContent).join(": ");
  await showStep(target.dataset.step, told);
}

async function showStep(step, title) {
  const found = step ? await storedStep(step) : null;
  if (!found) return ended(title);
  const now = document.getElementById("now");
  const heading = now.querySelector("h2");
  heading.textContent = found.dataset.title;
  const facts = found.querySelector("[data-facts]").cloneNode(true);
  const forms = found.querySelector("template").content.cloneNode(true);
  now.replaceChildren(now.querySelector(".label"), heading, facts, forms);
  now.querySelector(".label").textContent = "Do now, from the stored plan";
  now.dataset.step = step;
  now.dataset.low = found.dataset.low || "";
  now.dataset.high = found.dataset.high || "";
  now.focus();
}

function ended(text) {
  const now = document.getElementById("now");
  const heading = now.querySelector("h2");
  const told = document.createElement("p");
  heading.textContent = "Without signal";
  told.textContent = text;
  now.replaceChildren(now.querySelector(".label"), heading, told);
  now.querySelector(".label").textContent = "Kept on this device";
  now.focus();
}

let steps = null;

async function storedStep(step) {
  try {
    if (!steps) {
      const text = await (await fetch(sheet.dataset.steps)).text();
      steps = new DOMParser().parseFromString(text, "text/html");
    }
    return [...steps.querySelectorAll("[data-step-of]")].find((one) => one.dataset.stepOf === step) || null;
  } catch (error) {
    return null;
  }
}

// Say beside a field why it was not recorded, and leave what was typed. False if there is none.

function tellAt(form, name, message) {
  form.querySelectorAll(".error").forEach((one) => one.remove());
  const field = name && form.elements[name];
  if (!(field instanceof Element)) return false;
  const told = document.createElement("p");
  told.className = "error";
  told.id = `wrong-${newId()}`;
  told.setAttribute("role", "alert");
  told.textContent = message;
  (field.closest(".reading-line") || field).before(told);
  field.setAttribute("aria-invalid", "true");
  field.setAttribute("aria-describedby", told.id);
  field.focus();
  return true;
}

async function takePhoto(form) {
  const buttons = form.querySelectorAll("button");
  buttons.forEach((one) => { one.disabled = true; });
  try {
    await keepPhoto(form);
    form.reset();
    tellAt(form, "", "");
    if (await sendAll()) return location.reload();
    document.getElementById("unsent").scrollIntoView({ block: "center" });
  } catch (error) {
    if (error instanceof RangeError && await hasSignal()) return form.submit(); // it need not be kept
    tellAt(form, "photo", error.message);
  } finally {
    buttons.forEach((one) => { one.disabled = false; });
  }
  return undefined;
}

// Paper shows every part, also where a browser does not know how to open them by style.

window.addEventListener("beforeprint", () => {
  document.querySelectorAll("details.part:not([open], .no-print)").forEach((one) => { one.open = true; one.dataset.forPaper = ""; });
});
window.addEventListener("afterprint", () => {
  document.querySelectorAll("details[data-for-paper]").forEach((one) => { one.open = false; delete one.dataset.forPaper; });
});

// Events.

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (sheet && form.matches("[data-entry]")) {
    event.preventDefault();
    if (!form.reportValidity()) return;
    const entry = keepEntry(form, event.submitter);
    form.querySelectorAll("button").forEach((one) => { one.disabled = true; });
    const before = read().length;
    const isSent = await sendAll();
    if (isSent || read().length < before) return location.reload();
    form.querySelectorAll("button").forEach((one) => { one.disabled = false; });
    const kept = read().find((one) => one.id === entry.id);
    if (kept && kept.refused && tellAt(form, kept.field, kept.refused)) {
      write(read().filter((one) => one.id !== entry.id));
      return show();
    }
    form.reset();
    if (kept && kept.refused) return document.getElementById("unsent").scrollIntoView({ block: "center" });
    if (document.getElementById("stored")) document.getElementById("stored").hidden = false;
    if (kept && entry.kind === "job_overruled") return showStep(entry.fields.taken, entry.label);
    return kept ? walk(entry) : undefined;
  }
  if (sheet && form.matches("[data-photo]")) {
    event.preventDefault();
    return form.reportValidity() ? takePhoto(form) : undefined;
  }
  const count = read().length + photosWaiting();
  if (form.matches("[action$='/sign-out'], [action$='/sign-out-everywhere']") && count) {
    const what = count === 1 ? "1 entry is" : `${count} entries are`;
    if (!confirm(`${what} not sent yet and will be lost. Sign out all the same?`)) event.preventDefault();
  }
  return undefined;
});

document.addEventListener("click", async (event) => {
  if (event.target instanceof Element && event.target.matches("[data-send]") && (await sendAll())) location.reload();
});

async function sendAndRenew() {
  if (!page || ![...read(), ...keptPhotos].some((one) => !one.refused)) return;
  if (await sendAll()) location.reload();
}

window.addEventListener("online", sendAndRenew);
setInterval(sendAndRenew, RETRY_MS);

// Ticks of the load list stay on the device until the pieces are recorded.

for (const form of document.querySelectorAll("[data-ticks]")) {
  const key = `triage.ticks.${form.dataset.ticks}`;
  const boxes = [...form.querySelectorAll("input[type=checkbox]")];
  const ticked = new Set(JSON.parse(localStorage.getItem(key) || "[]"));
  for (const box of boxes) {
    box.checked = box.checked || ticked.has(box.id);
    box.addEventListener("change", () => {
      localStorage.setItem(key, JSON.stringify(boxes.filter((one) => one.checked).map((one) => one.id)));
    });
  }
}

// Keep the day on this device.

async function keepDay() {
  if (!page || !("serviceWorker" in navigator)) return;
  await navigator.serviceWorker.register(page.dataset.worker, { scope: "/" });
  const ready = await navigator.serviceWorker.ready;
  const here = [location.pathname + location.search];
  const assets = [...document.querySelectorAll("link[rel=stylesheet], script[src]")].map((one) => new URL(one.href || one.src).pathname);
  const sheets = [...document.querySelectorAll("[data-keep] [data-url]")].map((one) => one.dataset.url);
  const own = sheet ? [sheet.dataset.steps] : [];
  navigator.serviceWorker.addEventListener("message", (event) => {
    const place = document.getElementById("kept");
    if (place && event.data.kept) place.textContent = "This day is kept on this device, for when there is no signal.";
  });
  if (navigator.onLine) ready.active.postMessage({ keep: [...here, ...assets, ...own, ...sheets] });
}

async function begin() {
  if (photosWaiting()) await readPhotos().catch(() => []);
  show();
  await keepDay().catch(() => undefined);
  await sendAndRenew();
}

begin();
