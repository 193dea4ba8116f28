"""The depot folder: depot, staff, build sheets, vehicles, hires with their news, and tariff, checked as one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from keyhook.depot.depot import Depot, Staff
from keyhook.depot.tariff import Tariff
from keyhook.errors import UnknownName
from keyhook.hire.hire import Hire
from keyhook.hire.news import Call, ReturnNews
from keyhook.vehicle.build_sheet import BuildSheet, Vehicle, as_built

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class DepotFolder:
    """Everything a depot has written down. Mappings go by id, in the order of the files.

    ``returns`` and ``calls`` hold the news of those hires that have any.
    """

    depot: Depot
    staff: tuple[Staff, ...]
    sheets: Mapping[str, BuildSheet]
    vehicles: Mapping[str, Vehicle]
    hires: Mapping[str, Hire]
    tariff: Tariff
    returns: Mapping[str, ReturnNews] = field(default_factory=dict)
    calls: Mapping[str, tuple[Call, ...]] = field(default_factory=dict)

    def hire(self, hire_id: str) -> Hire:
        """Return the hire of this id.

        Raises
        ------
        UnknownName
            No hire has it.
        """
        return _named(self.hires, hire_id, "hire")

    def vehicle(self, vehicle_id: str) -> Vehicle:
        """Return the vehicle of this id; UnknownName when there is none."""
        return _named(self.vehicles, vehicle_id, "vehicle")

    def sheet(self, sheet_id: str) -> BuildSheet:
        """Return the build sheet of this id; UnknownName when there is none."""
        return _named(self.sheets, sheet_id, "build sheet")

    def built(self, vehicle_id: str) -> BuildSheet:
        """Return the sheet of one vehicle with its own tickets and tyre dates; UnknownName when there is none."""
        vehicle = self.vehicle(vehicle_id)
        return as_built(self.sheet(vehicle.sheet), vehicle)

    def sheet_of(self, hire: Hire) -> BuildSheet | None:
        """Return the sheet that a hire is answered with: its vehicle's own, else the class wanted, else None."""
        if hire.vehicle:
            return self.built(hire.vehicle)
        return self.sheet(hire.wanted_sheet) if hire.wanted_sheet else None


def _named(records: Mapping[str, T], name: str, kind: str) -> T:
    if name not in records:
        known = ", ".join(records) or "none yet"
        raise UnknownName(f"No {kind} has this name", seen=name, todo=f"Use one of: {known}")
    return records[name]
