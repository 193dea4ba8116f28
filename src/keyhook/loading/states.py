"""The states of the trip: every way in which tanks and stores can stand on the road, not only at departure.

A *planned* state happens however careful the party is and decides the verdict. The others happen when advice is not
followed (fresh water filled again before the grey tank is emptied); they are shown with what to do.
"""

from __future__ import annotations

from dataclasses import dataclass

from keyhook.hire.hire import Hire
from keyhook.loading.items import Filling
from keyhook.vehicle.build_sheet import BuildSheet, Holds


@dataclass(frozen=True, slots=True)
class TripState:
    """One state: its key in the phrase book (``loading.state.*``), how full everything is, whether it is planned."""

    key: str
    filling: Filling
    planned: bool


def planned_fresh_l(sheet: BuildSheet, hire: Hire) -> float:
    """Return the fresh water they set off with, l: as asked, else the depot's travel level, else a full tank."""
    tank = sheet.tank("fresh")
    if tank is None:
        return 0.0
    if hire.fresh_l is not None:
        return min(hire.fresh_l, tank.capacity_l)
    return tank.travel_l if tank.travel_l is not None else tank.capacity_l


def trip_states(sheet: BuildSheet, fresh_l: float) -> tuple[TripState, ...]:
    """Return every state of the trip for a vehicle that travels with ``fresh_l`` of fresh water."""
    grey_l, cassette_l, boiler_l = (_capacity_l(sheet, holds) for holds in ("grey", "cassette", "boiler"))
    full_l = _capacity_l(sheet, "fresh")
    used_l = min(grey_l, full_l)
    return (
        TripState("departure", Filling(fresh_l, 0.0, boiler_l, 0.0, 1.0, 1.0), planned=True),
        TripState("moving_on", Filling(fresh_l, 0.0, boiler_l, cassette_l / 2, 1.0, 0.7), planned=True),
        TripState("coming_home", Filling(0.0, 0.0, boiler_l, 0.0, 1.0, 0.3), planned=True),
        TripState("low_fuel", Filling(fresh_l, 0.0, boiler_l, cassette_l, 0.15, 0.5), planned=True),
        TripState("fresh_full", Filling(full_l, 0.0, boiler_l, 0.0, 1.0, 1.0), planned=False),
        TripState("grey_not_emptied", Filling(fresh_l, used_l, boiler_l, cassette_l, 1.0, 0.7), planned=False),
        TripState("refilled_before_emptying", Filling(full_l, used_l, boiler_l, cassette_l, 1.0, 0.7), planned=False),
    )


def _capacity_l(sheet: BuildSheet, holds: Holds) -> float:
    tank = sheet.tank(holds)
    return tank.capacity_l if tank else 0.0
