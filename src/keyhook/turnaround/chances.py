"""The plan carried out many times: late returns, tasks that take longer, and whoever is free takes the next task.

Every draw runs the day once by the rule people really follow: who is free takes the next task that is ready, in the
order of the plan (the second pair of eyes never by who cleaned), as soon as its vehicle, its place and what it waits
for allow. Durations are lognormal with the catalogue's mean and standard deviation, returns come early, on time or
late. The run itself is compiled (:mod:`keyhook.turnaround.execution`).
"""

from __future__ import annotations

import dataclasses
import os
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from keyhook.turnaround.execution import carry_out
from keyhook.turnaround.execution_tables import F32, F64
from keyhook.turnaround.laid import lay, room_for
from keyhook.turnaround.plan import Plan
from keyhook.turnaround.problem import Person, Problem

#: Days that are drawn in one go, so that what is drawn stays in the cache.
BLOCK = 256
#: From this minute of the day one more person would be there, unless somebody says otherwise.
MORE_FROM_MIN = 600
NO_ENDS: F64 = np.empty((0, 1))


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


def day_chances(
    problem: Problem,
    plan: Plan,
    *,
    draws: int = 2000,
    seed: int = 0,
    what_if: bool = False,
    more_from_min: int = MORE_FROM_MIN,
) -> DayChances:
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
    more_from_min
        From when the one more person would be there [min of the day].
    """
    leaves = left_at(problem, plan, draws, seed)
    departures = tuple(_chance(problem, name, minutes) for name, minutes in leaves.items())
    lateness = lateness_min(problem, leaves)
    helps = tuple(_helps(problem, plan, draws, seed, lateness, more_from_min)) if what_if else ()
    return DayChances(draws, departures, lateness, helps)


def spread_of(mean_min: F64, sd_min: F64) -> F64:
    """Return the standard deviation of the logarithm of lognormals with these means and standard deviations [min]."""
    even = (sd_min <= 0) | (mean_min <= 0)
    return np.where(even, 0.0, np.sqrt(np.log1p((sd_min / np.where(even, 1.0, mean_min)) ** 2)))


def lognormal(mean_min: F64, sd_min: F64, normal: F32) -> F32:
    """Return lognormals with these means and standard deviations [min] from standard normals, one column each.

    A column without spread is the mean itself.
    """
    sigma = spread_of(mean_min, sd_min)
    drawn = normal * sigma.astype(np.float32)
    drawn -= (sigma**2 / 2).astype(np.float32)
    np.exp(drawn, out=drawn)
    drawn *= mean_min.astype(np.float32)
    return drawn


def arrivals(problem: Problem, rng: np.random.Generator, draws: int) -> F32:
    """Return minutes of return, draws x vehicles: spread about the expected one, and now and then much later."""
    vehicles = problem.vehicles
    shape = (draws, len(vehicles))
    minutes = rng.standard_normal(shape) * np.array([vehicle.arrival_sd_min for vehicle in vehicles])
    late = rng.random(shape) < np.array([vehicle.late_probability for vehicle in vehicles])
    minutes += late * rng.standard_exponential(shape) * np.array([vehicle.late_mean_min for vehicle in vehicles])
    return np.ascontiguousarray(minutes + [vehicle.arrives_min for vehicle in vehicles], np.float32)


def left_at(problem: Problem, plan: Plan, draws: int, seed: int, *, cores: int = 0) -> dict[str, F64]:
    """Return the minute at which each served departure leaves, in every draw.

    Draws come in blocks with a stream of their own each, and every task of the day has its column whatever the plan,
    so that two plans of a day meet the same luck and the number of ``cores`` (0: all there are) changes nothing.
    """
    laid = lay(problem, plan)
    leaves = np.empty((draws, len(laid.departures)))
    blocks = [(n, first, min(draws, first + BLOCK)) for n, first in enumerate(range(0, draws, BLOCK))]
    column = {task.id: n for n, task in enumerate(problem.tasks)}
    columns = np.array([column[task.id] for task in laid.tasks], np.int64)
    means = np.array([float(mode.duration_min) for mode in laid.modes])
    spreads = np.array([task.sd_min for task in laid.tasks])

    def run(some: list[tuple[int, int, int]]) -> None:
        work = room_for(laid.tables)
        for number, first, last in some:
            rng = np.random.Generator(np.random.SFC64([seed, number]))
            arrive = arrivals(problem, rng, last - first)
            normal = rng.standard_normal((last - first, len(column)), np.float32)
            took = lognormal(means, spreads, normal[:, columns])
            carry_out(laid.tables, work, took, arrive, leaves[first:last], NO_ENDS)

    hands = max(1, min(len(blocks), cores or os.cpu_count() or 1))
    with ThreadPoolExecutor(hands) as pool:
        list(pool.map(run, [blocks[n::hands] for n in range(hands)]))
    return {name: leaves[:, n] for n, name in enumerate(laid.departures)}


def _chance(problem: Problem, name: str, leaves: F64) -> DepartureChance:
    departure = problem.departure_by_id[name]
    late = np.maximum(0.0, leaves - departure.due)
    leaves_90 = float(np.quantile(leaves, 0.9))
    length = departure.due - departure.promised_min
    promise = max(float(departure.promised_min), leaves_90 - length)
    return DepartureChance(name, float((leaves <= departure.due + 0.5).mean()), float(late.mean()), leaves_90, promise)


def lateness_min(problem: Problem, leaves: Mapping[str, F64]) -> float:
    """Return the weighted minutes of lateness of a day on average, from when its departures left in many days."""
    total = 0.0
    for name, minutes in leaves.items():
        departure = problem.departure_by_id[name]
        total += departure.weight * float(np.maximum(0.0, minutes - departure.due).mean())
    return total


def _helps(problem: Problem, plan: Plan, draws: int, seed: int, lateness: float, from_min: int) -> list[WhatIf]:
    def spared(more: Problem) -> float:
        return lateness - lateness_min(more, left_at(more, plan, draws, seed))

    used = {(task.modes[plan.by_task[task.id].mode], task.place) for task in problem.tasks if task.id in plan.by_task}
    found = [
        WhatIf(
            f"person.{skill}",
            spared(dataclasses.replace(problem, people=(*problem.people, _one_more(problem, skill, from_min)))),
        )
        for skill in sorted({mode.skill for mode, _ in used if mode.crew})
    ]
    for place in problem.places:
        if any(place.id == where for _, where in used):
            wider = tuple(dataclasses.replace(p, slots=p.slots + (p is place)) for p in problem.places)
            found.append(WhatIf(f"place.{place.id}", spared(dataclasses.replace(problem, places=wider))))
    return sorted(found, key=lambda one: -one.spared_min)


def _one_more(problem: Problem, skill: str, from_min: int) -> Person:
    """Return one more person with a skill, till the last of those who have it goes."""
    ends = [person.shift[1] for person in problem.people if skill in person.skills]
    end = max(ends, default=problem.closing_min)
    return Person(f"one_more_{skill}", frozenset({skill}), (min(from_min, end - 1), end))
