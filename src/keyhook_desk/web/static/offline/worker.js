// The worker of the desk: pages that ask for it open without a connection, as they were last seen. A page is kept only
// when it asks to be (see keepThisPage in outbox.js), and all are forgotten when somebody logs out or the login has
// ended, so nobody sees the pages of somebody else. Packs have a worker of their own.

const PAGES = "keyhook-pages", FILES = "keyhook-files";
const PATIENCE_MS = 6000;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("message", (event) => {
  if (event.data?.keep) event.waitUntil(keep(event.data));
});

// How often everything was forgotten: what was asked for before somebody logged out is not kept after it.
let forgotten = 0;
function forget() {
  forgotten += 1;
  return caches.delete(PAGES);
}

async function keep({ keep: path, asked = "", files }) {
  const before = forgotten;
  const held = await caches.open(FILES);
  await Promise.all(files.map(async (name) => {
    if (!(await held.match(name))) await held.add(name).catch(() => undefined);
  }));
  const page = await fetch(path + asked, { credentials: "same-origin" }).catch(() => null);
  if (page?.ok && !page.redirected && forgotten === before) await (await caches.open(PAGES)).put(path, page);
}

self.addEventListener("fetch", (event) => {
  const { request } = event, url = new URL(request.url);
  if (url.origin !== location.origin || url.pathname.startsWith("/pack/")) return;
  if (request.method === "POST" && url.pathname === "/people/logout/") event.waitUntil(forget());
  if (request.method !== "GET") return;
  if (url.pathname.startsWith("/static/")) event.respondWith(file(request, url));
  else if (request.mode === "navigate") event.respondWith(page(event, url.pathname));
});

// A file whose name holds the hash of its content never changes; of others the desk's own comes first.
async function file(request, url) {
  const held = await caches.open(FILES), known = await held.match(request);
  if (known && /\.[0-9a-f]{12}\.\w+$/.test(url.pathname)) return known;
  try {
    const answer = await fetch(request);
    if (known && answer.ok) await held.put(request, answer.clone());
    return answer;
  } catch (trouble) {
    if (known) return known;
    throw trouble;
  }
}

async function page(event, path) {
  const pages = await caches.open(PAGES), known = await pages.match(path);
  if (!known) return fetch(event.request);
  try {
    const answer = await fetch(event.request, { signal: AbortSignal.timeout(PATIENCE_MS) });
    if (answer.type === "opaqueredirect" || answer.redirected) await forget();
    else if (answer.ok) await pages.put(path, answer.clone());
    return answer;
  } catch {
    return known;
  }
}
