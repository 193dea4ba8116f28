"""Units that drivers and papers need beside the metric ones."""

from __future__ import annotations

import math

KG_PER_LB = 0.45359237  #: exact, international pound
M_PER_FT = 0.3048  #: exact, international foot
KM_PER_MILE = 1.609344  #: exact
L_PER_GALLON = 4.54609  #: exact, imperial gallon
STANDARD_GRAVITY_M_S2 = 9.80665  #: exact by convention


def feet_inches_up(length_m: float) -> tuple[int, int]:
    """Return whole feet and inches, rounded up to the next inch, so a height is never understated."""
    inches = math.ceil(round(length_m / M_PER_FT * 12, 6))
    return divmod(inches, 12)


def pounds(mass_kg: float) -> int:
    """Return the mass in whole pounds, nearest."""
    return round(mass_kg / KG_PER_LB)


def miles(distance_km: float) -> float:
    """Return the distance in statute miles."""
    return distance_km / KM_PER_MILE
