"""The same drawing in sentences, for whoever hears the page."""

from __future__ import annotations

from collections.abc import Sequence

from keyhook.units import feet_inches_up
from keyhook.vehicle.build_sheet import BuildSheet


def describe_plan(sheet: BuildSheet) -> str:
    """Return what the plan shows, front to rear."""
    rear = ", ".join(f"{axle.x_m:g} m" for axle in sheet.axles[1:])
    kind = "two rear axles" if len(sheet.axles) > 2 else "a rear axle"  # noqa: PLR2004  # a tandem
    seats = _listed([f"{seat.id.replace('_', ' ')}" for seat in sheet.seats])
    berths = _listed([f"{berth.name} for {berth.sleeps}" for berth in sheet.berths])
    stores = _listed([f"{store.name} up to {store.limit_kg:g} kg" for store in sheet.stores])
    tanks = _listed([f"{tank.holds.replace('_', ' ')} {tank.capacity_l:g} l" for tank in sheet.tanks])
    return (
        f"Plan of {sheet.name}, {sheet.dimensions.length_m:g} m long and {sheet.dimensions.width_m:g} m wide, front to "
        f"the left, with {kind} {rear} behind the front axle. Seats: {seats}. Beds: {berths}. Stores: {stores}. "
        f"Tanks: {tanks}. {len(sheet.fittings)} fittings carry find-it numbers."
    )


def describe_elevation(sheet: BuildSheet, side: str) -> str:
    """Return what an elevation shows."""
    feet, inches = feet_inches_up(sheet.dimensions.height_m)
    return (
        f"{sheet.name} from the {side}: {sheet.dimensions.length_m:g} m long, {sheet.dimensions.height_m:g} m "
        f"({feet} ft {inches} in) high."
    )


def _listed(words: Sequence[str]) -> str:
    return ", ".join(words) if words else "none"
