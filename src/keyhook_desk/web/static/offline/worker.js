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

// Asks are numbered, and what they change is written in turn: what was asked for earlier never takes the place of what
// was asked for later (their language, say), and nothing asked for before somebody logged out is kept after it.
let asks = 0, forgotten = 0, writing = Promise.resolve();
const kept = new Map();

function write(change) {
  writing = writing.then(change, change);
  return writing;
}

function forget() {
  forgotten = ++asks;
  return write(() => caches.delete(PAGES));
}

async function hold(path, ask, answer) {
  const whole = new Response(await answer.blob(), answer);
  await write(async () => {
    if (ask < forgotten || ask < (kept.get(path) ?? 0)) return;
    kept.set(path, ask);
    await (await caches.open(PAGES)).put(path, whole);
  });
}

async function keep({ keep: path, asked = "", files }) {
  const ask = ++asks;
  const held = await caches.open(FILES);
  await Promise.all(files.map(async (name) => {
    if (!(await held.match(name))) await held.add(name).catch(() => undefined);
  }));
  const page = await fetch(path + asked, { credentials: "same-origin" }).catch(() => null);
  if (page?.ok && !page.redirected) await hold(path, ask, page);
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
  const ask = ++asks, known = await (await caches.open(PAGES)).match(path);
  if (!known) return fetch(event.request);
  try {
    const answer = await fetch(event.request, { signal: AbortSignal.timeout(PATIENCE_MS) });
    if (answer.type === "opaqueredirect" || answer.redirected) await forget();
    else if (answer.ok) await hold(path, ask, answer.clone());
    return answer;
  } catch {
    return known;
  }
}
