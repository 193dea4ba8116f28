"""What if another vehicle of the yard? The same hire through every vehicle, best first."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from keyhook.basis import Level
from keyhook.catalogue import Catalogue
from keyhook.hire.hire import Hire, Load, Person
from keyhook.loading.answer import loading_answer
from keyhook.loading.outcome import LoadingAnswer
from keyhook.loading.settings import LoadingSettings
from keyhook.vehicle.build_sheet import BuildSheet


@dataclass(frozen=True, slots=True)
class SwapLine:
    """One vehicle of the yard for this hire."""

    vehicle: str
    sheet: str
    answer: LoadingAnswer

    @property
    def stops(self) -> int:
        """How many findings stop it."""
        return sum(1 for finding in self.answer.findings if finding.level is Level.STOP)


def fitted_to(sheet: BuildSheet, hire: Hire) -> Hire:
    """Return the hire as it would be in another vehicle: seats and berths open, things in the nearest alike store."""
    seats = {seat.id for seat in sheet.seats}
    berths = {berth.id for berth in sheet.berths}
    party = tuple(_freed(person, seats, berths) for person in hire.party)
    loads = tuple(_restored(load, sheet) for load in hire.loads) if sheet.stores else ()
    return hire.model_copy(update={"party": party, "loads": loads})


def swap_table(
    vehicles: Mapping[str, BuildSheet],
    hire: Hire,
    catalogue: Catalogue,
    *,
    on_day: dt.date | None = None,
    settings: LoadingSettings | None = None,
) -> tuple[SwapLine, ...]:
    """Return a line for each vehicle (id to sheet as built), the best first: fewest stops, then most margin."""
    lines = _lines(vehicles.items(), hire, catalogue, on_day, settings or LoadingSettings())
    return tuple(sorted(lines, key=lambda line: (line.stops, -line.answer.worst.least_margin_kg)))


def _lines(
    vehicles: Iterable[tuple[str, BuildSheet]],
    hire: Hire,
    catalogue: Catalogue,
    on_day: dt.date | None,
    settings: LoadingSettings,
) -> Iterable[SwapLine]:
    for vehicle, sheet in vehicles:
        moved = hire if vehicle == hire.vehicle else fitted_to(sheet, hire)
        yield SwapLine(vehicle, sheet.id, loading_answer(sheet, moved, catalogue, on_day=on_day, settings=settings))


def _freed(person: Person, seats: set[str], berths: set[str]) -> Person:
    changes: dict[str, None] = {}
    if person.seat not in seats:
        changes["seat"] = None
    if person.berth not in berths:
        changes["berth"] = None
    return person.model_copy(update=changes)


def _restored(load: Load, sheet: BuildSheet) -> Load:
    stores = {store.id: store for store in sheet.stores}
    if load.store in stores:
        return load
    alike = [name for name in stores if name.split("_")[0] == load.store.split("_")[0]]
    target = alike[0] if alike else max(stores, key=lambda name: stores[name].limit_kg)
    return load.model_copy(update={"store": target})
