// What this tablet knows of one walk: its own ticks and those of others, put together by their id, and the order of
// the stops. It is kept in the browser, so that a reload or a flat battery loses nothing.

const PREFIX = "keyhook-walk:";
const KEPT_MS = 14 * 24 * 3600 * 1000;

export class Memory {
  constructor(hire, ticks) {
    this.key = PREFIX + hire;
    this.held = { ticks: [], mine: [], order: null, place: "", available: null, pausedMs: 0, pausedSince: null, sealed: null };
    try {
      Object.assign(this.held, JSON.parse(localStorage.getItem(this.key) || "{}"));
    } catch { /* unreadable or forbidden: begin with what the page brought */ }
    this.merge(ticks);
    forgetOld(this.key);
  }

  // Takes ticks from anywhere; returns those that were not known yet.
  merge(ticks) {
    const known = new Set(this.held.ticks.map((tick) => tick.uid));
    const fresh = ticks.filter((tick) => !known.has(tick.uid));
    this.held.ticks.push(...fresh);
    this.held.ticks.sort((one, other) => Date.parse(one.at) - Date.parse(other.at) || (one.uid < other.uid ? -1 : 1));
    if (fresh.length) this.keep();
    return fresh;
  }

  add(tick) {
    this.held.mine.push(tick.uid);
    this.merge([tick]);
  }

  set(changes) {
    Object.assign(this.held, changes);
    this.keep();
  }

  keep() {
    try {
      localStorage.setItem(this.key, JSON.stringify({ ...this.held, keptAt: Date.now() }));
    } catch { /* full or forbidden: the outbox still has every tick */ }
  }

  // The later tick of a point counts, whichever tablet it came from.
  points() {
    const found = new Map();
    for (const tick of this.held.ticks) {
      if (tick.kind === "open") found.delete(tick.point);
      else if (tick.kind !== "note" && tick.kind !== "started") found.set(tick.point, tick);
    }
    return found;
  }

  notes(point) {
    return this.held.ticks.filter((tick) => tick.kind === "note" && tick.point === point).map((tick) => tick.note);
  }

  startedAt() {
    const first = this.held.ticks.find((tick) => tick.kind === "started");
    return first ? Date.parse(first.at) : null;
  }

  pausedMs() {
    return this.held.pausedMs + (this.held.pausedSince ? Date.now() - this.held.pausedSince : 0);
  }

  // Seconds since the start, pauses left in: they are told apart when the rest is planned again.
  elapsedS() {
    const start = this.startedAt();
    return start === null ? 0 : Math.max(0, (Date.now() - start) / 1000);
  }
}

function forgetOld(mine) {
  try {
    for (const key of Object.keys(localStorage)) {
      if (!key.startsWith(PREFIX) || key === mine) continue;
      const held = JSON.parse(localStorage.getItem(key) || "{}");
      if (!(Date.now() - held.keptAt < KEPT_MS)) localStorage.removeItem(key);
    }
  } catch { /* nothing to forget */ }
}
