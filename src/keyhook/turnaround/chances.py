"""The plan carried out many times: late returns, tasks that take longer, and whoever is free takes the next task.

Every draw runs the day once by the rule people really follow: who is free takes the next task that is ready, in the
order of the plan (the second pair of eyes never by who cleaned), as soon as its vehicle, its place and what it waits
for allow. Durations are lognormal with the catalogue's mean and standard deviation, returns come early, on time or
late. The run itself is compiled (:mod:`keyhook.turnaround.execution`).
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from keyhook.turnaround.execution import carry_out
from keyhook.turnaround.plan import Plan, tasks_meant, vehicle_under, waits
from keyhook.turnaround.problem import ALL_ZONES, Person, Place, Problem, Task

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


@dataclass(frozen=True)
class _Laid:
    """A plan as arrays for :func:`keyhook.turnaround.execution.carry_out`, tasks in plan order."""

    tasks: tuple[Task, ...]
    arrays: tuple[npt.NDArray[Any] | float, ...]


def _run(problem: Problem, plan: Plan, draws: int, seed: int) -> dict[str, F64]:
    """Return the minute at which each served departure leaves, in every draw."""
    rng = np.random.default_rng(seed)
    arrive = arrivals(problem, rng, draws)
    laid = _lay(problem, plan)
    spread = {task.id: child for task, child in zip(problem.tasks, rng.spawn(len(problem.tasks)), strict=True)}
    mode_of = {planned.task: planned.mode for planned in plan.tasks}
    took = np.column_stack(
        [
            lognormal(task.modes[mode_of[task.id]].duration_min, task.sd_min, spread[task.id], draws)
            for task in laid.tasks
        ]
    )
    arrives = np.column_stack([arrive[vehicle.id] for vehicle in problem.vehicles])
    ends = carry_out(np.ascontiguousarray(took), np.ascontiguousarray(arrives), *laid.arrays)
    leaves = {name: np.full(draws, float(problem.opening_min)) for name, vehicle in plan.vehicle_of.items() if vehicle}
    for n, task in enumerate(laid.tasks):
        departure = task.departure or plan.departure_of.get(vehicle_under(task, plan.vehicle_of) or "")
        if departure in leaves and task.counts:
            leaves[departure] = np.maximum(leaves[departure], ends[:, n])
    return leaves


def _lay(problem: Problem, plan: Plan) -> _Laid:
    order = sorted(plan.tasks, key=lambda one: (one.start_min, one.end_min, one.task))
    tasks = tuple(problem.task_by_id[one.task] for one in order)
    row = {task.id: n for n, task in enumerate(tasks)}
    served = [vehicle_under(task, plan.vehicle_of) for task in tasks]
    modes = [task.modes[one.mode] for task, one in zip(tasks, order, strict=True)]
    skills = sorted({mode.skill for mode in modes})
    before: list[list[tuple[int, float]]] = [[] for _ in tasks]
    for wait in waits(problem, plan.vehicle_of):
        if wait.before in row and wait.after in row:
            before[row[wait.after]].append((row[wait.before], float(wait.lag_min)))
    follow: list[list[int]] = [[] for _ in tasks]
    for n, links in enumerate(before):
        for other, _ in links:
            follow[other].append(n)
    bars = [
        [row[o.id] for o in _not_by(problem, task, vehicle) if o.id in row]
        for task, vehicle in zip(tasks, served, strict=True)
    ]
    places = {place.id: n for n, place in enumerate(problem.places)}
    vehicles = {vehicle.id: n for n, vehicle in enumerate(problem.vehicles)}
    rests = _breaks(problem, plan)
    after_ptr, after = _flat([[other for other, _ in links] for links in before])
    next_ptr, following = _flat(follow)
    bar_ptr, barred = _flat(bars)
    whole = np.int64
    arrays = (
        np.array([float(_release(problem, task)) for task in tasks]),
        np.array([vehicles.get(name or "", -1) for name in served], whole),
        np.array([_bits(task, problem) for task in tasks], whole),
        np.array([float(task.zone_tail_min) for task in tasks]),
        np.array([places.get(task.place or "", -1) for task in tasks], whole),
        np.array([task.slot_use for task in tasks], whole),
        np.array([float(task.place_tail_min) for task in tasks]),
        np.array([mode.crew for mode in modes], whole),
        np.array([skills.index(mode.skill) for mode in modes], whole),
        after_ptr,
        after,
        np.array([lag for links in before for _, lag in links] or [0.0]),
        next_ptr,
        following,
        bar_ptr,
        barred,
        np.array([float(task.fixed.end_min) if task.fixed is not None else -1.0 for task in tasks]),
        np.array([[int(skill in person.skills) for skill in skills] for person in problem.people], whole),
        np.array([person.pace_factor for person in problem.people]),
        np.array([float(_from(problem, person, tasks)) for person in problem.people]),
        np.array([rests.get(person.id, (0.0, 0.0))[0] for person in problem.people]),
        np.array([rests.get(person.id, (0.0, 0.0))[1] for person in problem.people]),
        np.array([place.slots for place in problem.places], whole),
        len(_zone_names(problem)),
        float(problem.opening_min),
    )
    return _Laid(tasks, arrays)


def _flat(lists: list[list[int]]) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Return lists end to end with the pointers to where each begins."""
    pointer = np.concatenate([[0], np.cumsum([len(items) for items in lists])]).astype(np.int64)
    return pointer, np.array([item for items in lists for item in items] or [0], np.int64)


def _release(problem: Problem, task: Task) -> int:
    hirer = problem.departure_by_id[task.departure].hirer_from if task.needs_hirer and task.departure else 0
    return max(problem.opening_min, task.release_min, hirer)


def _bits(task: Task, problem: Problem) -> int:
    """Return the zones of a task as bits; a moved vehicle has all of them."""
    names = _zone_names(problem)
    if ALL_ZONES in task.zones:
        return (1 << len(names)) - 1
    return sum(1 << names.index(zone) for zone in task.zones)


def _zone_names(problem: Problem) -> list[str]:
    """Return the zones of the day in order; one that stands for the vehicle itself is always there."""
    return sorted({zone for task in problem.tasks for zone in task.zones})


def _from(problem: Problem, person: Person, tasks: Sequence[Task]) -> int:
    """Return the minute from which somebody can take a task: shift, absence now, and what they are in the middle of."""
    start = max(person.shift[0], problem.opening_min)
    for begin, end in sorted(person.away):
        if begin <= start < end:
            start = end
    busy = [task.fixed.end_min for task in tasks if task.fixed is not None and person.id in task.fixed.people]
    return max([start, *busy])


def _breaks(problem: Problem, plan: Plan) -> dict[str, tuple[float, float]]:
    """Return when each person's first break is planned and how long it is."""
    planned = {rest.person: rest.start_min for rest in plan.breaks if rest.index == 0}
    return {
        person.id: (float(planned[person.id]), float(person.breaks[0].length_min))
        for person in problem.people
        if person.breaks and person.id in planned
    }


def _not_by(problem: Problem, task: Task, vehicle: str | None) -> list[Task]:
    return [other for link in task.not_by for other in tasks_meant(problem, task, link, vehicle)]


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
