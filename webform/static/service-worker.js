// Keeps the technician's day on the device: the network first, what was kept when there is none.
// A page that comes from the device says so. Signing out clears all of it (Clear-Site-Data).

const KEPT = "kept-day-1";
const PATIENCE_MS = 6000; // with one bar of signal a page may never come
const PAGES = /^\/(day|jobs\/\d+|steps\/[^/]+|static\/.+)$/;
const MARK = " data-stored hidden";

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  if (!PAGES.test(url.pathname)) return;
  event.respondWith(networkFirst(event.request));
});

// The page of the day asks to keep the sheets of all its visits.
self.addEventListener("message", (event) => {
  if (event.data && event.data.keep) {
    event.waitUntil(keepAll(event.data.keep).then((count) => event.source.postMessage({ kept: count })));
  }
});

async function networkFirst(request) {
  const kept = await caches.match(request);
  try {
    const answer = await withPatience(fetch(request), kept ? PATIENCE_MS : 0);
    await keep(request, answer);
    return answer;
  } catch (error) {
    if (!kept) throw error;
    return marked(kept);
  }
}

function withPatience(answer, limit) {
  if (!limit) return answer;
  const late = new Promise((_, refuse) => setTimeout(() => refuse(new Error("no answer")), limit));
  return Promise.race([answer, late]);
}

async function keep(request, answer) {
  if (answer.status !== 200 || answer.redirected || answer.type !== "basic") return false;
  const cache = await caches.open(KEPT);
  await cache.put(request, answer.clone());
  return true;
}

async function keepAll(urls) {
  let count = 0;
  for (const url of urls) {
    try {
      const request = new Request(url, { credentials: "same-origin" });
      if (await keep(request, await fetch(request))) count += 1;
    } catch (error) {
      break; // the signal is gone; what is kept stays
    }
  }
  return count;
}

async function marked(kept) {
  const type = kept.headers.get("Content-Type") || "";
  if (!type.startsWith("text/html")) return kept;
  const text = (await kept.text()).replace(MARK, " data-stored");
  return new Response(text, { status: 200, headers: kept.headers });
}
