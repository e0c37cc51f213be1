// Keeps the shell and the pages last seen, so that a page opens without a connection. Nothing of the JSON interface,
// no sound and no entrance is kept; when the device is shut out, its pages are forgotten.
const VERSION = new URL(self.location).searchParams.get("v") || "0";
const SHELL = `shell-${VERSION}`;
const PAGES = "pages";
const NEVER = ["/api/", "/events", "/enter", "/join", "/worker.js"];

self.addEventListener("install", () => self.skipWaiting());

self.addEventListener("activate", (event) => {
  event.waitUntil(
    (async () => {
      for (const name of await caches.keys()) if (name !== SHELL && name !== PAGES) await caches.delete(name);
      await self.clients.claim();
    })(),
  );
});

self.addEventListener("message", (event) => {
  const seen = event.data?.seen;
  if (!Array.isArray(seen)) return;
  event.waitUntil(
    (async () => {
      for (const address of seen) {
        const url = new URL(address, self.location.origin);
        if (url.origin !== self.location.origin || NEVER.some((start) => url.pathname.startsWith(start))) continue;
        const cache = await caches.open(url.pathname.startsWith("/static/") ? SHELL : PAGES);
        if (await cache.match(url.href)) continue;
        try {
          const answer = await fetch(url.href, { credentials: "same-origin" });
          if (answer.ok && !answer.redirected) await cache.put(url.href, answer);
        } catch { /* another time */ }
      }
    })(),
  );
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  if (NEVER.some((start) => url.pathname.startsWith(start))) return;
  if (url.pathname.startsWith("/static/")) event.respondWith(fromShell(event.request));
  else if (event.request.mode === "navigate") event.respondWith(fromServer(event.request));
});

async function fromShell(request) {
  const cache = await caches.open(SHELL);
  const kept = await cache.match(request);
  if (kept) return kept;
  const answer = await fetch(request);
  if (answer.ok) await cache.put(request, answer.clone());
  return answer;
}

async function fromServer(request) {
  const cache = await caches.open(PAGES);
  try {
    const answer = await fetch(request);
    if (answer.ok && !answer.redirected) await cache.put(request, answer.clone());
    return answer;
  } catch (error) {
    // A page that was not asked for is never shown in the place of one that was: of another site, of another day.
    const asked = new URL(request.url).searchParams;
    asked.delete("at"); // where to look on the page; the page is the same
    const kept = (await cache.match(request)) ?? (asked.size ? undefined : await cache.match(request, { ignoreSearch: true }));
    if (kept) return kept;
    throw error;
  }
}
