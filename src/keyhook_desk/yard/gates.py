"""Which gate tasks stand before a hire: what must be done or the vehicle may not leave."""

from __future__ import annotations

from dataclasses import dataclass

from keyhook.catalogue import load_catalogue
from keyhook.catalogue.conditions import Facts, applies
from keyhook.hire.hire import Hire
from keyhook.vehicle.build_sheet import BuildSheet


@dataclass(frozen=True, slots=True)
class Gate:
    """One gate: the task, its name, whether it is done."""

    task: str
    name: str
    done: bool


def gates_of(hire: Hire, sheet: BuildSheet, ticked: frozenset[str]) -> tuple[Gate, ...]:
    """Return the gates of a hire in the order of the turnaround; those of the hand-over itself are left to it."""
    facts = Facts(tags=hire.tags, fittings=[fitted.fitting for fitted in sheet.fittings], options=hire.options)
    tasks = load_catalogue().tasks.values()
    return tuple(
        Gate(task.id, task.name, task.id in ticked)
        for task in tasks
        if task.gate and task.phase != "handover" and applies(task.when, facts)
    )
