"""The parts of a loading answer, as plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from keyhook.basis import Figure, Finding, Level
from keyhook.loading.calibration import Calibration
from keyhook.loading.chance import LoadSpread, OverloadChance
from keyhook.loading.items import Item
from keyhook.loading.licence import LicenceAnswer
from keyhook.loading.seating import Seating, Sleeping
from keyhook.loading.states import TripState
from keyhook.loading.statics import AxleLoads
from keyhook.loading.tyres import AxleTyres

Verdict = Literal["fits", "tight", "over"]
#: The verdict by weight, or ``stopped`` when it fits by weight and something else stops the hire.
Overall = Literal["fits", "tight", "over", "stopped"]
#: Findings besides overload that packing otherwise can cure.
CURED_BY_PACKING = frozenset({"loading.store_over", "loading.rack_over"})
AXLES = ("front", "rear", "total")


@dataclass(frozen=True, slots=True)
class EffectiveLimits:
    """What front axle, rear group and total may carry, kg: the least of plate, axles and tyres; and what binds."""

    front_kg: float
    rear_kg: float
    total_kg: float
    front_binds: str
    rear_binds: str

    def of(self, axle: str) -> float:
        """Return the limit of ``front``, ``rear`` or ``total``, kg."""
        return {"front": self.front_kg, "rear": self.rear_kg, "total": self.total_kg}[axle]


@dataclass(frozen=True, slots=True)
class StateLoads:
    """One state of the trip: loads as told, margins to each limit [kg], spread and chance of overload."""

    state: TripState
    loads: AxleLoads
    margin_kg: Mapping[str, float]
    spread: LoadSpread
    chance: OverloadChance

    @property
    def least_margin_kg(self) -> float:
        """The smallest of the three margins, kg."""
        return min(self.margin_kg.values())

    def load_kg(self, axle: str) -> float:
        """Return the load as told on ``front``, ``rear`` or ``total``, kg."""
        return {"front": self.loads.front_kg, "rear": self.loads.rear_kg, "total": self.loads.total_kg}[axle]


@dataclass(frozen=True, slots=True)
class DriverLine:
    """One named driver and whether they may drive this vehicle."""

    person: int
    label: str
    answer: LicenceAnswer


@dataclass(frozen=True, slots=True)
class RackLine:
    """The rack: what hangs on it, its limit, both with and without bike batteries, kg."""

    load_kg: float
    without_batteries_kg: float
    limit_kg: float
    bikes: int
    bikes_limit: int


@dataclass(frozen=True, slots=True)
class CabCard:
    """What the driver needs at eye level: metres, feet and inches (rounded up), kilograms and pounds."""

    height_m: float
    width_m: float
    width_mirrors_m: float
    length_m: float
    length_with_rack_m: float
    mam_kg: float
    rack_on: bool


@dataclass(frozen=True, slots=True)
class LoadingAnswer:
    """Will it carry them? Everything that was found, for one hire in one vehicle."""

    verdict: Verdict
    findings: tuple[Finding, ...]
    figures: Mapping[str, Figure]
    limits: EffectiveLimits
    states: tuple[StateLoads, ...]
    items: tuple[Item, ...]
    calibration: Calibration
    seating: Seating
    sleeping: Sleeping
    drivers: tuple[DriverLine, ...]
    tyres: tuple[AxleTyres, ...]
    rack: RackLine | None
    cab_card: CabCard
    fresh_l: float

    @property
    def planned(self) -> tuple[StateLoads, ...]:
        """The states that happen however careful the party is."""
        return tuple(state for state in self.states if state.state.planned)

    @property
    def worst(self) -> StateLoads:
        """The planned state with the least margin; it decides the verdict."""
        return min(self.planned, key=lambda state: state.least_margin_kg)

    @property
    def worst_of_all(self) -> StateLoads:
        """The state with the least margin of all, planned or not."""
        return min(self.states, key=lambda state: state.least_margin_kg)

    @property
    def overall(self) -> Overall:
        """What to say first: nothing that stops the hire is ever called fitting."""
        return "stopped" if self.level is Level.STOP and self.verdict != "over" else self.verdict

    @property
    def wants_repacking(self) -> bool:
        """Whether the least change is worth working out: too heavy, or a store or the rack over its limit."""
        return self.verdict == "over" or any(found.code in CURED_BY_PACKING for found in self.findings)

    @property
    def level(self) -> Level | None:
        """The gravest level among the findings."""
        levels = {finding.level for finding in self.findings}
        return next((level for level in Level if level in levels), None)
