// A person's own list: marks go through the outbox, so they work without a signal and reach the desk exactly once.
// What was told here shows at once; the list itself is fetched again when the plan or anybody's marks have changed.

import { drop, entries, keepThisPage, send } from "../offline/outbox.js";

const LOOK_MS = 15000, PHOTO_PX = 1600, NO_SIGNAL_MS = 1500;
const list = document.getElementById("list");
const link = document.getElementById("link"), refused = document.getElementById("refused");
const SAID = { started: "Started", done: "Done", problem: "Problem told" };

list.addEventListener("submit", async (event) => {
  event.preventDefault();
  const form = event.target, button = event.submitter, data = new FormData(form);
  const kind = button.value, note = kind === "problem" ? data.get("note").trim() : "";
  if (kind === "problem" && !note && !data.get("photo")?.size) {
    form.querySelector("textarea").focus();
    return;
  }
  if (button.ariaBusy) return; // pressed twice
  button.ariaBusy = "true";
  const files = kind === "problem" && data.get("photo")?.size ? { photo: await smaller(data.get("photo")) } : {};
  const task = form.closest("[data-task]");
  try {
    await send(list.dataset.mark, { task: data.get("task"), kind, note, at: new Date().toISOString() }, files);
  } finally {
    button.ariaBusy = null;
  }
  showHere(task, kind, note);
  if (kind === "done") setTimeout(() => task.isConnected && openNext(), NO_SIGNAL_MS);
});

// Without a signal the list is not sent anew: the next task of it opens where it stands.
function openNext() {
  const next = list.querySelector(".later:not([data-told])");
  if (!next) return;
  next.open = true;
  next.scrollIntoView({ block: "center" });
}

// Shows a mark at once, before the desk has it.
function showHere(task, kind, note) {
  const line = document.createElement("li");
  line.textContent = `${SAID[kind]}${note ? `, ${note}` : ""}`;
  task.querySelector(".told").append(line);
  task.querySelector(".trouble").open = false;
  if (kind === "started") task.querySelector(".begin")?.remove();
  if (kind !== "done") return;
  task.querySelectorAll("button").forEach((button) => { button.disabled = true; });
  task.dataset.told = "done";
  if (task.matches(".later")) task.open = false;
}

// A photo as large as a screen is enough to see a problem by, and goes out over a weak signal.
async function smaller(file) {
  try {
    const picture = await createImageBitmap(file), share = Math.min(1, PHOTO_PX / Math.max(picture.width, picture.height));
    const canvas = new OffscreenCanvas(Math.round(picture.width * share), Math.round(picture.height * share));
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    return await canvas.convertToBlob({ type: "image/jpeg", quality: 0.8 });
  } catch {
    return file;
  }
}

async function look() {
  if (document.hidden || list.querySelector(".trouble[open]")) return;
  if ((await entries()).some((entry) => !entry.said && entry.url === list.dataset.mark)) return;
  const stamp = list.querySelector("[data-stamp]")?.dataset.stamp ?? "";
  const answer = await fetch(`${list.dataset.state}?seen=${stamp}`).catch(() => null);
  if (!answer?.ok || answer.status === 204 || answer.redirected) return;
  const open = [...list.querySelectorAll(".later[open]")].map((one) => one.dataset.task);
  list.innerHTML = await answer.text();
  list.querySelectorAll(".later").forEach((one) => { one.open = open.includes(one.dataset.task); });
  keepThisPage();
}

addEventListener("outbox:changed", ({ detail }) => {
  link.classList.toggle("waits", detail.waiting > 0);
  link.textContent = detail.waiting ? `${detail.waiting} kept on this phone. Sent as soon as there is a signal.` : "";
  refused.replaceChildren(...detail.refused.filter((entry) => entry.url === list.dataset.mark).map(asLine));
  if (!detail.waiting) look();
});

function asLine(entry) {
  const line = document.createElement("li"), seen = document.createElement("button");
  seen.textContent = "Seen";
  seen.className = "quiet";
  seen.addEventListener("click", () => drop(entry.uid));
  line.append(`${SAID[entry.fields.kind] ?? "A mark"}: ${entry.said} `, seen);
  return line;
}

async function showWaiting() {
  for (const entry of await entries()) {
    const task = [...list.querySelectorAll("[data-task]")].find((one) => one.dataset.task === entry.fields.task);
    if (!entry.said && entry.url === list.dataset.mark && task) showHere(task, entry.fields.kind, entry.fields.note);
  }
  if (list.querySelector(".next-up[data-told]")) openNext();
}

showWaiting();
keepThisPage();
setInterval(look, LOOK_MS);
