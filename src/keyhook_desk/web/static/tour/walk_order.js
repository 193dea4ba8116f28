// The order of the stops on the page: read off it, joined with a plan made again, and shown.

const clock = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;

export function orderNow(sections) {
  return sections.filter((section) => section.dataset.station).map((section) => ({
    station: section.dataset.station,
    name: section.querySelector("[data-name]").textContent,
    arrive_s: Number(section.dataset.arrive),
    talk_s: Number(section.dataset.talk),
    points: [...section.querySelectorAll(".point")].map((card) => card.dataset.id),
  }));
}

// What has been ticked stays where it is, unless the new plan brings it back; the new stops follow. A stop that goes
// on at the same station stays one stop.
export function joined(before, planned, kindOf) {
  const again = new Set(planned.flatMap((stop) => stop.points));
  const kept = before
    .map((stop) => ({ ...stop, points: stop.points.filter((name) => kindOf(name) && !again.has(name)) }))
    .filter((stop) => stop.points.length);
  const last = kept.at(-1), first = planned[0];
  if (!last || !first || last.station !== first.station) return [...kept, ...planned];
  const talk_s = Math.max(first.arrive_s + first.talk_s - last.arrive_s, 0);
  return [...kept.slice(0, -1), { ...last, talk_s, points: [...last.points, ...first.points] }, ...planned.slice(1)];
}

export function showOrder(root, order) {
  const cards = new Map([...root.querySelectorAll(".point")].map((card) => [card.dataset.id, card]));
  const spare = document.getElementById("spare"), pattern = document.getElementById("stop-pattern");
  spare.append(...cards.values());
  const sections = order.map((stop, n) => {
    const section = pattern.content.firstElementChild.cloneNode(true), heading = section.querySelector("h2");
    section.id = `s-${n + 1}`;
    heading.id = `h-${n + 1}`;
    section.setAttribute("aria-labelledby", heading.id);
    Object.assign(section.dataset, { station: stop.station, arrive: stop.arrive_s, talk: stop.talk_s });
    section.querySelector(".nr").textContent = String(n + 1);
    section.querySelector("[data-name]").textContent = stop.name;
    section.querySelector("[data-plan]").textContent = `${clock(stop.arrive_s)}, for ${clock(stop.talk_s)}`;
    section.querySelector(".points").append(...stop.points.map((name) => cards.get(name)).filter(Boolean));
    return section;
  });
  document.getElementById("stops").replaceChildren(...sections);
  showStrip(order);
}

function showStrip(order) {
  const strip = document.getElementById("strip"), ends = [...strip.children].slice(-2);
  const stops = order.map((stop, n) => {
    const line = ends[0].cloneNode(true), link = line.querySelector("a");
    link.setAttribute("href", `#s-${n + 1}`);
    link.querySelector(".nr").textContent = String(n + 1);
    link.querySelector(".sr").textContent = stop.name;
    return line;
  });
  strip.replaceChildren(...stops, ...ends);
}
