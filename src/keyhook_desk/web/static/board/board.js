// The Day board: pick a task, grab it with mouse, finger or arrow keys, see what a move does before it is kept.
// Without this file every bar is a link and every move is a form.

const STEP_MIN = 5, HOLD_MS = 350, WAIT_MS = 220, PX_PER_MIN = 4, TOUCH_SLIP_PX = 8;
const sheet = document.getElementById('task');
const said = document.getElementById('said');
let grab = null; // {bar, rect, task, from, start, person, row, x, y}
let waiting = 0;
let dropped = false; // a drag ends with a click that nobody meant

const say = words => { if (said) said.textContent = words; };
const chart = () => document.querySelector('.chart');
const table = () => document.querySelector('.lines');
const barOf = target => target.closest?.('a.bar');
const mayMove = bar => table()?.dataset.moves === 'yes' && sheet && !bar.classList.contains('begun');

function clock(minute) {
  const [hour, minutes] = table().dataset.first.split(':').map(Number);
  const first = Number(table().dataset.firstMin || hour * 60 + minutes);
  const whole = hour * 60 + minutes + (minute - first);
  return `${String(Math.floor(whole / 60)).padStart(2, '0')}:${String(whole % 60).padStart(2, '0')}`;
}

// ------------------------------------------------------------ the sheet

let asked = 0;
async function show(task, wish) {
  const number = ++asked;
  const address = new URL(table()?.dataset.task || sheet.dataset.from, location.href);
  address.searchParams.set('task', task);
  address.searchParams.set('by', table()?.dataset.by || 'person');
  for (const [key, value] of Object.entries(wish || {})) address.searchParams.set(key, value);
  const answer = await fetch(address, {headers: {'HX-Request': 'true'}});
  if (number !== asked || !answer.ok) return;
  sheet.innerHTML = await answer.text();
  sheet.classList.remove('empty-sheet');
  if (!wish) return;
  const effect = sheet.querySelector('.effect, .slips');
  if (effect) say(effect.innerText.replace(/\s+/g, ' ').slice(0, 300));
}

function pick(bar) {
  for (const other of document.querySelectorAll('.bar.chosen')) other.classList.remove('chosen');
  bar.classList.add('chosen');
  return show(bar.dataset.task);
}

function close() {
  asked++;
  sheet.classList.add('empty-sheet');
  sheet.innerHTML = '';
  for (const other of document.querySelectorAll('.bar.chosen')) other.classList.remove('chosen');
}

// ------------------------------------------------------------ grabbing

function take(bar, point) {
  const rects = [...bar.children].filter(one => one.tagName !== 'title');
  grab = {
    bar, parts: rects, task: bar.dataset.task, from: Number(bar.dataset.start), start: Number(bar.dataset.start),
    row: bar.closest('tr'), home: bar.closest('tr'), x: point?.clientX ?? 0, y: point?.clientY ?? 0,
  };
  bar.classList.add('grabbed');
  document.body.classList.add('grabbing');
}

function place() {
  const dx = (grab.start - grab.from) * PX_PER_MIN;
  const dy = grab.row.getBoundingClientRect().top - grab.home.getBoundingClientRect().top;
  for (const part of grab.parts) part.setAttribute('transform', `translate(${dx} ${dy})`);
  const who = grab.row !== grab.home ? `, ${grab.row.querySelector('.whose')?.textContent ?? ''}` : '';
  say(`${clock(grab.start)}${who}`);
}

function ask() {
  clearTimeout(waiting);
  const wish = wishOf();
  waiting = setTimeout(() => { if (grab) show(grab.task, wish); }, WAIT_MS);
}

function wishOf() {
  const wish = {start: clock(grab.start)};
  const people = grab.bar.dataset.people.split(' ').filter(Boolean);
  const own = grab.home.dataset.person;
  if (grab.row !== grab.home && grab.row.dataset.person) {
    wish.person = grab.row.dataset.person;
    if (own) wish.instead_of = own;
  } else if (people.length === 1) wish.person = people[0];
  return wish;
}

function letGo(words) {
  if (!grab) return;
  clearTimeout(waiting);
  for (const part of grab.parts) part.removeAttribute('transform');
  grab.bar.classList.remove('grabbed');
  document.body.classList.remove('grabbing');
  const bar = grab.bar;
  grab = null;
  if (words) say(words);
  return bar;
}

function otherRow(step) {
  if (table().dataset.by !== 'person') return;
  const rows = [...table().tBodies[0].rows].filter(row => row.dataset.person);
  const next = rows[rows.indexOf(grab.row) + step];
  if (next) grab.row = next;
}

async function keep() {
  clearTimeout(waiting);
  await show(grab.task, wishOf());
  const button = sheet.querySelector('.effect button[value="move"]');
  if (button) { button.click(); return; }
  sheet.querySelector('.effect button')?.focus();
}

document.addEventListener('keydown', event => {
  if (event.key === 'Escape' && (grab || (sheet && !sheet.classList.contains('empty-sheet')))) {
    const bar = grab ? letGo('Let go. It is where it was.') : document.querySelector('.bar.chosen');
    close();
    bar?.focus();
    event.preventDefault();
    return;
  }
  const bar = barOf(event.target);
  if (!bar || !mayMove(bar)) return;
  const steps = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]}[event.key];
  if (steps && !event.ctrlKey && !event.metaKey && !event.altKey) {
    event.preventDefault();
    if (grab && grab.bar !== bar) letGo();
    if (!grab) take(bar);
    grab.start += steps[0] * STEP_MIN;
    if (steps[1]) otherRow(steps[1]);
    place();
    ask();
  } else if (event.key === 'Enter' && grab) {
    event.preventDefault();
    keep();
  }
});

document.addEventListener('click', event => {
  const bar = barOf(event.target);
  if (bar && sheet && !event.ctrlKey && !event.metaKey && !event.shiftKey) {
    event.preventDefault();
    if (!grab && !dropped) pick(bar);
  } else if (event.target.closest?.('a.drop')) {
    event.preventDefault();
    const back = letGo('Let go. It is where it was.') || document.querySelector('.bar.chosen');
    close();
    back?.focus();
  }
});

document.addEventListener('toggle', event => { // what opens below the edge of the sheet is brought into it
  if (event.target.open && event.target.matches?.('#task details')) {
    event.target.scrollIntoView({block: 'nearest'});
    event.target.querySelector('textarea')?.focus();
  }
}, true);

document.addEventListener('submit', event => {
  const form = event.target.closest?.('form[data-try]');
  if (!form) return;
  event.preventDefault();
  const fields = Object.fromEntries(new FormData(form));
  show(fields.task, {start: fields.start, ...(fields.person ? {person: fields.person} : {})});
});

// ------------------------------------------------------------ mouse, pen, finger

let press = null;
document.addEventListener('pointerdown', event => {
  const bar = barOf(event.target);
  if (!bar || event.button || !mayMove(bar)) return;
  if (grab) letGo();
  press = {bar, event, moved: false};
  if (event.pointerType === 'touch') press.timer = setTimeout(() => press && begin(press.event), HOLD_MS);
});

function begin(event) {
  take(press.bar, event);
  press.holds = true;
  navigator.vibrate?.(15);
}

document.addEventListener('pointermove', event => {
  if (!press) return;
  const dx = event.clientX - press.event.clientX, dy = event.clientY - press.event.clientY;
  if (!press.holds) {
    if (Math.hypot(dx, dy) < TOUCH_SLIP_PX) return;
    if (press.event.pointerType === 'touch') { clearTimeout(press.timer); press = null; return; }
    begin(press.event);
  }
  event.preventDefault();
  press.moved = true;
  grab.start = grab.from + Math.round(dx / PX_PER_MIN / STEP_MIN) * STEP_MIN;
  if (table().dataset.by === 'person') {
    const under = [...table().tBodies[0].rows].find(row => {
      const box = row.getBoundingClientRect();
      return row.dataset.person && box.top <= event.clientY && event.clientY < box.bottom;
    });
    grab.row = under || grab.home;
  }
  place();
});

function release() {
  if (!press) return;
  clearTimeout(press.timer);
  const was = press;
  press = null;
  if (!was.holds || !grab) return;
  dropped = true;
  setTimeout(() => { dropped = false; }, 60);
  if (!was.moved || (grab.start === grab.from && grab.row === grab.home)) { letGo(); pick(was.bar); return; }
  show(grab.task, wishOf());
  grab.bar.focus({preventScroll: true});
}
document.addEventListener('pointerup', release);
document.addEventListener('pointercancel', () => { if (press) { clearTimeout(press.timer); press = null; letGo(); } });
document.addEventListener('touchmove', event => { if (press?.holds) event.preventDefault(); }, {passive: false});
document.addEventListener('dragstart', event => { if (barOf(event.target)) event.preventDefault(); });

// ------------------------------------------------------------ what others do

let scrolled = null, open = [];
document.addEventListener('htmx:beforeRequest', event => {
  if (event.target.id === 'live' && (grab || press)) event.preventDefault();
});
document.addEventListener('htmx:beforeSwap', event => {
  if (event.target.id !== 'live') return;
  if (grab || press) { event.detail.shouldSwap = false; return; } // asked for before; it is asked for again
  const box = chart();
  scrolled = box && [box.scrollLeft, box.scrollTop];
  open = [...event.target.querySelectorAll('details[open]')].map(one => one.querySelector('summary').textContent);
});
document.addEventListener('htmx:afterSettle', () => {
  const box = chart();
  if (box && scrolled) [box.scrollLeft, box.scrollTop] = scrolled;
  for (const one of document.querySelectorAll('#live details')) {
    if (open.includes(one.querySelector('summary').textContent)) one.open = true;
  }
  scrolled = null;
  open = [];
});

// the hours before now are scrolled past at the start
const now = document.querySelector('.hours text.now');
if (now && chart()) chart().scrollLeft = Math.max(0, Number(now.getAttribute('x')) - 60);
