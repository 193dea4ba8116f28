"""Which gate tasks stand before a hire: what must be done or the vehicle may not leave.

A gate proved in one vehicle counts for that vehicle alone: a hire that is given another one has its gates open there.
"""

from __future__ import annotations

from dataclasses import dataclass

from keyhook.catalogue import load_catalogue
from keyhook.catalogue.conditions import Facts, applies
from keyhook.hire.hire import Hire
from keyhook.vehicle.build_sheet import BuildSheet
from keyhook_desk.hires.models import HireRow


@dataclass(frozen=True, slots=True)
class Gate:
    """One gate: the task, its name, whether it is done."""

    task: str
    name: str
    done: bool


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """Gates of a hire that were done in a vehicle which it has not now."""

    vehicle: str
    names: tuple[str, ...]


def ticked_in_its_vehicle(row: HireRow) -> frozenset[str]:
    """Return the gate tasks that are done in the vehicle the hire has now."""
    return frozenset(
        tick.task for tick in row.gates.all() if row.vehicle_id is not None and tick.vehicle_id == row.vehicle_id
    )


def ticked_elsewhere(row: HireRow) -> tuple[Elsewhere, ...]:
    """Return what was done for the hire in other vehicles; it is kept and does not count."""
    known, found = load_catalogue().tasks, dict[str, list[str]]()
    away = [tick.pk for tick in row.gates.all() if tick.vehicle_id != row.vehicle_id]
    if not away:  # as a rule: no question to the database for it
        return ()
    ticks = row.gates.select_related("vehicle").filter(pk__in=away).order_by("at", "pk")
    for tick in ticks:
        name = known[tick.task].name if tick.task in known else tick.task
        found.setdefault(tick.vehicle.name if tick.vehicle else "no vehicle", []).append(name)
    return tuple(Elsewhere(vehicle, tuple(names)) for vehicle, names in found.items())


def gates_of(hire: Hire, sheet: BuildSheet, ticked: frozenset[str]) -> tuple[Gate, ...]:
    """Return the gates of a hire in the order of the turnaround; those of the hand-over itself are left to it."""
    facts = Facts(tags=hire.tags, fittings=[fitted.fitting for fitted in sheet.fittings], options=hire.options)
    tasks = load_catalogue().tasks.values()
    return tuple(
        Gate(task.id, task.name, task.id in ticked)
        for task in tasks
        if task.gate and task.phase != "handover" and applies(task.when, facts)
    )
