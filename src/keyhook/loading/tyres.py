"""What the tyres may carry, how old they are."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from keyhook.errors import BadInput
from keyhook.vehicle.build_sheet import BuildSheet, Tyre

#: Years after which a depot looks, and after which it changes (common practice).
LOOK_AFTER_YEARS, CHANGE_AFTER_YEARS = 6.0, 10.0
LEAST_TREAD_MM = 1.6


@dataclass(frozen=True, slots=True)
class AxleTyres:
    """The tyres of one axle: what they may carry together [kg], age [years], and the axle's plated limit [kg]."""

    tyre: Tyre
    axle: int
    capacity_kg: float
    limit_kg: float
    age_years: float

    @property
    def binds(self) -> bool:
        """Whether the tyres carry less than the axle may."""
        return self.capacity_kg < self.limit_kg


def axle_capacity_kg(load_index: int, count: int, table: Mapping[int, float]) -> float:
    """Return what an axle's tyres carry, kg; for four tyres give the index for twinned fitting.

    Raises
    ------
    BadInput
        The index is not in the table (60 to 130).
    """
    if load_index not in table:
        raise BadInput("No such tyre load index", seen=load_index, todo="Read it off the tyre wall, 60 to 130")
    return table[load_index] * count


def least_index(axle_kg: float, count: int, table: Mapping[int, float]) -> int:
    """Return the lowest load index whose ``count`` tyres carry ``axle_kg``."""
    enough = [index for index, mass_kg in table.items() if mass_kg * count >= axle_kg]
    if not enough:
        raise BadInput("No tyre of the table carries this axle", seen=f"{axle_kg} kg", todo="Check the axle load")
    return min(enough)


def made_in(date_code: str) -> dt.date:
    """Return the Monday of the week in a four-digit date code (week, then year since 2000).

    Raises
    ------
    BadInput
        The code has no such week.
    """
    week, year = int(date_code[:2]), 2000 + int(date_code[2:])
    try:
        return dt.date.fromisocalendar(year, week, 1)
    except ValueError as error:
        raise BadInput(
            "A tyre date code is week and year, 0124 for week 1 of 2024",
            seen=date_code,
            todo="Read it off the tyre again",
        ) from error


def axle_tyres(sheet: BuildSheet, table: Mapping[int, float], on_day: dt.date) -> tuple[AxleTyres, ...]:
    """Return the tyres of each axle, front first."""
    tyres = {tyre.id: tyre for tyre in sheet.tyres}
    found: list[AxleTyres] = []
    for number, axle in enumerate(sheet.axles):
        tyre = tyres[axle.tyre]
        age_years = (on_day - made_in(tyre.date_code)).days / 365.25
        limit_kg = min(axle.limit_kg, sheet.limits.front_kg) if number == 0 else axle.limit_kg
        capacity_kg = axle_capacity_kg(tyre.load_index, tyre.count, table)
        found.append(AxleTyres(tyre, number, capacity_kg, limit_kg, age_years))
    return tuple(found)
