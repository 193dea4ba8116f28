// The pack on the phone: one part at a time, search, what has been read, and a copy that needs no signal.
// Without this file everything stands on one long page and works all the same.
const main = document.getElementById("main");
const { token, home, worker, vehicle } = main.dataset;
const views = [...main.querySelectorAll("section.view")];
const tabs = [...document.querySelectorAll("nav.tabs a, header .home")];
const state = document.getElementById("state");

document.documentElement.classList.add("app");

// --- one part at a time; the address says which, so that going back works
function show(event) {
  const wanted = decodeURIComponent(location.hash.slice(1));
  const target = wanted ? document.getElementById(wanted) : null;
  const view = target ? target.closest("section.view") : null;
  const shown = view || views[0];
  for (const one of views) one.hidden = one !== shown;
  for (const tab of tabs) {
    if (tab.hash === "#" + shown.id) tab.setAttribute("aria-current", "page");
    else tab.removeAttribute("aria-current");
  }
  for (const link of document.querySelectorAll(".languages a")) link.hash = location.hash;
  if (target && target !== shown) {
    if (target.tagName === "DETAILS") target.open = true;
    target.scrollIntoView({ block: "start" });
    const first = target.querySelector("summary, a, h3");
    if (event && event.type === "hashchange" && first && first.tabIndex >= 0) first.focus({ preventScroll: true });
  } else {
    scrollTo(0, 0);
  }
}
addEventListener("hashchange", show);
addEventListener("load", show); // after the browser has gone to the place the address names
show();

// --- the drawing: the number nearest to the finger opens its card
const plan = document.getElementById("plan");
const REACH_PX = 36;

plan.addEventListener("click", (event) => {
  let best = null;
  let least = REACH_PX;
  for (const group of plan.querySelectorAll("[data-find-it]")) {
    const box = group.querySelector(".kd-mark, .kd-mark-on").getBoundingClientRect();
    const away = Math.hypot(box.x + box.width / 2 - event.clientX, box.y + box.height / 2 - event.clientY);
    if (away < least) [best, least] = [group, away];
  }
  if (best) location.hash = "n" + best.dataset.findIt;
});

function mark(number) {
  for (const group of plan.querySelectorAll("[data-find-it]")) {
    const on = group.dataset.findIt === number;
    group.querySelector(".kd-mark, .kd-mark-on").setAttribute("class", on ? "kd-mark-on" : "kd-mark");
    group.querySelector("text").setAttribute("class", on ? "kd-number-on" : "kd-number");
    if (on) group.parentNode.append(group);
  }
}
document.addEventListener("click", (event) => {
  const link = event.target.closest("[data-show]");
  if (link) mark(link.dataset.show);
});

// --- search: every word has to be there, accents and capitals do not matter
const folded = (words) => words.toLowerCase().normalize("NFKD").replace(/\p{M}/gu, "").replace(/ß/g, "ss")
  .replace(/[^\p{L}\p{N}]+/gu, " ").trim();

for (const field of document.querySelectorAll("[data-seeks]")) {
  const said = field.parentElement.querySelector(".found");
  const rows = [...document.getElementById(field.dataset.seeks).children];
  field.parentElement.hidden = false;
  field.addEventListener("input", () => {
    const wanted = folded(field.value).split(" ").filter(Boolean);
    let count = 0;
    for (const row of rows) {
      const words = ` ${row.dataset.search}`;
      const hit = wanted.every((word) => (/^\d+$/.test(word) ? `${words} `.includes(` ${word} `) : words.includes(word)));
      row.hidden = !hit;
      count += hit;
    }
    said.textContent = !wanted.length ? "" : count ? said.dataset.found.replace("#", count) : said.dataset.none;
  });
}

// --- a small memory; where the browser allows none, it lasts as long as the page
const memory = new Map();

function remembered(name) {
  try {
    return JSON.parse(localStorage.getItem(name) || "[]");
  } catch {
    return memory.get(name) || [];
  }
}

function remember(name, list) {
  memory.set(name, list);
  try {
    localStorage.setItem(name, JSON.stringify(list));
  } catch { /* the page remembers it */ }
}

// --- what has been read: kept here until the depot has it
const BOX = "pack-read-" + token;
const waiting = () => remembered(BOX);
const keep = (list) => remember(BOX, list);
const forms = [...document.querySelectorAll("form.reading")];

function reads(form, sent) {
  const line = form.querySelector(".done");
  form.querySelector("button").hidden = true;
  line.hidden = false;
  line.textContent = sent ? line.dataset.done : line.dataset.waiting;
  form.closest("details").classList.add("read");
}

function count() {
  const line = document.getElementById("read-count");
  const done = document.querySelectorAll("#how details.read").length;
  const all = document.querySelectorAll("#how details").length;
  line.textContent = line.dataset.words.replace("##", all).replace("#", done);
}

async function send() {
  if (!navigator.onLine) return;
  for (const one of waiting()) {
    try {
      const answer = await fetch(home + "read/", {
        method: "POST", headers: { "X-Requested-With": "pack" }, body: new URLSearchParams(one),
      });
      if (!answer.ok) return; // kept: the desk may be away for a moment, or the link has ended
    } catch {
      return;
    }
    keep(waiting().filter((other) => other.points !== one.points));
    for (const form of forms) if (form.elements.points.value === one.points) reads(form, true);
  }
}

for (const form of forms) {
  const points = form.elements.points.value;
  if (waiting().some((one) => one.points === points)) reads(form, false);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    keep([...waiting().filter((one) => one.points !== points), { points, at: new Date().toISOString() }]);
    reads(form, false);
    count();
    form.closest("details").querySelector("summary").focus();
    send();
  });
}
count();

// --- the list for the return remembers its ticks
const TICKS = "pack-ticks-" + token;
const ticked = new Set(remembered(TICKS));
for (const box of document.querySelectorAll(".checklist input")) {
  box.checked = ticked.has(box.name);
  box.addEventListener("change", () => {
    if (box.checked) ticked.add(box.name);
    else ticked.delete(box.name);
    remember(TICKS, [...ticked]);
  });
}

// --- bright or dark
const themes = [...document.querySelectorAll("[data-theme-is]")];

function lit() {
  const now = document.documentElement.dataset.theme || "";
  for (const button of themes) button.setAttribute("aria-pressed", String(button.dataset.themeIs === now));
}
for (const button of themes) {
  button.parentElement.hidden = false;
  button.addEventListener("click", () => {
    const theme = button.dataset.themeIs;
    if (theme) document.documentElement.dataset.theme = theme;
    else delete document.documentElement.dataset.theme;
    try {
      localStorage.setItem("pack-theme", theme);
    } catch { /* until the page is turned */ }
    lit();
  });
}
lit();

// --- the copy on this phone
function tell(words) {
  state.textContent = words;
  state.hidden = !words;
}

async function settle() {
  if (!("serviceWorker" in navigator)) return;
  await navigator.serviceWorker.register(worker, { scope: "/pack/" });
  const ready = await navigator.serviceWorker.ready;
  const photos = [...document.querySelectorAll("img.photo")].map((one) => one.getAttribute("src"));
  const saves = navigator.connection && navigator.connection.saveData;
  const others = saves ? [] : main.dataset.keep.split(" ").filter((one) => one !== location.pathname);
  const channel = new MessageChannel();
  // A phone can think that it has a signal and reach nobody; the worker has tried.
  channel.port1.onmessage = ({ data }) => {
    if (!data.reached || !navigator.onLine) tell(state.dataset.away);
    else if (data.held) tell(state.dataset.ready);
  };
  const told = { keep: [location.pathname, ...others, ...photos], last: { home, vehicle } };
  ready.active.postMessage(told, [channel.port2]);
}

function online() {
  if (!navigator.onLine) {
    tell(state.dataset.away);
    return;
  }
  if (state.textContent === state.dataset.away) tell("");
  send();
}
// One look a sitting, however often a page is turned or a language changed.
function look() {
  const name = "pack-looked-" + token;
  try {
    if (sessionStorage.getItem(name)) return;
    sessionStorage.setItem(name, "yes");
  } catch { /* then every page counts */ }
  if (navigator.onLine) fetch(home + "looked/", { method: "POST", keepalive: true }).catch(() => {});
}

addEventListener("online", online);
addEventListener("offline", online);
online();
look();
settle().catch(() => {});
