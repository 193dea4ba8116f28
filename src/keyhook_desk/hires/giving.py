"""Other vehicles for several hires at once: what each would be in its new one, and which cannot have it and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from keyhook.hire.hire import Hire
from keyhook.loading.swap import fitted_to
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.fleet.sheets import built_of
from keyhook_desk.hires.models import HOLDING, HireRow, Status
from keyhook_desk.hires.panel import Chip, chip
from keyhook_desk.hires.selectors import hire_of
from keyhook_desk.web.errors import DoubleHire
from keyhook_desk.web.kept import Kept

#: Hires that have not left yet: only these are given another vehicle.
STILL_HERE = (Status.BOOKED, Status.ENQUIRY)
_CHIPS: Kept[Chip] = Kept(256)


@dataclass(frozen=True, slots=True)
class Gift:
    """A vehicle for a hire (empty for none), and the version of the hire that somebody looked at."""

    hire: str
    seen_version: int
    vehicle: str


@dataclass(frozen=True, slots=True)
class Given:
    """Hires that have their vehicle now, and those that have not, each with a sentence why."""

    hires: tuple[str, ...]
    refused: Mapping[str, str]


def already_given(vehicle: str, other: HireRow | None, zone: str) -> DoubleHire:
    """Return the sentence that a vehicle is with another hire."""
    seen = "another hire"
    if other is not None:
        first, last = (moment.astimezone(ZoneInfo(zone)) for moment in (other.collect_at, other.return_at))
        seen = f"{other.name} {other.lead}, {first:%-d %b %H:%M} to {last:%-d %b %H:%M}"
    wrong = f"{vehicle} is already given to another hire at that time"
    return DoubleHire(wrong, seen=seen, todo="Change the times or the vehicle")


# ---------------------------------------------------------------- which cannot, and why


def refusals(rows: Sequence[HireRow], wanted: Mapping[str, VehicleRow | None]) -> dict[str, str]:
    """Return why hires cannot have the vehicle wanted for them, by number.

    Whoever keeps its vehicle may stand in the way of another one, which then keeps its own too, and so on.
    """
    found = {row.name: why for row in rows if (why := _alone(row, wanted[row.name]))}
    others = _holders(rows, wanted)
    while True:
        leaving = {row.name for row in rows if row.name not in found}
        stuck = {
            row.name: _taken(row, vehicle, other)
            for row in rows
            if row.name in leaving and (vehicle := wanted[row.name])
            for other in others
            if other.name not in leaving and _in_the_way(row, vehicle, other)
        }
        if not stuck:
            return found
        found |= stuck


def _alone(row: HireRow, vehicle: VehicleRow | None) -> str:
    """Return why a hire cannot have a vehicle whoever else has it; empty when nothing stands against it."""
    if row.status not in STILL_HERE:
        return f"It is {row.get_status_display().lower()}, so its vehicle stays as it was."
    if vehicle is None:
        return ""
    if row.document["loads"] and not built_of(vehicle).stores:
        return f"{vehicle.name} has no store on its build sheet for what they bring. Write one there first."
    stops = chip_in(row, vehicle).stops
    return f"{vehicle.name} does not carry it: {' '.join(stops)}" if stops else ""


def chip_in(row: HireRow, vehicle: VehicleRow) -> Chip:
    """Return the loading answer of a hire in another vehicle, in a few words; ``vehicle.sheet`` should be loaded."""
    hire = hire_of(row)
    day = hire.collect_at.astimezone(ZoneInfo(hire.zone)).date()
    key = (row.digest, vehicle.digest, vehicle.sheet.digest, day)
    return _CHIPS.answer(key, lambda: chip(built_of(vehicle), in_vehicle(hire, vehicle), on_day=day))


def _holders(rows: Sequence[HireRow], wanted: Mapping[str, VehicleRow | None]) -> list[HireRow]:
    """Return every hire that holds one of the wanted vehicles somewhere in the time of these."""
    if not rows:
        return []
    vehicles = [vehicle.pk for row in rows if (vehicle := wanted[row.name])]
    first, last = min(row.collect_at for row in rows), max(row.return_at for row in rows)
    holding = HireRow.objects.filter(vehicle__in=vehicles, status__in=[status.value for status in HOLDING])
    return list(holding.filter(collect_at__lt=last, return_at__gt=first).defer("document", "news"))


def _in_the_way(row: HireRow, vehicle: VehicleRow, other: HireRow) -> bool:
    same = other.vehicle_id == vehicle.pk and other.pk != row.pk
    overlaps = other.collect_at < row.return_at and row.collect_at < other.return_at
    return same and overlaps and row.status in {status.value for status in HOLDING}


def _taken(row: HireRow, vehicle: VehicleRow, other: HireRow) -> str:
    return str(already_given(vehicle.name, other, hire_of(row).zone))


# ---------------------------------------------------------------- there and back


def in_vehicle(hire: Hire, vehicle: VehicleRow | None) -> Hire:
    """Return the hire as it would be in a vehicle; without any, people and things stay where they were."""
    if vehicle is None:
        return hire.model_copy(update={"vehicle": None})
    return fitted_to(built_of(vehicle), hire).model_copy(update={"vehicle": vehicle.name})


def move_of(before: Hire, after: Hire, version: int) -> dict[str, Any]:
    """Return what has to be known to put a hire back: its vehicle, and where people and things were.

    Places only: what a party brings and who it is stands in the hire alone, so that a purge of the hire reaches it all.
    """
    return {
        "hire": before.id,
        "version": version,
        "from": before.vehicle,
        "to": after.vehicle,
        "places": [[person.seat, person.berth] for person in before.party],
        "stores": [load.store for load in before.loads],
    }


def as_before(hire: Hire, move: Mapping[str, Any]) -> Hire:
    """Return a hire put back into the vehicle, seats, berths and stores it had."""
    places = zip(hire.party, move["places"], strict=True)
    stores = zip(hire.loads, move["stores"], strict=True)
    back = {
        "vehicle": move["from"],
        "party": [{**person.model_dump(mode="json"), "seat": seat, "berth": berth} for person, (seat, berth) in places],
        "loads": [{**load.model_dump(mode="json"), "store": store} for load, store in stores],
    }
    return Hire.model_validate({**hire.model_dump(mode="json"), **back})
