// The walk: one stop at a time, ticked with or without a connection, planned again when there is one.

import { drop, keepThisPage, send } from "../offline/outbox.js";
import { Memory } from "./walk_memory.js";
import { Signature } from "./signature.js";
import { showOrder, orderNow, joined } from "./walk_order.js";

const root = document.getElementById("walk");
const by = (id) => document.getElementById(id);
const SAID = { told: "Shown", hirer_did: "They did it themselves", skipped: "Passed over" };
const LOOK_MS = 20000, LATE_S = 60, HINT_S = 180;

const memory = new Memory(root.dataset.hire, JSON.parse(by("ticks").textContent));
const signature = new Signature(by("signature"));
let available = memory.held.available ?? Number(root.dataset.available);
let place = 0;

const sections = () => [...root.querySelectorAll("#stops > .stop, .stop.end")];
const pointsOf = (section) => [...section.querySelectorAll(".point")];
const clock = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;

// ---- ticking

async function tell(kind, point = "", note = "") {
  if (kind !== "started" && memory.startedAt() === null) await tell("started");
  const fields = { kind, point, note, at: new Date().toISOString() };
  const uid = await send(root.dataset.tick, fields);
  memory.add({ ...fields, uid, by: "" });
  draw();
}

root.addEventListener("submit", async (event) => {
  const form = event.target;
  if (form.id === "acknowledge" || form.method === "get") return;
  event.preventDefault();
  const point = form.elements.point.value;
  const kind = event.submitter?.name === "kind" ? event.submitter.value : form.elements.kind.value;
  const words = form.elements.note?.value.trim() ?? "";
  if (kind === "note" && !words) return;
  const button = event.submitter;
  if (button?.ariaBusy) return; // pressed twice
  if (button) button.ariaBusy = "true";
  try {
    await tell(kind, point, words);
  } finally {
    if (button) button.ariaBusy = null;
  }
  if (kind === "note") {
    form.reset();
    form.closest("details").open = false;
  } else {
    onward(form.closest(".point"), kind);
  }
});

// The page moves on under the finger: the second half of a double tap would tick what is said next.
root.addEventListener("click", (event) => {
  if (event.detail > 1 && event.target.closest(".point button")) event.preventDefault();
});

// The eye and the keyboard go to what is to be said next.
function onward(card, kind) {
  if (kind === "open") return card.querySelector(".told").focus();
  const open = pointsOf(sections()[place]).find((other) => !other.dataset.kind);
  if (!open) return by("next").focus({ preventScroll: false });
  open.scrollIntoView({ block: "center" });
  open.querySelector(".told").focus({ preventScroll: true });
}

// ---- what is seen

function draw() {
  const state = memory.points();
  for (const card of root.querySelectorAll(".point")) drawPoint(card, state.get(card.dataset.id));
  drawStrip();
  drawMust();
  drawClock();
}

function drawPoint(card, tick) {
  card.dataset.kind = tick?.kind ?? "";
  const line = card.querySelector("[data-done]");
  line.replaceChildren();
  if (tick) {
    const words = document.createElement("b");
    words.textContent = SAID[tick.kind];
    const rest = [tick.by, tick.kind === "skipped" && "must" in card.dataset ? "it must be said, so it stays in the plan" : ""];
    line.append(words, ` ${rest.filter(Boolean).join(", ")}`);
  }
  const notes = memory.notes(card.dataset.id).map((note) => Object.assign(document.createElement("li"), { textContent: note }));
  card.querySelector("[data-notes]").replaceChildren(...notes);
}

function drawStrip() {
  const links = [...by("strip").querySelectorAll("a")];
  sections().forEach((section, n) => {
    const cards = pointsOf(section), done = cards.filter((card) => card.dataset.kind).length;
    links[n].className = cards.length && done === cards.length ? "all" : done ? "part" : "";
    if (n === place) links[n].setAttribute("aria-current", "step");
    else links[n].removeAttribute("aria-current");
    const words = links[n].querySelector(".sr");
    words.textContent = `${section.querySelector("h2").innerText.replace(/\s+/g, " ")}${cards.length ? `, ${done} of ${cards.length} done` : ""}`;
  });
  links[place]?.scrollIntoView({ block: "nearest", inline: "center" });
}

function mustCards() {
  return [...root.querySelectorAll("#stops .point[data-must]")];
}

function drawMust() {
  const cards = mustCards();
  by("must-list").replaceChildren(...cards.map((card) => {
    const line = document.createElement("li"), box = document.createElement("span"), words = document.createElement("span");
    box.className = "box";
    box.setAttribute("aria-hidden", "true");
    const too = card.querySelector(".say-too");
    words.append(Object.assign(document.createElement("b"), { textContent: `${card.dataset.title}:` }), ` ${card.querySelector(".say").textContent}`);
    if (too) words.append(" ", Object.assign(document.createElement("span"), { className: "say-too", lang: too.lang, textContent: too.textContent }));
    const done = isShown(card);
    line.className = done ? "done" : "";
    line.append(box, words);
    const small = document.createElement("small");
    small.textContent = done ? SAID[card.dataset.kind] : "not shown";
    words.append(small);
    return line;
  }));
  const missing = cards.filter((card) => !isShown(card)).length;
  by("not-shown").hidden = !missing;
  by("not-shown-words").textContent = missing === 1
    ? "One point that must be said is not ticked. Go back and show it; signed now, it is written down as not shown."
    : `${missing} points that must be said are not ticked. Go back and show them; signed now, they are written down as not shown.`;
}

const isShown = (card) => card.dataset.kind === "told" || card.dataset.kind === "hirer_did";

function drawClock() {
  const started = memory.startedAt() !== null, elapsed = memory.elapsedS();
  by("begin").hidden = started;
  by("time-tools").hidden = !started;
  by("steps-bar").hidden = !started && place === 0;
  by("clock").textContent = clock(elapsed);
  by("clock-of").textContent = String(Math.round(available));
  const pace = by("pace"), section = sections()[place];
  const from = Number(section?.dataset.arrive), until = from + Number(section?.dataset.talk);
  const late = elapsed > until ? elapsed - until : Math.min(elapsed - from, 0);
  let words = "";
  if (memory.held.pausedSince) words = "paused";
  else if (started && Number.isFinite(until)) {
    if (late > LATE_S) words = `${Math.round(late / 60)} min behind`;
    else if (late < -LATE_S) words = `${Math.round(-late / 60)} min ahead`;
    else words = "on time";
  }
  if (pace.textContent !== words) pace.textContent = words;
  pace.classList.toggle("behind", late > LATE_S);
  if (late > HINT_S && !hinted) {
    hinted = true;
    by("time-tools").querySelector("details").open = true;
  }
}
let hinted = false;

// ---- going from stop to stop

function go(n, focus = true) {
  const all = sections();
  place = Math.min(Math.max(n, 0), all.length - 1);
  all.forEach((section, m) => section.classList.toggle("now", m === place));
  const section = all[place], numbers = new Set(pointsOf(section).map((card) => card.dataset.findIt));
  by("where").hidden = !section.dataset.station;
  for (const ring of by("where").querySelectorAll("[data-ring]")) ring.classList.toggle("lit", ring.dataset.ring === section.dataset.station);
  for (const mark of by("where").querySelectorAll("[data-find-it]")) {
    mark.classList.toggle("lit", numbers.has(mark.dataset.findIt));
    if (numbers.has(mark.dataset.findIt)) mark.parentNode.append(mark);
  }
  zoom(section);
  by("prev").disabled = place === 0;
  const next = all[place + 1];
  by("next").hidden = !next;
  by("next").textContent = next ? `Next: ${next.querySelector("[data-name]")?.textContent ?? next.querySelector("h2").lastChild.textContent.trim()}` : "";
  memory.set({ place: section.id });
  drawStrip();
  drawClock();
  if (focus) {
    scrollTo(0, 0);
    section.focus({ preventScroll: true });
  }
}

// On a phone the whole vehicle would be too small: the half round the stop is shown.
const picture = by("where").querySelector("svg"), whole = picture.viewBox.baseVal, [fullWidth, fullHeight] = [whole.width, whole.height];
const narrow = matchMedia("(max-width: 44rem)");
narrow.addEventListener("change", () => zoom(sections()[place]));
function zoom(section) {
  const ring = by("where").querySelector(`[data-ring="${section.dataset.station}"] circle`);
  const share = narrow.matches && ring ? 0.56 : 1, width = fullWidth * share;
  const left = ring ? Math.min(Math.max(Number(ring.getAttribute("cx")) - width / 2, 0), fullWidth - width) : 0;
  picture.setAttribute("viewBox", `${left.toFixed(1)} 0 ${width.toFixed(1)} ${fullHeight}`);
}

function goTo(hash) {
  const target = hash ? by(hash.slice(1)) : null, section = target?.closest(".stop");
  if (!section) return false;
  go(sections().indexOf(section));
  if (target !== section) target.scrollIntoView({ block: "center" });
  return true;
}

root.addEventListener("click", (event) => {
  const link = event.target.closest('a[href^="#"]');
  if (link && goTo(link.hash)) event.preventDefault();
});
by("prev").addEventListener("click", () => go(place - 1));
by("next").addEventListener("click", () => go(place + 1));
by("start").addEventListener("click", async () => {
  await tell("started");
  sections()[place].querySelector(".told")?.focus({ preventScroll: true });
});

// ---- time and planning again

const leftMin = () => Math.max(0, Math.round(available - memory.elapsedS() / 60));
const setLeft = (minutes) => {
  by("left").value = String(Math.max(0, minutes));
};
by("time-tools").addEventListener("toggle", () => setLeft(leftMin()), true);
// An empty field is no number; a comma is one way to write a point.
const readLeft = () => Number(by("left").value.trim().replace(",", ".") || NaN);
by("less").addEventListener("click", () => setLeft((readLeft() || 0) - 5));
by("more").addEventListener("click", () => setLeft((readLeft() || 0) + 5));
by("pause").addEventListener("click", () => {
  const since = memory.held.pausedSince;
  memory.set(since ? { pausedSince: null, pausedMs: memory.held.pausedMs + Date.now() - since } : { pausedSince: Date.now() });
  drawPause();
  drawClock();
});
function drawPause() {
  by("pause").setAttribute("aria-pressed", String(Boolean(memory.held.pausedSince)));
  by("pause").textContent = memory.held.pausedSince ? "Let the clock run" : "Pause the clock";
}

by("replan").addEventListener("click", async () => {
  const left = readLeft();
  if (!Number.isFinite(left) || left < 0) {
    by("replanned").textContent = `The minutes left cannot be this (saw ${by("left").value.trim() || "nothing"}). Give a number of 0 or more.`;
    return;
  }
  const elapsed = memory.elapsedS(), state = memory.points();
  const inOrder = [...state.values()].filter((tick) => byId(tick.point));
  const query = new URLSearchParams({
    elapsed_s: String(Math.round(elapsed)), paused_s: String(Math.min(Math.round(memory.pausedMs() / 1000), Math.round(elapsed))), left_min: String(left),
    at: sections()[place].dataset.station ?? "",
    done: inOrder.filter((tick) => tick.kind !== "skipped").map((tick) => tick.point).join(","),
    skipped: inOrder.filter((tick) => tick.kind === "skipped").map((tick) => tick.point).join(","),
  });
  by("replan").disabled = true;
  by("replanned").textContent = "Working it out …";
  try {
    const answer = await fetch(`${root.dataset.again}?${query}`, { headers: { Accept: "application/json" } });
    const told = await answer.json();
    if (!answer.ok) throw Object.assign(new Error(told.said), { said: told.said });
    available = elapsed / 60 + left;
    memory.set({ order: joined(orderNow(sections()), told.stops, (name) => byId(name)?.dataset.kind), available });
    showOrder(root, memory.held.order);
    draw();
    const here = sections().findIndex((section) => pointsOf(section).some((card) => !card.dataset.kind));
    go(here < 0 ? sections().length - 2 : here);
    by("replanned").textContent = told.said.join(" ");
  } catch (trouble) {
    by("replanned").textContent = trouble.said ?? "No connection: the order stays as it is, and nothing is lost. Try again when there is one.";
  } finally {
    by("replan").disabled = false;
  }
});
const byId = (name) => document.getElementById(`p-${name}`);

// ---- acknowledging

by("clear").addEventListener("click", () => signature.clear());
const nameField = by("acknowledge").elements.name;
nameField.addEventListener("input", () => nameField.setCustomValidity(!nameField.value || nameField.value.trim() ? "" : "Type the name of who acknowledges."));
by("acknowledge").addEventListener("submit", async (event) => {
  event.preventDefault();
  const cards = mustCards();
  const asked = [...by("questions").children].map((line) => ({
    point: line.dataset.point,
    text: `${line.querySelector(".point-title").textContent}: ${line.querySelector(".say").textContent}`,
    answer: line.querySelector("input:checked")?.value ?? "again",
  }));
  const uid = await send(root.dataset.handOver, {
    name: nameField.value.trim(),
    signature: signature.path(),
    shown: JSON.stringify(cards.map((card) => ({ id: card.dataset.id, text: `${card.dataset.title}: ${card.querySelector(".say").textContent}`, how: isShown(card) ? card.dataset.kind : "" }))),
    asked: JSON.stringify(asked),
    caution: by("caution").textContent,
    at: new Date().toISOString(),
    minutes: String(Math.round(memory.elapsedS() / 60)),
  });
  memory.set({ sealed: uid });
  drawSealed([]);
  look();
});

// What the desk refused is not written down: it says why, and they sign again.
function unseal() {
  memory.set({ sealed: null });
  by("acknowledge").classList.remove("sealed");
  by("sealed").hidden = true;
}

function drawSealed(signed) {
  const mine = signed.find((entry) => entry.uid === memory.held.sealed), other = signed[0];
  if (!memory.held.sealed && !other) return;
  const words = by("sealed");
  words.hidden = false;
  if (memory.held.sealed) by("acknowledge").classList.add("sealed");
  const said = mine
    ? `Acknowledged and written down as entry ${mine.number}. Good travels.`
    : memory.held.sealed
      ? "Acknowledged, and kept on this tablet. It is sent by itself as soon as there is a connection."
      : `Already acknowledged on another tablet, entry ${other.number}.`;
  if (words.textContent !== said) words.textContent = said;
}

// ---- other tablets and the connection

async function look() {
  let told;
  try {
    const answer = await fetch(root.dataset.state, { headers: { Accept: "application/json" } });
    if (!answer.ok || answer.redirected) return;
    told = await answer.json();
  } catch {
    return; // no connection: everything is kept, and the next look comes by itself
  }
  const fresh = memory.merge(told.ticks).filter((tick) => !memory.held.mine.includes(tick.uid));
  drawSealed(told.signed);
  const shown = fresh.filter((tick) => tick.kind in SAID);
  if (shown.length) {
    const who = [...new Set(shown.map((tick) => tick.by))].join(" and ");
    const what = shown.length === 1 ? "one point" : `${shown.length} points`;
    by("kind-word").textContent = `Another tablet is on this tour too: ${who} has ticked ${what}, and it counts here as well. Nothing is said twice.`;
    by("kind-word").hidden = false;
  }
  if (fresh.length) draw();
}

function drawLink() {
  const words = [], { waiting, refused, others } = box;
  if (!navigator.onLine) words.push("No connection. Everything is kept on this tablet and sent by itself later; the order of the stops stays.");
  if (waiting) words.push(waiting === 1 ? "One entry waits to be sent." : `${waiting} entries wait to be sent.`);
  if (others) words.push(`${others} of somebody else wait until they log in here again.`);
  const said = words.join(" ");
  if (by("link").textContent !== said) by("link").textContent = said;
  by("refused").hidden = !refused.length;
  by("refused-words").textContent = [...new Set(refused.map((entry) => entry.said))].join(" ");
}

let box = { waiting: 0, refused: [], others: 0 };
addEventListener("outbox:changed", (event) => {
  const before = box.waiting;
  box = event.detail;
  if (box.refused.some((entry) => entry.uid === memory.held.sealed)) unseal();
  drawLink();
  if (before && !box.waiting) look();
});
for (const change of ["online", "offline"]) addEventListener(change, drawLink);
by("seen").addEventListener("click", async () => {
  for (const entry of box.refused) await drop(entry.uid);
});
addEventListener("online", look);
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && look());
setInterval(() => document.visibilityState === "visible" && look(), LOOK_MS);
setInterval(drawClock, 1000);

// ---- begin

document.documentElement.classList.add("js");
by("signing").hidden = false;
if (memory.held.order) showOrder(root, memory.held.order);
draw();
drawPause();
drawSealed([]);
drawLink();
setLeft(leftMin());
if (!goTo(location.hash)) go(Math.max(0, sections().findIndex((section) => section.id === memory.held.place)), false);
look();
keepThisPage();
