"""Which tasks of the catalogue a vehicle that comes back and a departure call for, with minutes, zones and order.

Durations are the catalogue's means, rounded up; a task that two people can share has a second mode.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from keyhook.catalogue import Catalogue, Task
from keyhook.catalogue.conditions import Facts, applies
from keyhook.depot.folder import DepotFolder
from keyhook.hire.hire import Hire
from keyhook.turnaround.problem import ALL_ZONES, After, Mode, NotBy
from keyhook.turnaround.problem import Task as DayTask
from keyhook.vehicle.build_sheet import BuildSheet

#: Phases of the catalogue that belong to the vehicle, whoever takes it next; the others belong to the departure.
VEHICLE_PHASES = ("arrive", "waste", "clean", "wash", "tech", "fill")
#: Tasks of those phases that are done for the next party all the same.
FOR_THE_PARTY = frozenset({"water_fill"})
#: Phases that count for when a vehicle that goes nowhere today is looked after: it is checked in and no more.
ON_RETURN = frozenset({"arrive"})
#: Which part of the vehicle a task needs for itself (common practice); a task that moves it needs all of it.
ZONES: Mapping[str, tuple[str, ...]] = {
    "strip_bins": ("kitchen",),
    "strip_linen": ("beds",),
    "clean_kitchen": ("kitchen",),
    "clean_fridge": ("kitchen",),
    "clean_bath": ("washroom",),
    "clean_lounge": ("lounge",),
    "clean_beds": ("beds",),
    "clean_glass": ("lounge",),
    "clean_floor": ("kitchen", "washroom", "lounge", "beds"),
    "clean_garage": ("garage",),
    "clean_sand": ("lounge", "beds"),
    "clean_pet": ("lounge",),
    "tech_habit": ("kitchen",),
    "tech_beds": ("beds",),
    "tech_belts": ("lounge",),
    "tech_vents": ("lounge",),
    "pack_kit": ("kitchen",),
    "pack_beds": ("beds",),
    "fin_quality": ("kitchen", "washroom", "lounge", "beds"),
}
#: Tasks that two may share, and the share of the minutes they then take (common practice).
SHARED: Mapping[str, float] = {"clean_lounge": 0.55, "clean_beds": 0.55, "clean_kitchen": 0.6, "clean_sand": 0.55}
#: Below this share of hands the hirer works and the depot looks in.
OWN_HANDS_SHARE = 0.5
#: Desk tasks of the check-in that a yard hand does as well (common practice).
ALSO_BY: Mapping[str, str] = {"in_inside": "yard", "in_meters": "yard"}
#: Whoever cleans may not give the second look.
SECOND_EYES = ("fin_quality",)
#: Tasks of the catalogue that the plan leaves to others: laundry runs by itself, moves are in the tasks' own minutes.
LEFT_OUT = frozenset({"yard_move", "yard_wait", "yard_laundry", "yard_frost_round", "fridge_cool", "tech_battery"})


def vehicle_tasks(
    folder: DepotFolder, name: str, back: Hire, catalogue: Catalogue, reports: frozenset[str]
) -> Iterator[DayTask]:
    """Yield the work on a vehicle that comes back from a hire; ``reports`` are the words for what it brought."""
    sheet = folder.built(name)
    facts = Facts(
        fittings=[fitted.fitting for fitted in sheet.fittings],
        tags_in=back.tags,
        reports=reports,
    )
    chosen = [task for task in catalogue.tasks.values() if _is_of_vehicle(task) and applies(task.when, facts)]
    for task in chosen:
        yield DayTask(
            id=f"{name}.{task.id}",
            kind=task.id,
            name=task.name,
            vehicle=name,
            modes=_modes(task, _scale(task, sheet, back)),
            zones=_zones(task),
            place=_place(task, folder),
            after=tuple(_after(task, chosen, name)),
            gate=task.gate,
            only_if_leaving=task.phase not in ON_RETURN,
            sd_min=task.sd_min * math.sqrt(_scale(task, sheet, back)),
        )


def departure_tasks(folder: DepotFolder, hire: Hire, catalogue: Catalogue) -> Iterator[DayTask]:
    """Yield what is done for one departure, whichever vehicle it takes."""
    sheet = folder.sheet_of(hire)
    facts = Facts(
        tags=hire.tags, options=hire.options, fittings=[fitted.fitting for fitted in sheet.fittings] if sheet else ()
    )
    chosen = [task for task in catalogue.tasks.values() if _is_of_departure(task) and applies(task.when, facts)]
    here = {task.id for task in chosen}
    for task in chosen:
        added = task.first_timer_add_min if "first_timer" in hire.tags else 0
        scale = _scale(task, sheet, hire)
        after = [After(f"{hire.id}.{other}") for other in task.after if other in here]
        after += [
            After(other, lag_min=int(catalogue.tasks[other].wait_min), on_vehicle=True)
            for other in task.after
            if other not in here and other not in LEFT_OUT
        ]
        yield DayTask(
            id=f"{hire.id}.{task.id}",
            kind=task.id,
            name=task.name,
            departure=hire.id,
            modes=_modes(task, scale, added),
            zones=_zones(task),
            place=_place(task, folder),
            after=tuple(after),
            not_by=tuple(NotBy(kind, on_vehicle=True) for kind in catalogue.tasks if _is_cleaning(catalogue, kind))
            if task.id in SECOND_EYES
            else (),
            needs_hirer=task.needs_hirer,
            gate=task.gate,
            counts=task.id != "out_message",
            sd_min=task.sd_min * math.sqrt(scale),
        )


def _is_of_vehicle(task: Task) -> bool:
    return task.id not in LEFT_OUT and task.phase in VEHICLE_PHASES and task.id not in FOR_THE_PARTY


def _is_of_departure(task: Task) -> bool:
    return task.id not in LEFT_OUT and not _is_of_vehicle(task) and task.phase not in (*VEHICLE_PHASES, "yard")


def _is_cleaning(catalogue: Catalogue, kind: str) -> bool:
    return catalogue.tasks[kind].phase == "clean" and kind not in LEFT_OUT


def _after(task: Task, chosen: list[Task], name: str) -> Iterator[After]:
    by_id = {other.id: other for other in chosen}
    for before in task.after:
        if before in by_id:
            yield After(f"{name}.{before}", lag_min=int(by_id[before].wait_min))


def _modes(task: Task, scale: float, added_min: float = 0.0) -> tuple[Mode, ...]:
    minutes = max(1, math.ceil(task.mean_min * scale + added_min))
    if task.hands_share < OWN_HANDS_SHARE:
        return (Mode(0, minutes),)
    alone = Mode(1, minutes, task.skill)
    if task.id in ALSO_BY:
        return alone, Mode(1, minutes, ALSO_BY[task.id])
    if task.id in SHARED:
        return alone, Mode(2, max(1, math.ceil(minutes * SHARED[task.id])), task.skill)
    return (alone,)


def _scale(task: Task, sheet: BuildSheet | None, hire: Hire) -> float:
    counts = {
        "": 1,
        "berth": sum(berth.sleeps for berth in sheet.berths) if sheet else 2,
        "belt": sum(1 for seat in sheet.seats if seat.belt != "none") if sheet else 2,
        "person": len(hire.party),
        "bike": max(1, len(hire.bikes)),
        "day": 1,
    }
    if task.id == "pack_child":
        return float(max(1, sum(1 for person in hire.party if person.age_years < 12)))  # noqa: PLR2004
    return float(counts[task.scale])


def _zones(task: Task) -> frozenset[str]:
    if task.moves_vehicle:
        return frozenset({ALL_ZONES})
    return frozenset(ZONES.get(task.id, ()))


def _place(task: Task, folder: DepotFolder) -> str | None:
    """Return the place a task takes room at.

    A bay is where the vehicle stands anyway and takes none; what the hirer does alone is done beside the depot's own
    tasks on a vehicle that has its room already.
    """
    if task.hands_share < OWN_HANDS_SHARE:
        return None
    return task.place if task.place in folder.depot.places and task.place != "bay" else None
