"""The plan carried out many times: late returns, tasks that take longer, and whoever is free takes the next task.

Every draw runs the day once. Tasks come up in the order of the plan; each is taken by the people with its skill who
are free first (the second pair of eyes never by who cleaned), as soon as its vehicle, its place and what it waits for
allow. One pass over the tasks moves all draws at once: each quantity is a vector over the draws. Durations are
lognormal with the catalogue's mean and standard deviation, returns come early, on time or late.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from keyhook.turnaround.plan import Plan, PlannedTask, tasks_meant, vehicle_under, waits
from keyhook.turnaround.problem import ALL_ZONES, Mode, Person, Place, Problem, Task

F64 = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class DepartureChance:
    """How likely one hand-over is on time.

    ``on_time_probability`` of leaving by its due minute, ``mean_late_min`` over all draws, ``leaves_90_min`` the
    minute by which it has left in nine of ten days, ``promise_90_min`` the promise that holds as often: that minute
    less the usual length of the hand-over.
    """

    departure: str
    on_time_probability: float
    mean_late_min: float
    leaves_90_min: float
    promise_90_min: float


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What one more of something would buy: weighted minutes of lateness spared on average."""

    what: str
    spared_min: float


@dataclass(frozen=True, slots=True)
class DayChances:
    """The day as it may go: every hand-over, the lateness to expect, and what would help most."""

    draws: int
    departures: tuple[DepartureChance, ...]
    lateness_min: float
    what_if: tuple[WhatIf, ...] = ()

    @property
    def ring_early(self) -> tuple[DepartureChance, ...]:
        """Hand-overs that are late more often than one day in five, the surest to be late first."""
        late = [chance for chance in self.departures if chance.on_time_probability < 0.8]  # noqa: PLR2004  # four in five
        return tuple(sorted(late, key=lambda chance: chance.on_time_probability))


def day_chances(problem: Problem, plan: Plan, *, draws: int = 2000, seed: int = 0, what_if: bool = False) -> DayChances:
    """Return the chances of a plan.

    Parameters
    ----------
    problem, plan
        A day and a verified plan of it.
    draws
        How many days to run, 1,000 to 10,000 for figures that hold to a few percent.
    seed
        The same seed draws the same days, so that two plans are compared on the same luck.
    what_if
        Run the day again with one more person of each skill and one more slot at each place, and say what it spares.
    """
    leaves = _run(problem, plan, draws, seed)
    departures = tuple(_chance(problem, name, minutes) for name, minutes in leaves.items())
    lateness = _lateness(problem, leaves)
    helps = tuple(_helps(problem, plan, draws, seed, lateness)) if what_if else ()
    return DayChances(draws, departures, lateness, helps)


def lognormal(mean_min: float, sd_min: float, rng: np.random.Generator, draws: int) -> F64:
    """Return draws of a lognormal with this mean and standard deviation [min]; the mean itself without spread."""
    if sd_min <= 0 or mean_min <= 0:
        return np.full(draws, float(mean_min))
    variance = math.log1p((sd_min / mean_min) ** 2)
    return rng.lognormal(math.log(mean_min) - variance / 2, math.sqrt(variance), draws)


def arrivals(problem: Problem, rng: np.random.Generator, draws: int) -> dict[str, F64]:
    """Return minutes of return by vehicle: spread about the expected one, and now and then much later."""
    found = {}
    for vehicle in problem.vehicles:
        minutes = np.full(draws, float(vehicle.arrives_min))
        if vehicle.arrival_sd_min > 0:
            minutes += rng.normal(0, vehicle.arrival_sd_min, draws)
        if vehicle.late_probability > 0:
            late = rng.random(draws) < vehicle.late_probability
            minutes += late * rng.exponential(vehicle.late_mean_min, draws)
        found[vehicle.id] = minutes
    return found


class _Yard:
    """Who and what is free when, in every draw."""

    def __init__(self, problem: Problem, plan: Plan, draws: int) -> None:
        self.people: dict[str, int] = {person.id: n for n, person in enumerate(problem.people)}
        self.free = np.array([[float(max(person.shift[0], problem.opening_min))] * draws for person in problem.people])
        self.skilled = {
            skill: np.array([n for n, person in enumerate(problem.people) if skill in person.skills], int)
            for skill in {mode.skill for task in problem.tasks for mode in task.modes}
        }
        self.pace = np.array([person.pace_factor for person in problem.people])
        self.slots = {place.id: np.zeros((max(1, place.slots), draws)) for place in problem.places}
        self.zones: dict[tuple[str, str], F64] = {}
        self.did: dict[str, npt.NDArray[np.bool_]] = {}
        self.breaks = _breaks(problem, plan)
        self.rested = np.zeros((len(problem.people), draws), bool)

    def rest(self, when: F64) -> None:
        """Send everybody to their break whose time for it has come by ``when``."""
        for n, (start, length) in self.breaks.items():
            due = ~self.rested[n] & (np.maximum(self.free[n], when) >= start)
            self.free[n] = np.where(due, np.maximum(self.free[n], start) + length, self.free[n])
            self.rested[n] |= due


def _breaks(problem: Problem, plan: Plan) -> dict[int, tuple[float, float]]:
    planned = {rest.person: rest for rest in plan.breaks if rest.index == 0}
    found = {}
    for n, person in enumerate(problem.people):
        if person.breaks and person.id in planned:
            found[n] = (float(planned[person.id].start_min), float(person.breaks[0].length_min))
    return found


def _run(problem: Problem, plan: Plan, draws: int, seed: int) -> dict[str, F64]:
    rng = np.random.default_rng(seed)
    arrive = arrivals(problem, rng, draws)
    spread = {task.id: rng.spawn(1)[0] for task in problem.tasks}
    yard = _Yard(problem, plan, draws)
    before: dict[str, list[tuple[str, int]]] = {}
    for wait in waits(problem, plan.vehicle_of):
        before.setdefault(wait.after, []).append((wait.before, wait.lag_min))
    ends: dict[str, F64] = {}
    leaves = {name: np.full(draws, float(problem.opening_min)) for name, vehicle in plan.vehicle_of.items() if vehicle}
    for planned in sorted(plan.tasks, key=lambda one: (one.start_min, one.end_min, one.task)):
        task = problem.task_by_id[planned.task]
        vehicle = vehicle_under(task, plan.vehicle_of)
        ready = _ready(problem, task, vehicle, arrive, before, ends, yard)
        ends[task.id] = _do(problem, task, planned, vehicle, ready, yard, spread[task.id])
        departure = task.departure or plan.departure_of.get(vehicle or "")
        if departure in leaves and task.counts:
            leaves[departure] = np.maximum(leaves[departure], ends[task.id])
    return leaves


def _ready(
    problem: Problem,
    task: Task,
    vehicle: str | None,
    arrive: Mapping[str, F64],
    before: Mapping[str, list[tuple[str, int]]],
    ends: Mapping[str, F64],
    yard: _Yard,
) -> F64:
    ready = np.full(yard.rested.shape[1], float(max(problem.opening_min, task.release_min)))
    if vehicle is not None:
        ready = np.maximum(ready, arrive[vehicle])
    if task.needs_hirer and task.departure is not None:
        ready = np.maximum(ready, float(problem.departure_by_id[task.departure].hirer_from))
    for other, lag in before.get(task.id, ()):
        if other in ends:
            ready = np.maximum(ready, ends[other] + lag)
    for key in _zone_keys(task, vehicle, yard):
        ready = np.maximum(ready, yard.zones[key])
    if task.place is not None:
        ready = np.maximum(ready, yard.slots[task.place].min(axis=0))
    return ready


def _zone_keys(task: Task, vehicle: str | None, yard: _Yard) -> list[tuple[str, str]]:
    """Return the zones whose being taken holds this task up: its own, the whole vehicle, or all when it is moved."""
    if vehicle is None or not task.zones:
        return []
    if ALL_ZONES in task.zones:
        return [key for key in yard.zones if key[0] == vehicle]
    wanted = {(vehicle, zone) for zone in (*task.zones, ALL_ZONES)}
    return [key for key in yard.zones if key in wanted]


def _do(
    problem: Problem,
    task: Task,
    planned: PlannedTask,
    vehicle: str | None,
    ready: F64,
    yard: _Yard,
    rng: np.random.Generator,
) -> F64:
    draws = len(ready)
    mode = task.modes[planned.mode]
    if task.fixed is not None:
        end = np.full(draws, float(task.fixed.end_min))
        for name in task.fixed.people:
            yard.free[yard.people[name]] = np.maximum(yard.free[yard.people[name]], end)
    else:
        took = lognormal(mode.duration_min, task.sd_min, rng, draws)
        start, pace, crew = _take_people(problem, task, vehicle, mode, ready, yard)
        end = start + took * pace
        for chosen in crew:
            yard.free[chosen, np.arange(draws)] = end
            _note(yard, task, chosen, draws)
    if vehicle is not None:
        for zone in task.zones:
            yard.zones[vehicle, zone] = np.maximum(yard.zones.get((vehicle, zone), end), end + task.zone_tail_min)
    if task.place is not None:
        slots = yard.slots[task.place]
        slots[slots.argmin(axis=0), np.arange(draws)] = end + task.place_tail_min
    return end


def _take_people(
    problem: Problem, task: Task, vehicle: str | None, mode: Mode, ready: F64, yard: _Yard
) -> tuple[F64, F64, list[npt.NDArray[np.int64]]]:
    """Return start, pace (that of the slowest) and people of a task in every draw."""
    if mode.crew == 0:
        return ready, np.ones_like(ready), []
    yard.rest(ready)
    able = yard.skilled[mode.skill]
    free = yard.free[able].copy()
    for other in _not_by(problem, task, vehicle):
        if other in yard.did:
            free = np.where(yard.did[other][able], np.inf, free)
    chosen, start, pace = [], ready, np.zeros_like(ready)
    for _ in range(mode.crew):
        first = free.argmin(axis=0)
        at = free[first, np.arange(len(ready))]
        at = np.where(np.isinf(at), yard.free[able].min(axis=0), at)
        start = np.maximum(start, at)
        person = able[first]
        pace = np.maximum(pace, yard.pace[person])
        chosen.append(person)
        free[first, np.arange(len(ready))] = np.inf
    return start, pace, chosen


def _not_by(problem: Problem, task: Task, vehicle: str | None) -> list[str]:
    return [other.id for link in task.not_by for other in tasks_meant(problem, task, link, vehicle)]


def _note(yard: _Yard, task: Task, people: npt.NDArray[np.int64], draws: int) -> None:
    did = yard.did.setdefault(task.id, np.zeros((len(yard.people), draws), bool))
    did[people, np.arange(draws)] = True


def _chance(problem: Problem, name: str, leaves: F64) -> DepartureChance:
    departure = problem.departure_by_id[name]
    late = np.maximum(0.0, leaves - departure.due)
    leaves_90 = float(np.quantile(leaves, 0.9))
    length = departure.due - departure.promised_min
    promise = max(float(departure.promised_min), leaves_90 - length)
    return DepartureChance(name, float((leaves <= departure.due + 0.5).mean()), float(late.mean()), leaves_90, promise)


def _lateness(problem: Problem, leaves: Mapping[str, F64]) -> float:
    total = 0.0
    for name, minutes in leaves.items():
        departure = problem.departure_by_id[name]
        total += departure.weight * float(np.maximum(0.0, minutes - departure.due).mean())
    return total


def _helps(problem: Problem, plan: Plan, draws: int, seed: int, lateness: float) -> list[WhatIf]:
    found = []
    for skill in sorted({mode.skill for task in problem.tasks for mode in task.modes if mode.crew}):
        like = next((person for person in problem.people if person.skills == {skill}), None)
        shift = like.shift if like else (problem.opening_min, problem.closing_min)
        more = dataclasses.replace(
            problem,
            people=(*problem.people, Person(f"one_more_{skill}", frozenset({skill}), (max(600, shift[0]), shift[1]))),
        )
        found.append(WhatIf(f"person.{skill}", lateness - _lateness(more, _run(more, plan, draws, seed))))
    for place in problem.places:
        if any(task.place == place.id for task in problem.tasks):
            wider = tuple(Place(p.id, p.slots + (p.id == place.id), p.closed) for p in problem.places)
            more = dataclasses.replace(problem, places=wider)
            found.append(WhatIf(f"place.{place.id}", lateness - _lateness(more, _run(more, plan, draws, seed))))
    return sorted(found, key=lambda one: -one.spared_min)
