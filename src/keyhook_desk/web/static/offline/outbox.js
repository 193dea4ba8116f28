// What people enter where there is no signal: kept in the browser until the desk has it, sent in the order in which it
// was entered. Each entry carries its own id, so the desk writes it once however often it is sent. A reload, a closed
// page or a flat battery loses nothing.
//
//   const uid = await send("/hires/H13/walk/tick/", { kind: "told", point: "hu_order" }, { photo: blob });
//
// Every change is told as an event on the window: `outbox:changed` with { waiting, refused, others }: how many wait,
// the entries that the desk has refused (each with `said`, the sentence of the desk), and how many wait for somebody
// else to log in here again.

const NAME = "keyhook-outbox";
const AGAIN_MS = 15000;
const who = () => document.documentElement.dataset.user ?? "";
let opened;

function base() {
  opened ??= new Promise((done, failed) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("entries", { keyPath: "order", autoIncrement: true });
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => failed(asked.error);
  });
  return opened;
}

async function within(mode, act) {
  const deal = (await base()).transaction("entries", mode);
  const asked = act(deal.objectStore("entries"));
  return new Promise((done, failed) => {
    deal.oncomplete = () => done(asked?.result);
    deal.onerror = deal.onabort = () => failed(deal.error);
  });
}

// Everything that is still here, in the order in which it was entered.
export const entries = () => within("readonly", (held) => held.getAll());

// Keeps an entry and sends it as soon as it can be; returns its id once it is kept. `fields` are texts, `files` blobs.
export async function send(url, fields, files = {}) {
  const uid = crypto.randomUUID();
  await within("readwrite", (held) => held.add({ uid, url, fields: { ...fields, uid }, files, who: who(), said: "" }));
  await tellAll();
  if (navigator.onLine) flush();
  return uid;
}

// Takes out an entry that the desk has refused, once somebody has seen why.
export async function drop(uid) {
  const found = (await entries()).find((entry) => entry.uid === uid && entry.said);
  if (found) await within("readwrite", (held) => held.delete(found.order));
  await tellAll();
}

// A tablet that knows it has no signal tries nothing while it is used: what is in flight when a page is closed may or may
// not arrive. One that is wrong about it sends when the page is opened or shown again.
//
// Sends what waits, one page at a time; stops at the first entry that finds no connection or no login.
export function flush() {
  return navigator.locks.request(NAME, { ifAvailable: true }, async (lock) => {
    if (!lock) return;
    for (const entry of await entries()) {
      if (entry.said || entry.who !== who()) continue;
      if (!(await sent(entry))) break;
    }
    await tellAll();
  });
}

async function sent(entry) {
  let answer;
  try {
    answer = await fetch(entry.url, { method: "POST", body: formOf(entry), headers: { "X-CSRFToken": token(), Accept: "application/json" } });
  } catch {
    return false; // no connection
  }
  if (answer.redirected || answer.status === 403 || answer.status === 429 || answer.status >= 500) return false;
  if (answer.ok) await within("readwrite", (held) => held.delete(entry.order));
  else await within("readwrite", (held) => held.put({ ...entry, said: entry.said || `The desk did not take it (${answer.status}).` }));
  if (!answer.ok) await keepReason(entry, answer);
  return true;
}

async function keepReason(entry, answer) {
  const told = await answer.json().catch(() => ({}));
  if (told.said) await within("readwrite", (held) => held.put({ ...entry, said: told.said }));
}

function formOf(entry) {
  const form = new FormData();
  for (const [name, value] of Object.entries(entry.fields)) form.append(name, value);
  for (const [name, blob] of Object.entries(entry.files)) form.append(name, blob, blob.name ?? name);
  return form;
}

const token = () => document.cookie.match(/(?:^|; )csrftoken=([^;]+)/)?.[1] ?? "";

async function tellAll() {
  const all = await entries(), open = all.filter((entry) => !entry.said);
  const mine = open.filter((entry) => entry.who === who());
  const detail = { waiting: mine.length, refused: all.filter((entry) => entry.said), others: open.length - mine.length };
  dispatchEvent(new CustomEvent("outbox:changed", { detail }));
}

// Asks the worker to keep this page with all that it uses, so that it opens without a connection from now on.
export async function keepThisPage() {
  if (!("serviceWorker" in navigator)) return;
  await navigator.serviceWorker.register("/worker.js", { scope: "/" });
  const { active } = await navigator.serviceWorker.ready;
  const files = performance.getEntriesByType("resource").map((entry) => entry.name);
  active.postMessage({ keep: location.pathname, asked: location.search, files: files.filter((name) => new URL(name).pathname.startsWith("/static/")) });
}

addEventListener("online", flush);
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && flush());
setInterval(() => navigator.onLine && flush(), AGAIN_MS);
flush();
