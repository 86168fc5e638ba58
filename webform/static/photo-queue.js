// Photos of a visit: made small on the device, kept there (IndexedDB) until there is a signal, each
// with an id so that it goes in once. Used by job-queue.js; without it the same form is sent plainly.

const PHOTO_STORE = "photos";
const PHOTO_COUNT = "triage.photos"; // how many wait, to be read at once when signing out
const PHOTOS_MAX = 30;
const PHOTO_SIDE_MAX = 1600; // dots, as the server keeps them
const PHOTO_QUALITY = 0.82;
const PHOTO_PATIENCE_MS = 60000;
const NO_ROOM = "There is no room for another photo on this device. Send those that wait, or delete something, and take it again.";
const NO_PHOTO = "This file is no photo that can be read. Choose a photo in JPEG, PNG or WebP.";

let keptPhotos = []; // what waits, without the pictures
let isSendingPhotos = false;

const photosWaiting = () => Number(localStorage.getItem(PHOTO_COUNT) || "0");
const settled = (asked) => new Promise((resolve, refuse) => {
  asked.onsuccess = () => resolve(asked.result);
  asked.onerror = () => refuse(asked.error);
});

async function photoDatabase() {
  const asked = indexedDB.open("triage", 1);
  asked.onupgradeneeded = () => asked.result.createObjectStore(PHOTO_STORE, { keyPath: "id" });
  return settled(asked);
}

// One act on the store, whole or not at all.
async function inPhotos(mode, act) {
  const database = await photoDatabase();
  try {
    const transaction = database.transaction(PHOTO_STORE, mode);
    const done = new Promise((resolve, refuse) => {
      transaction.oncomplete = resolve;
      transaction.onabort = () => refuse(transaction.error);
    });
    const found = await settled(act(transaction.objectStore(PHOTO_STORE)));
    await done;
    return found;
  } finally {
    database.close();
  }
}

async function readPhotos() {
  const found = await inPhotos("readonly", (store) => store.getAll());
  found.sort((one, other) => (one.made_at < other.made_at ? -1 : 1));
  keptPhotos = found.map(({ picture, ...rest }) => rest);
  if (found.length) localStorage.setItem(PHOTO_COUNT, String(found.length));
  else localStorage.removeItem(PHOTO_COUNT);
  return found;
}

// The picture alone, upright, no longer than the server keeps it.
async function small(file) {
  const drawn = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, PHOTO_SIDE_MAX / Math.max(drawn.width, drawn.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(drawn.width * scale);
  canvas.height = Math.round(drawn.height * scale);
  const ink = canvas.getContext("2d");
  ink.fillStyle = "white";
  ink.fillRect(0, 0, canvas.width, canvas.height);
  ink.drawImage(drawn, 0, 0, canvas.width, canvas.height);
  drawn.close();
  const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", PHOTO_QUALITY));
  return blob.arrayBuffer();
}

async function keepPhoto(form) {
  const file = form.elements.photo.files[0];
  const note = form.elements.note.value;
  const made_at = new Date().toISOString();
  const time = new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  let picture = null;
  try {
    picture = await small(file);
  } catch (error) {
    throw new Error(NO_PHOTO);
  }
  if (keptPhotos.length >= PHOTOS_MAX) throw new RangeError(NO_ROOM);
  const label = [`Photo of ${time}`, note].filter(Boolean).join(": ");
  const photo = { id: newId(), to: form.dataset.kept, note, made_at, label, picture };
  try {
    await inPhotos("readwrite", (store) => store.add(photo));
  } catch (error) {
    throw new RangeError(NO_ROOM);
  }
  await readPhotos();
  return photo.id;
}

const dropPhoto = async (id) => {
  await inPhotos("readwrite", (store) => store.delete(id));
  await readPhotos();
};

// Send the photos that wait, one by one. True if none waits any more.
async function sendPhotos() {
  if (isSendingPhotos) return false;
  isSendingPhotos = true;
  try {
    for (const photo of (await readPhotos()).filter((one) => !one.refused)) await sendPhoto(photo);
    return !keptPhotos.length;
  } finally {
    isSendingPhotos = false;
  }
}

async function sendPhoto(photo) {
  const body = new FormData();
  const fields = { client_id: photo.id, shown_version: "0", note: photo.note, made_at: photo.made_at, sent_at: new Date().toISOString() };
  for (const [name, value] of Object.entries(fields)) body.append(name, value);
  body.append("photo", new Blob([photo.picture], { type: "image/jpeg" }), "photo.jpg");
  const answer = await fetch(photo.to, {
    method: "POST",
    headers: { "X-CSRFToken": await freshToken() },
    body,
    signal: AbortSignal.timeout(PHOTO_PATIENCE_MS),
  });
  const isJson = (answer.headers.get("Content-Type") || "").includes("json");
  if (!isJson) throw new Error("The program did not take the photo; it stays on this device.");
  const { reception, message } = await answer.json();
  if (reception !== "refused") return dropPhoto(photo.id);
  await inPhotos("readwrite", (store) => store.put({ ...photo, refused: message }));
  return readPhotos();
}
