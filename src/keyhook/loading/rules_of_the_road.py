"""Speed limits by unladen mass and length, and the least pay-mass of type approval: two masses people mix up."""

from __future__ import annotations

from dataclasses import dataclass

UNLADEN_LIMIT_KG = 3050.0
LONG_M = 12.0


@dataclass(frozen=True, slots=True)
class SpeedLimits:
    """Great Britain, miles an hour: built-up, single carriageway, dual carriageway, motorway."""

    built_up_mph: int
    single_mph: int
    dual_mph: int
    motorway_mph: int


def speed_limits(unladen_kg: float, length_m: float, *, trailer: bool) -> SpeedLimits:
    """Return the limits for a motor caravan (source ``gb-speed-limits``); signs and local law come first.

    The unladen mass leaves out fuel, the traction battery and loose equipment; it is neither MAM nor kerb mass.
    """
    if trailer or length_m > LONG_M:
        return SpeedLimits(30, 50, 60, 60)
    if unladen_kg > UNLADEN_LIMIT_KG:
        return SpeedLimits(30, 50, 60, 70)
    return SpeedLimits(30, 60, 70, 70)


def least_pay_mass_kg(seats: int, length_m: float) -> float:
    """Return ``10 (n + L)`` kg (source ``eu-1230-2012``): the least pay-mass of type approval, not the payload."""
    return 10.0 * (seats + length_m)
