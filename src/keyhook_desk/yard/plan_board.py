"""The board of a plan as lines and bars: where each stands in pixels, what it says, how it is going."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from keyhook.turnaround.clock import Clock
from keyhook.turnaround.plan import PlannedTask, vehicle_under
from keyhook.turnaround.recount import leaves_at
from keyhook_desk.yard.models import WorkMark
from keyhook_desk.yard.plan_changes import first_name
from keyhook_desk.yard.plan_overs import percent_of, verdict_of
from keyhook_desk.yard.plan_reading import Laid

#: Pixels of a minute; height of a bar, gap below it, room above the first; mean width of a letter; where flags turn.
PX, BAR, GAP, TOP = 4.0, 34, 6, 22
LETTER, TURNS_AT = 6.9, 160
#: Half the width of an hour in figures [px]; rows in which promises stand above the lines of people.
HALF_HOUR_WORD, PROMISE_ROWS = 18.0, 2
#: The shapes of the signs of the desk, as letters.
SHAPES = {"fits": "●", "tight": "▲", "over": "■"}
#: Width of the word for now, and of a bar with room for a sign [px].
NOW_WIDTH, SIGN = 84.0, 18.0
HOUR = 60


@dataclass(frozen=True)
class Bar:
    """One task on the board."""

    key: str
    task: str
    x: float
    y: int
    width: float
    words: str
    whole: str
    start: str
    end: str
    start_min: int
    who: str
    people: str
    vehicle: str
    state: str
    pinned: bool
    begun: bool

    @property
    def text_x(self) -> float:
        """Where the words begin."""
        return self.x + 5


@dataclass(frozen=True)
class Span:
    """A stretch of a line that is no task: a break, an absence, the run of one vehicle."""

    x: float
    width: float
    kind: str
    words: str = ""

    @property
    def end(self) -> float:
        """Where it ends."""
        return round(self.x + self.width, 1)


@dataclass(frozen=True)
class Flag:
    """A moment on a line: a return or a promise."""

    x: float
    kind: str
    words: str
    to_left: bool = False


@dataclass(frozen=True)
class Promised:
    """A promise on the board: where, the row of its words (none where there is no room), how surely it holds."""

    x: float
    row: int
    words: str
    verdict: str


@dataclass
class Line:
    """One line of the board, of a person or a vehicle."""

    key: str
    name: str
    says: str
    is_vehicle: bool
    bars: list[Bar] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)
    flags: list[Flag] = field(default_factory=list)
    runs: list[Span] = field(default_factory=list)
    departure: str = ""
    height: int = TOP + BAR + GAP


@dataclass(frozen=True)
class Board:
    """The whole board: its hours with their pixels, now, the lines, and the promises that go across all of them."""

    width: float
    hours: tuple[tuple[float, str], ...]
    first_min: int
    now_x: float | None
    now: str
    lines: tuple[Line, ...]
    by: str
    promises: tuple[Promised, ...] = ()

    @property
    def labels(self) -> tuple[tuple[float, str], ...]:
        """The hours that are written out: those that the word for now does not cover."""
        now = self.now_middle
        shown = (one for one in self.hours if now is None or abs(one[0] - now) > NOW_WIDTH)
        return tuple((min(x, self.width - HALF_HOUR_WORD), hour) for x, hour in shown)

    @property
    def now_middle(self) -> float | None:
        """The middle of the word for now, within the board."""
        if self.now_x is None:
            return None
        return min(max(self.now_x, NOW_WIDTH / 2 + 1), self.width - NOW_WIDTH / 2 - 1)

    @property
    def now_left(self) -> float:
        """Where the ground under the word for now begins."""
        return (self.now_middle or 0) - NOW_WIDTH / 2


@dataclass(frozen=True)
class _Axis:
    first: int
    last: int
    clock: Clock

    def x(self, minute: float) -> float:
        return round((min(max(minute, self.first), self.last) - self.first) * PX, 1)

    def at(self, minute: int) -> str:
        return self.clock.says(minute)


def board_of(laid: Laid, clock: Clock, marks: Sequence[WorkMark], now_min: int, by: str) -> Board:
    """Return the board of a plan by ``vehicle`` or by ``person``."""
    axis = _axis(laid, clock)
    states = states_of(laid, marks, now_min, clock)
    lines = _by_vehicle(laid, axis, states) if by == "vehicle" else _by_person(laid, axis, states)
    hours = tuple((axis.x(minute), axis.at(minute)) for minute in range(axis.first, axis.last + 1, HOUR))
    now_x = axis.x(now_min) if axis.first <= now_min <= axis.last else None
    promises = _promises(laid, axis) if by == "person" else ()
    return Board(axis.x(axis.last), hours, axis.first, now_x, axis.at(now_min), tuple(lines), by, promises)


def _promises(laid: Laid, axis: _Axis) -> tuple[Promised, ...]:
    served = [one for one in laid.problem.departures if laid.plan.vehicle_of.get(one.id)]
    found, free = [], [0.0] * PROMISE_ROWS
    for one in sorted(served, key=lambda one: (one.promised_min, one.id)):
        x, (verdict, risk) = axis.x(one.promised_min), _risk(laid, one.id)
        words = f"{laid.plan.vehicle_of[one.id]} {risk}".strip()
        row = next((number for number, taken in enumerate(free) if taken <= x), None)
        if row is not None:
            free[row] = x + len(words) * LETTER + 6
        found.append(Promised(x, row or 0, words if row is not None else "", verdict))
    return tuple(found)


def _risk(laid: Laid, departure: str) -> tuple[str, str]:
    """Return how surely a hand-over is on time: the verdict, and shape with figure; nothing while nobody knows."""
    chance = laid.figures.get("departures", {}).get(departure)
    if chance is None:
        return "unknown", ""
    verdict, _ = verdict_of(percent_of(chance))
    return verdict, f"{SHAPES[verdict]} {percent_of(chance)} %"


def states_of(laid: Laid, marks: Sequence[WorkMark], now_min: int, clock: Clock) -> dict[str, str]:
    """Return how tasks go: ``done``, ``started``, ``problem``, ``late``, or ``unmarked`` when one should be over."""
    found: dict[str, str] = {}
    for planned in laid.plan.tasks:
        if laid.problem.task_by_id[planned.task].fixed is None and planned.end_min <= now_min:
            found[planned.task] = "unmarked"
    for mark in marks:
        if found.get(mark.task) == "done" and mark.kind != WorkMark.Kind.PROBLEM:
            continue
        found[mark.task] = mark.kind
        planned_task = laid.plan.by_task.get(mark.task)
        over = planned_task is not None and clock.minute(mark.at) < planned_task.end_min <= now_min
        if mark.kind == WorkMark.Kind.STARTED and over:
            found[mark.task] = "late"
    return found


def _axis(laid: Laid, clock: Clock) -> _Axis:
    starts = [one.start_min for one in laid.plan.tasks] or [laid.problem.opening_min]
    ends = [one.end_min for one in laid.plan.tasks] or [laid.problem.closing_min]
    ends += [departure.promised_min for departure in laid.problem.departures]
    starts += [vehicle.arrives_min for vehicle in laid.problem.vehicles if vehicle.arrives_min > 0]
    return _Axis(min(starts) // HOUR * HOUR, -(-(max(ends) + 1) // HOUR) * HOUR, clock)


# ---------------------------------------------------------------- lines


def _by_person(laid: Laid, axis: _Axis, states: Mapping[str, str]) -> list[Line]:
    lines = []
    for person in laid.problem.people:
        mine = sorted((one for one in laid.plan.tasks if person.id in one.people), key=lambda one: one.start_min)
        minutes = sum(one.end_min - one.start_min for one in mine)
        says = f"{axis.at(person.shift[0])} to {axis.at(person.shift[1])}, {len(mine)} tasks, {hours(minutes)}"
        line = Line(person.id, person.name or person.id, says, is_vehicle=False)
        line.bars = [_bar(laid, axis, states, one, TOP, "person", person.id) for one in mine]
        line.runs = _runs(line.bars)
        line.spans = [Span(axis.x(span[0]), axis.x(span[1]) - axis.x(span[0]), "away", "away") for span in person.away]
        line.spans += _off(axis, person.shift)
        for rest in laid.plan.breaks:
            if rest.person == person.id:
                end = rest.start_min + person.breaks[rest.index].length_min
                x = axis.x(rest.start_min)
                line.spans.append(Span(x, axis.x(end) - x, "break", "break"))
        lines.append(line)
    lines.append(_without_hands(laid, axis, states))
    return [line for line in lines if line.bars or line.key]


def _off(axis: _Axis, shift: tuple[int, int]) -> list[Span]:
    before, after = axis.x(shift[0]), axis.x(shift[1])
    spans = [Span(0, before, "off"), Span(after, axis.x(axis.last) - after, "off")]
    return [span for span in spans if span.width > 0]


def _without_hands(laid: Laid, axis: _Axis, states: Mapping[str, str]) -> Line:
    line = Line("", "Nobody's hands", "the hirer's own time", is_vehicle=False)
    mine = [one for one in laid.plan.tasks if not one.people]
    line.bars, lanes = _packed(laid, axis, states, mine, "person")
    line.height = TOP + lanes * (BAR + GAP)
    return line


def _by_vehicle(laid: Laid, axis: _Axis, states: Mapping[str, str]) -> list[Line]:
    of: dict[str, list[PlannedTask]] = {}
    for one in laid.plan.tasks:
        vehicle = vehicle_under(laid.problem.task_by_id[one.task], laid.plan.vehicle_of)
        of.setdefault(vehicle or "", []).append(one)
    lines = [_of_vehicle(laid, axis, states, vehicle.id, of.get(vehicle.id, [])) for vehicle in laid.problem.vehicles]
    used = [line for line in lines if line.bars]
    return sorted(used, key=lambda line: _promised(laid, line.departure))


def _promised(laid: Laid, departure: str) -> tuple[int, str]:
    known = laid.problem.departure_by_id.get(departure)
    return (known.promised_min if known else 1 << 20, departure)


def _of_vehicle(laid: Laid, axis: _Axis, states: Mapping[str, str], vehicle: str, mine: Sequence[PlannedTask]) -> Line:
    name = laid.plan.departure_of.get(vehicle, "")
    line = Line(vehicle, vehicle, "stays in today", is_vehicle=True, departure=name)
    line.bars, lanes = _packed(laid, axis, states, mine, "vehicle")
    line.height = TOP + max(1, lanes) * (BAR + GAP)
    arrives = laid.problem.vehicle_by_id[vehicle].arrives_min
    if arrives > 0:
        line.flags.append(Flag(axis.x(arrives), "in", f"back {axis.at(arrives)}", to_left=axis.x(arrives) > TURNS_AT))
    departure = laid.problem.departure_by_id.get(name)
    if departure is not None:
        leaves = leaves_at(laid.problem, laid.plan, name) or departure.due
        line.says = f"{name}, out {axis.at(leaves)}"
        x = axis.x(departure.promised_min)
        verdict, risk = _risk(laid, name)
        words = f"promised {axis.at(departure.promised_min)}" + (f", {risk}" if risk else "")
        line.flags.append(Flag(x, f"promise {verdict}", words, to_left=x > TURNS_AT))
    return line


def _packed(
    laid: Laid, axis: _Axis, states: Mapping[str, str], mine: Sequence[PlannedTask], kind: str
) -> tuple[list[Bar], int]:
    """Return bars in lanes so that none lies on another, and how many lanes there are."""
    free: list[int] = []
    bars = []
    for one in sorted(mine, key=lambda one: (one.start_min, one.end_min)):
        lane = next((n for n, minute in enumerate(free) if minute <= one.start_min), len(free))
        free[lane : lane + 1] = [one.end_min]
        bars.append(_bar(laid, axis, states, one, TOP + lane * (BAR + GAP), kind, ""))
    return bars, len(free)


def _bar(laid: Laid, axis: _Axis, states: Mapping[str, str], one: PlannedTask, y: int, kind: str, person: str) -> Bar:
    task = laid.problem.task_by_id[one.task]
    vehicle = vehicle_under(task, laid.plan.vehicle_of) or ""
    who = " and ".join(first_name(laid, name) for name in one.people)
    state = states.get(one.task, "")
    signs = {"done": "✓ ", "started": "▸ ", "problem": "! ", "late": "… "}
    pinned = one.task in laid.pinned_tasks
    sign = signs.get(state, "")
    said = sign + ("⊙ " if pinned else "") + (task.name or task.kind)
    said += f", {who}" if kind == "vehicle" and who else ""
    x, width = axis.x(one.start_min), max(3.0, axis.x(one.end_min) - axis.x(one.start_min))
    return Bar(
        key=f"{person}-{one.task}" if person else one.task,
        task=one.task,
        x=x,
        y=y,
        width=width,
        words=_fitted(said, width - 8) or (sign.strip() if width >= SIGN else ""),
        whole=task.name or task.kind,
        start=axis.at(one.start_min),
        end=axis.at(one.end_min),
        start_min=one.start_min,
        who=who,
        people=" ".join(one.people),
        vehicle=vehicle,
        state=state,
        pinned=pinned,
        begun=task.fixed is not None,
    )


def _fitted(words: str, width: float) -> str:
    """Return as much of the words as fits; nothing when that would say nothing."""
    letters = int(width / LETTER)
    if len(words) <= letters:
        return words
    return words[: letters - 1].rstrip(", ") + "…" if letters >= 4 else ""  # noqa: PLR2004  # fewer say nothing


def _runs(bars: Sequence[Bar]) -> list[Span]:
    """Return the stretches in which somebody stays with one vehicle, to be named once."""
    runs: list[Span] = []
    last = None
    for bar in bars:
        if runs and last is not None and bar.vehicle == last.vehicle:
            runs[-1] = Span(runs[-1].x, bar.x + bar.width - runs[-1].x, "run", runs[-1].words)
        else:
            runs.append(Span(bar.x, bar.width, "run", bar.vehicle))
        last = bar
    return _legible([run for run in runs if run.words])


def _legible(runs: Sequence[Span]) -> list[Span]:
    """Return runs of which each is named only where its name does not lie on the one before."""
    found, free = [], 0.0
    for run in runs:
        fits = run.x >= free
        found.append(Span(run.x, run.width, run.kind, run.words if fits else ""))
        free = run.x + len(run.words) * LETTER + 6 if fits else free
    return found


def hours(minutes: int) -> str:
    """Return minutes as hours and minutes."""
    return f"{minutes // 60} h {minutes % 60:02d}"


def day_span(day: dt.date) -> tuple[dt.date, dt.date]:
    """Return the day before and the day after."""
    return day - dt.timedelta(days=1), day + dt.timedelta(days=1)
