// Keeps packs on the phone. Scope: /pack/ alone. What a hirer has opened once works without a signal; a link that
// has ended takes its copy with it.
const ASSETS = {{ assets|safe }};
const STATIC = "pack-static-" + ASSETS.join("").length + "-" + hash(ASSETS.join());
const PAGES = "pack-pages";
const LAST = "/pack/last-opened";
const PATIENCE_MS = 4000;

function hash(text) {
  let sum = 0;
  for (const sign of text) sum = (sum * 31 + sign.charCodeAt(0)) | 0;
  return (sum >>> 0).toString(36);
}

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(STATIC).then((cache) => cache.addAll(ASSETS)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    const names = await caches.keys();
    await Promise.all(names.filter((name) => name.startsWith("pack-static-") && name !== STATIC).map((name) => caches.delete(name)));
    await self.clients.claim();
  })());
});

self.addEventListener("message", (event) => {
  if (event.data && event.data.keep) event.waitUntil(keep(event.data, event.ports[0]));
});

async function keep({ keep: addresses, last }, port) {
  const cache = await caches.open(PAGES);
  await cache.put(LAST, new Response(JSON.stringify(last)));
  const kept = await Promise.all(addresses.map(async (address) => {
    try {
      const answer = await fetch(address, { credentials: "same-origin" });
      if (answer.ok) await cache.put(address, answer);
      return { reached: true, held: answer.ok };
    } catch {
      return { reached: false, held: (await cache.match(address)) !== undefined };
    }
  }));
  if (port) port.postMessage(kept[0]);
}

const tokenOf = (path) => (path.match(/^\/pack\/([^/]*~[^/]*)\//) || [])[1];

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  if (ASSETS.includes(url.pathname)) event.respondWith(fromCache(event.request));
  else if (event.request.mode === "navigate") event.respondWith(page(event.request, url));
  else if (url.pathname.includes("/photo/")) event.respondWith(fromCache(event.request, PAGES));
});

async function fromCache(request, into = STATIC) {
  const held = await caches.match(request, { ignoreVary: true });
  if (held) return held;
  const answer = await fetch(request);
  if (answer.ok) (await caches.open(into)).put(request, answer.clone());
  return answer;
}

async function page(request, url) {
  const token = tokenOf(url.pathname);
  try {
    const answer = await Promise.race([
      fetch(request),
      new Promise((_, late) => { setTimeout(() => late(new Error("slow")), PATIENCE_MS); }),
    ]);
    if (token && (answer.status === 404 || answer.status === 410)) await forget(token);
    else if (token && answer.ok && (answer.headers.get("Content-Type") || "").startsWith("text/html")) {
      (await caches.open(PAGES)).put(url.pathname, answer.clone());
    } else if (answer.status >= 500) throw new Error("broken");
    return answer;
  } catch (trouble) {
    return (await heldPage(url, token)) || fetch(request);
  }
}

async function heldPage(url, token) {
  const cache = await caches.open(PAGES);
  const exact = await cache.match(url.pathname, { ignoreVary: true });
  if (exact) return exact;
  const scanned = url.pathname.match(/^\/pack\/find\/([^/]+)\/(\d+)\/$/);
  const last = await cache.match(LAST);
  if (scanned && last) {
    const { home, vehicle } = await last.json();
    if (vehicle === scanned[1]) return Response.redirect(home + "#n" + scanned[2]);
    return undefined;
  }
  if (!token) return undefined;
  const names = (await cache.keys()).map((one) => new URL(one.url).pathname);
  const other = names.find((name) => tokenOf(name) === token && !name.includes("/photo/"));
  return other ? cache.match(other, { ignoreVary: true }) : undefined;
}

async function forget(token) {
  const cache = await caches.open(PAGES);
  const keys = await cache.keys();
  await Promise.all(keys.filter((one) => tokenOf(new URL(one.url).pathname) === token).map((one) => cache.delete(one)));
}
