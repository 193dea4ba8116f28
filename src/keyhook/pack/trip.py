"""What the trip asks of the driver in figures, as plain values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Verdict = Literal["fits", "tight", "over", "stopped"]


@dataclass(frozen=True, slots=True)
class Locker:
    """A place for their things: the depot's name for it, what it may take, and what they said goes in [kg]."""

    name: str
    limit_kg: float
    told_kg: float


@dataclass(frozen=True, slots=True)
class Pressure:
    """Pressure of the tyres of one end of the vehicle, cold [kPa]."""

    end: Literal["front", "rear"]
    pressure_kpa: float


@dataclass(frozen=True, slots=True)
class TripLoad:
    """Sizes as driven [m], mass allowed [kg], and what is to spare at the tightest moment [kg]; negative is over."""

    height_m: float
    width_mirrors_m: float
    width_m: float
    length_m: float
    rack_adds_m: float
    mam_kg: float
    verdict: Verdict
    spare_front_kg: float
    spare_rear_kg: float
    spare_total_kg: float
    lockers: tuple[Locker, ...]
    rack_bikes: int
    rack_limit_kg: float
    fresh_l: float
    pressures: tuple[Pressure, ...]

    @property
    def spare_kg(self) -> float:
        """The least of the three margins [kg]."""
        return min(self.spare_front_kg, self.spare_rear_kg, self.spare_total_kg)
