"""Seeded days for benches and property tests: so many turnarounds at calm, normal or tight staffing.

Invented yards, real proportions: durations are the catalogue's means, joined into the blocks of work that
one person does in one go; people and places grow with the work. ``staffing`` sets how many hands there are
for one minute of work by the book: calm 1.45, normal 1.15, tight 1.0, and how full the narrow places run.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from keyhook.catalogue import load_catalogue
from keyhook.turnaround.problem import (
    ALL_ZONES,
    EVERY_KIND,
    After,
    Break,
    Departure,
    Mode,
    NotBy,
    Person,
    Place,
    Problem,
    Suits,
    Task,
    Vehicle,
)

Staffing = Literal["calm", "normal", "tight"]
#: Mean and one standard deviation of a catalogue task [min].
Minutes = Mapping[str, tuple[float, float]]

HANDS = {"calm": 1.45, "normal": 1.15, "tight": 1.0}
FULL = {"calm": 0.6, "normal": 0.75, "tight": 0.9}
OPEN, CLOSE = 8 * 60, 22 * 60
LATE_DESK = (10 * 60, 19 * 60)
INSIDE = frozenset({"kitchen", "washroom", "lounge", "beds"})
MOVED = frozenset({ALL_ZONES})
GROUPS = ("two", "four", "six")


@dataclass(frozen=True)
class _Unit:
    """What the generator knows of one vehicle."""

    id: str
    group: int
    berths: int
    belts: int
    arrives_min: int
    ready: bool


@dataclass(frozen=True)
class _Block:
    """Catalogue tasks that one person does in one go."""

    kind: str
    parts: tuple[str, ...]
    skill: str
    after: tuple[str | tuple[str, int], ...] = ()
    place: str | None = None
    zones: frozenset[str] = frozenset()
    shared: bool = False
    gate: bool = False
    leaving: bool = True


LANE, DRAIN = "arrival_lane", "drain_point"
ARRIVAL = (
    _Block("arrive_outside", ("in_park", "in_outside"), "yard", (), LANE, frozenset({"outside"}), leaving=False),
    _Block("arrive_inside", ("in_meters", "in_talk", "in_inside"), "desk", (), LANE, INSIDE, leaving=False),
    _Block("arrive_kit", ("in_count", "in_lost"), "clean", (), LANE, frozenset({"garage"}), leaving=False),
    _Block(
        "arrive_settle",
        ("in_settle", "in_route"),
        "desk",
        ("arrive_outside", "arrive_inside", "arrive_kit"),
        "desk",
        leaving=False,
    ),
)
PREPARE = (
    _Block("waste", ("waste_toilet", "waste_grey", "water_drain"), "yard", ("arrive_settle",), DRAIN, MOVED, gate=True),
    _Block("wash", ("wash_out",), "yard", ("waste",), "wash_bay", MOVED),
    _Block(
        "galley",
        ("strip_linen", "strip_bins", "clean_kitchen", "clean_fridge"),
        "clean",
        ("arrive_settle",),
        zones=frozenset({"beds", "kitchen"}),
        shared=True,
    ),
    _Block("lounge", ("clean_lounge", "clean_glass"), "clean", ("galley",), zones=frozenset({"lounge"}), shared=True),
    _Block("washroom", ("clean_bath",), "clean", ("waste",), zones=frozenset({"washroom"})),
    _Block("beds", ("clean_beds",), "clean", ("galley",), zones=frozenset({"beds"}), shared=True),
    _Block(
        "floor",
        ("clean_floor", "pack_kit", "pack_welcome"),
        "clean",
        ("galley", "lounge", "washroom", "beds"),
        zones=INSIDE,
    ),
    _Block("fill", ("water_fill", "gas_fill"), "yard", ("waste",), zones=frozenset({"outside"}), gate=True),
    _Block("road", ("tech_road", "tech_vents"), "yard", ("wash",), zones=frozenset({"outside"}), gate=True),
    _Block(
        "living",
        ("tech_habit", "tech_battery", "tech_belts"),
        "yard",
        ("fill", "lounge"),
        zones=frozenset({"kitchen", "lounge"}),
        gate=True,
    ),
)
#: Work that only some returns bring, with its share of returns.
SOMETIMES = (
    (0.35, _Block("small_repair", ("tech_small_repair",), "tech", ("arrive_settle",), "workshop", MOVED)),
    (0.07, _Block("medium_repair", ("tech_medium_repair",), "tech", ("arrive_settle",), "workshop", MOVED)),
    (0.25, _Block("fuel", ("fuel_top",), "yard", ("wash",), zones=MOVED)),
    (0.12, _Block("sand", ("clean_sand",), "clean", ("galley",), zones=frozenset({"lounge"}))),
    (0.07, _Block("foul", ("waste_toilet_foul",), "yard", ("waste",), DRAIN, frozenset({"washroom"}))),
    (0.30, _Block("garage", ("clean_garage",), "clean", ("arrive_settle",), zones=frozenset({"garage"}))),
)
#: How often: a straggler among the returns, a vehicle fits a departure, children, first-timers, options, a first drive.
STRAGGLER, FITS, CHILDREN, FIRST_TIMERS, OPTIONS, FIRST_DRIVE = 0.1, 0.7, 0.3, 0.4, 0.5, 0.5
PER = {"strip_linen": "berths", "clean_beds": "berths", "tech_belts": "belts"}


def catalogue_minutes() -> Minutes:
    """Return mean and one standard deviation of every catalogue task [min]."""
    return {name: (float(task.mean_min), float(task.sd_min)) for name, task in load_catalogue().tasks.items()}


def generate_day(turnarounds: int, staffing: Staffing, seed: int, minutes: Minutes | None = None) -> Problem:
    """Return a day with this many departures; the same seed gives the same day.

    Three in four departures need a vehicle that only comes back this morning; one return in six goes
    nowhere today and leaves its cleaning for later. Durations come from ``minutes``, by default the
    catalogue's.
    """
    book = catalogue_minutes() if minutes is None else minutes
    rng = np.random.default_rng([seed, turnarounds, sorted(HANDS).index(staffing)])
    units = _units(turnarounds, rng)
    departures = _departures(turnarounds, units, rng)
    tasks = [task for unit in units for task in _vehicle_tasks(unit, book, rng)]
    tasks += [task for departure in departures for task in _departure_tasks(departure, book, rng)]
    leaving = {departure.allotted for departure in departures}
    return Problem(
        opening_min=OPEN,
        closing_min=CLOSE,
        people=_people(_work(tasks, leaving), HANDS[staffing], rng),
        places=_places(tasks, leaving, FULL[staffing]),
        vehicles=tuple(
            Vehicle(unit.id, GROUPS[unit.group], arrives_min=unit.arrives_min, arrival_sd_min=12.0) for unit in units
        ),
        tasks=tuple(tasks),
        departures=tuple(departures),
        label=f"{turnarounds} {staffing} {seed}",
    )


# ---------------------------------------------------------------- vehicles and departures


def _units(turnarounds: int, rng: np.random.Generator) -> list[_Unit]:
    returning = math.ceil(0.75 * turnarounds)
    extra = turnarounds // 6
    units = []
    for number in range(turnarounds + extra):
        group = int(rng.integers(len(GROUPS)))
        ready = returning + extra <= number
        arrives = 0 if ready else int(8 * 60 + 30 + 5 * rng.integers(0, 25) + (45 if rng.random() < STRAGGLER else 0))
        units.append(_Unit(f"v{number + 1:03}", group, 2 + 2 * group, 3 + group, arrives, ready))
    return units


def _departures(turnarounds: int, units: list[_Unit], rng: np.random.Generator) -> list[Departure]:
    order = [*rng.permutation(len(units))]
    ready = [units[k] for k in order if units[k].ready]
    coming = sorted((units[k] for k in order if not units[k].ready), key=lambda unit: unit.arrives_min)
    chosen = ready + coming[: turnarounds - len(ready)]
    promised = sorted(14 * 60 + 10 * int(step) for step in rng.integers(0, 22, turnarounds))
    departures = []
    for number, unit in enumerate(chosen[k] for k in rng.permutation(turnarounds)):
        suits = tuple(
            Suits(other.id, 2 * (other.group - unit.group))
            for other in units
            if other.id == unit.id or (unit.group <= other.group <= unit.group + 1 and rng.random() < FITS)
        )
        departures.append(
            Departure(
                id=f"d{number + 1:03}",
                promised_min=promised[number],
                due_min=promised[number] + 100,
                vehicles=suits,
                weight=int(rng.choice([1, 2, 2, 3, 5])),
                allotted=unit.id,
                postpone_cost=3000,
            )
        )
    return departures


# ---------------------------------------------------------------- tasks


def _vehicle_tasks(unit: _Unit, book: Minutes, rng: np.random.Generator) -> list[Task]:
    blocks = list(() if unit.ready else (*ARRIVAL, *PREPARE))
    blocks += [block for share, block in SOMETIMES if not unit.ready and rng.random() < share]
    kinds = {block.kind for block in blocks}
    return [_vehicle_task(unit, block, kinds, book) for block in blocks]


def _vehicle_task(unit: _Unit, block: _Block, kinds: set[str], book: Minutes) -> Task:
    scale = {"berths": unit.berths, "belts": unit.belts}
    times = [(book[part], scale[PER[part]] if part in PER else 1) for part in block.parts]
    duration = round(sum(mean * factor for (mean, _), factor in times))
    modes = [Mode(1, duration, block.skill)]
    if block.shared:
        modes.append(Mode(2, math.ceil(0.55 * duration), block.skill))
    links = [link if isinstance(link, tuple) else (link, 0) for link in block.after]
    return Task(
        id=f"{unit.id}.{block.kind}",
        kind=block.kind,
        modes=tuple(modes),
        vehicle=unit.id,
        zones=block.zones,
        place=block.place,
        after=tuple(After(f"{unit.id}.{what}", lag) for what, lag in links if what in kinds),
        gate=block.gate,
        only_if_leaving=block.leaving,
        sd_min=math.sqrt(sum(factor * sd * sd for (_, sd), factor in times)),
    )


def _departure_tasks(departure: Departure, book: Minutes, rng: np.random.Generator) -> list[Task]:
    name = departure.id
    children = int(rng.integers(1, 3)) if rng.random() < CHILDREN else 0
    brief = book["out_brief"][0] + (15 if rng.random() < FIRST_TIMERS else 0)
    pack = book["pack_options"][0] + children * book["pack_child"][0]
    cleaning = tuple(NotBy(kind, on_vehicle=True) for kind in ("galley", "lounge", "washroom", "beds", "floor"))

    def task(kind: str, minutes: float, skill: str, *after: After, **more: object) -> Task:
        modes = (Mode(1, round(minutes), skill),)
        return Task(f"{name}.{kind}", kind, modes, departure=name, after=after, sd_min=0.3 * minutes, **more)  # type: ignore[arg-type]

    papers = book["pack_docs"][0] + book["pack_weight"][0]
    tasks = [task("docs", papers, "desk", place="desk", gate=True)]
    options = children > 0 or rng.random() < OPTIONS
    if options:
        tasks.append(
            task("options", pack, "yard", After("living", on_vehicle=True), zones=frozenset({"lounge"}), gate=True)
        )
    waits = [After(EVERY_KIND, on_vehicle=True), *([After(f"{name}.options")] if options else [])]
    look = book["fin_quality"][0]
    photos = book["fin_photos"][0] + book["fin_park"][0]
    talk = book["out_papers"][0]
    marks = book["out_damage"][0] + (book["out_drive"][0] if rng.random() < FIRST_DRIVE else 0)
    here = {"place": "handover_lane", "needs_hirer": True, "gate": True}
    return [
        *tasks,
        task("eyes", look, "check", *waits, zones=INSIDE, not_by=cleaning, gate=True),
        task("park", photos, "yard", After(f"{name}.eyes"), place="handover_lane", zones=MOVED, gate=True),
        task("papers", talk, "desk", After(f"{name}.docs"), place="desk", needs_hirer=True, gate=True),
        task("brief", brief + marks, "brief", After(f"{name}.park"), After(f"{name}.papers"), zones=MOVED, **here),
    ]


# ---------------------------------------------------------------- people and places


def _done(task: Task, leaving: set[str | None]) -> bool:
    return not task.only_if_leaving or task.vehicle in leaving


def _work(tasks: list[Task], leaving: set[str | None]) -> dict[str, int]:
    """Minutes of work by skill in the plan as booked."""
    work: dict[str, int] = {}
    for task in tasks:
        if _done(task, leaving):
            mode = task.modes[0]
            work[mode.skill] = work.get(mode.skill, 0) + mode.duration_min
    return work


def _people(work: dict[str, int], hands: float, rng: np.random.Generator) -> tuple[Person, ...]:
    """Hands for the work: yard people, cleaners, technicians, and desk people who also brief and look twice."""
    desk = work.get("desk", 0) + 0.6 * work.get("brief", 0) + 0.6 * work.get("check", 0)
    yard = work.get("yard", 0) + 0.4 * work.get("brief", 0) + 0.2 * work.get("check", 0)
    clean = work.get("clean", 0) + 0.2 * work.get("check", 0)
    crews = (
        ("desk", desk, {"desk", "brief", "check"}, (9 * 60, 18 * 60 + 30)),
        ("yard", yard, {"yard"}, (8 * 60, 17 * 60 + 30)),
        ("clean", clean, {"clean"}, (8 * 60 + 30, 17 * 60)),
        ("tech", work.get("tech", 0), {"tech", "yard"}, (8 * 60, 16 * 60 + 30)),
    )
    people = []
    for name, minutes, skills, shift in crews:
        useful = 0.8 * (shift[1] - shift[0] - 30)
        for number in range(max(2 if name != "tech" else 1, math.ceil(hands * minutes / useful))):
            more = {"yard": {"brief"}, "clean": {"check"}}.get(name, set()) if number % 3 == 0 else set()
            people.append(
                Person(
                    id=f"{name}{number + 1}",
                    skills=frozenset(skills | more),
                    shift=LATE_DESK if name == "desk" and number % 2 == 1 else shift,
                    breaks=(Break(11 * 60 + 30, 13 * 60 + 30, 30),),
                    pace_factor=float(rng.choice([0.9, 1.0, 1.0, 1.0, 1.0, 1.3, 1.5])),
                    overtime_max_min=180,
                )
            )
    return tuple(people)


def _places(tasks: list[Task], leaving: set[str | None], full: float) -> tuple[Place, ...]:
    """Slots for the work: every place as full as the staffing says, over the hours that matter to it."""
    hours = {
        "arrival_lane": 210,
        "desk": 480,
        "drain_point": 330,
        "wash_bay": 330,
        "workshop": 400,
        "handover_lane": 300,
    }
    here: dict[str, int] = dict.fromkeys(hours, 0)
    for task in tasks:
        if task.place is not None and _done(task, leaving):
            here[task.place] += task.modes[0].duration_min
    return tuple(
        Place(name, max(2 if name != "wash_bay" else 1, math.ceil(minutes / (full * hours[name]))))
        for name, minutes in here.items()
    )
