"""Axle loads by the balance of moments.

``x_m`` is measured rearward from the front axle, the wheelbase ``L`` to the load-share-weighted middle of the rear
group. A mass ``m`` at ``x`` puts ``m x / L`` on the rear and ``m (1 - x / L)`` on the front: behind the rear axle the
rear takes more than the mass and the front gets lighter.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from keyhook.errors import BadInput


@dataclass(frozen=True, slots=True)
class AxleLoads:
    """Loads on the front axle and on the rear group, kg; differences may be negative."""

    front_kg: float
    rear_kg: float

    @property
    def total_kg(self) -> float:
        """Sum of both, kg."""
        return self.front_kg + self.rear_kg

    def __add__(self, other: AxleLoads) -> AxleLoads:
        """Return both together."""
        return AxleLoads(self.front_kg + other.front_kg, self.rear_kg + other.rear_kg)

    def __sub__(self, other: AxleLoads) -> AxleLoads:
        """Return the difference."""
        return AxleLoads(self.front_kg - other.front_kg, self.rear_kg - other.rear_kg)


def rear_share(x_m: float, wheelbase_m: float) -> float:
    """Return the share of a mass at ``x_m`` that the rear group carries; over 1 behind it, negative before the front.

    Raises
    ------
    BadInput
        The wheelbase is not positive.
    """
    if wheelbase_m <= 0:
        raise BadInput("A wheelbase must be positive", seen=wheelbase_m, todo="Mend the axle places of the build sheet")
    return x_m / wheelbase_m


def axle_loads(mass_kg: float, x_m: float, wheelbase_m: float) -> AxleLoads:
    """Return what one mass [kg] at ``x_m`` adds to each axle, kg."""
    rear_kg = mass_kg * rear_share(x_m, wheelbase_m)
    return AxleLoads(mass_kg - rear_kg, rear_kg)


def axle_loads_of(masses: Iterable[tuple[float, float]], wheelbase_m: float) -> AxleLoads:
    """Return what many ``(mass_kg, x_m)`` add to each axle together, kg."""
    return sum((axle_loads(mass, x, wheelbase_m) for mass, x in masses), AxleLoads(0.0, 0.0))


def slope_error_kg(mass_kg: float, centre_height_m: float, slope_deg: float, wheelbase_m: float) -> float:
    """Return how much a slope [degrees] along the vehicle moves from one axle to the other when weighed, kg.

    ``m h tan(g) / L``; weigh level.
    """
    return mass_kg * centre_height_m * math.tan(math.radians(slope_deg)) / wheelbase_m
