"""Who may sit where: belts, child restraints and seats, and the order that moves the fewest people.

The law differs by country and the seat maker's instructions come first; what is computed here is the rule of thumb a
careful desk applies before it looks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.optimize import linear_sum_assignment

from keyhook.basis import Basis, Because, Input
from keyhook.hire.hire import Person
from keyhook.loading.items import CHILD_SEAT_UNTIL_YEARS, CHILD_UNTIL_YEARS
from keyhook.vehicle.build_sheet import Berth, Seat

Restraint = Literal["none", "infant_carrier", "child_seat", "booster"]

INFANT_UNTIL_YEARS = 1.25
DRIVER_ANSWERS_UNDER_YEARS = 14.0
ADULT_FROM_YEARS = 18.0
#: Height from which the adult belt alone is allowed, cm: Great Britain; other countries go up to 150 (from memory).
GB_HEIGHT_CM, WIDER_HEIGHT_CM = 135.0, 150.0

_FORBIDDEN = 1e6


def restraint_height_cm(countries: Sequence[str]) -> float:
    """Return the strictest height of the trip from which no child restraint is asked for, cm."""
    return GB_HEIGHT_CM if all(country == "GB" for country in countries) else WIDER_HEIGHT_CM


def restraint_for(age_years: float, height_cm: float | None, until_height_cm: float) -> Restraint:
    """Return what a person of this age [years] and height [cm, None when not told] needs."""
    if age_years >= CHILD_UNTIL_YEARS or (height_cm is not None and height_cm >= until_height_cm):
        return "none"
    if age_years < INFANT_UNTIL_YEARS:
        return "infant_carrier"
    return "child_seat" if age_years < CHILD_SEAT_UNTIL_YEARS else "booster"


def who_answers(age_years: float) -> Literal["driver", "own"]:
    """Return whose duty the belt is: the driver's under 14, else one's own (Great Britain)."""
    return "driver" if age_years < DRIVER_ANSWERS_UNDER_YEARS else "own"


def why_not(person: Person, seat: Seat, until_height_cm: float) -> str:
    """Return the phrase key of the reason why this person may not sit there; empty when they may."""
    restraint = restraint_for(person.age_years, person.height_cm, until_height_cm)
    checks = (
        (seat.belt == "none", "no_belt"),
        (seat.driver, "driver_seat"),
        (seat.facing == "sideways" and restraint != "none", "sideways_child"),
        (seat.adults_only and person.age_years < ADULT_FROM_YEARS, "adults_only"),
        (restraint == "infant_carrier" and seat.frontal_airbag, "airbag"),
        (restraint == "infant_carrier" and seat.hollow_locker_under, "hollow_locker"),
        (restraint in {"booster", "child_seat", "infant_carrier"} and seat.belt == "lap", "lap_belt"),
    )
    return next((key for wrong, key in checks if wrong), "")


@dataclass(frozen=True, slots=True)
class Place:
    """Where one person sits: as told, as proposed, what they need, what is wrong with the told seat (phrase key)."""

    person: int
    told: str
    proposed: str
    restraint: Restraint
    wrong: str
    needs_height: bool


@dataclass(frozen=True, slots=True)
class Seating:
    """Every person's seat. ``possible`` is False when no order is allowed; ``moves`` people sit elsewhere than told."""

    places: tuple[Place, ...]
    possible: bool
    belts: int
    until_height_cm: float

    @property
    def moves(self) -> tuple[Place, ...]:
        """People whom the proposal seats elsewhere than told."""
        return tuple(place for place in self.places if place.told and place.proposed and place.told != place.proposed)

    @property
    def because(self) -> Because:
        """Why."""
        inputs = (
            Input("seats with a belt", self.belts, "", "build sheet", Basis.MEASURED),
            Input("child restraint until", CHILD_UNTIL_YEARS, "years", "whichever comes first", Basis.PUBLISHED),
            Input("or height", self.until_height_cm, "cm", "strictest country of the trip", Basis.PUBLISHED),
        )
        return Because("fewest people moved among all allowed orders", inputs, Basis.PUBLISHED, "gb-seat-belts-1993")


def seat_party(
    party: Sequence[Person], seats: Sequence[Seat], drivers: Sequence[int], countries: Sequence[str]
) -> Seating:
    """Return the seating that moves the fewest people; ``drivers`` are those who may drive this vehicle."""
    until_cm = restraint_height_cm(countries)
    cost = _costs(party, seats, drivers, until_cm)
    rows, columns = linear_sum_assignment(cost)
    pairs = ((int(row), int(column)) for row, column in zip(rows, columns, strict=True))
    chosen = {row: seats[column].id for row, column in pairs if row < len(party) and column < len(seats)}
    total = float(cost[rows, columns].sum())
    belts = sum(1 for seat in seats if seat.belt != "none")
    possible = total < _FORBIDDEN and len(party) <= belts and bool(drivers)
    by_id = {seat.id: seat for seat in seats}
    taken: set[str] = set()
    places = []
    for number, person in enumerate(party):
        places.append(
            _place(number, person, by_id, drivers, until_cm, taken, chosen.get(number, "") if possible else "")
        )
        taken.add(person.seat or "")
    return Seating(tuple(places), possible, belts, until_cm)


def _costs(
    party: Sequence[Person], seats: Sequence[Seat], drivers: Sequence[int], until_cm: float
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    size = max(len(party), len(seats))
    cost = np.zeros((size, size))
    cost[:, len(seats) :] = _FORBIDDEN  # more people than seats
    for number, person in enumerate(party):
        for column, seat in enumerate(seats):
            allowed = number in drivers if seat.driver else not why_not(person, seat, until_cm)
            stays = person.seat in (None, seat.id)
            # among equal orders a moved person takes the seat furthest forward
            cost[number, column] = (0.0 if stays else 1.0 + column / 1000) if allowed else _FORBIDDEN
    for column, seat in enumerate(seats):  # an empty driver's seat is no order at all
        if seat.driver:
            cost[len(party) :, column] = _FORBIDDEN
    return cost


def _place(
    number: int,
    person: Person,
    seats: dict[str, Seat],
    drivers: Sequence[int],
    until_cm: float,
    taken: set[str],
    proposed: str,
) -> Place:
    told = person.seat or ""
    restraint = restraint_for(person.age_years, person.height_cm, until_cm)
    needs_height = restraint == "booster" and person.height_cm is None
    return Place(
        number, told, proposed, restraint, _wrong(number, person, seats, drivers, until_cm, taken), needs_height
    )


def _wrong(
    number: int, person: Person, seats: dict[str, Seat], drivers: Sequence[int], until_cm: float, taken: set[str]
) -> str:
    if not person.seat:
        return ""
    seat = seats.get(person.seat)
    if seat is None:
        return "unknown_seat"
    if person.seat in taken:
        return "taken"
    if seat.driver:
        return "" if number in drivers else "may_not_drive"
    return why_not(person, seat, until_cm)


@dataclass(frozen=True, slots=True)
class Sleeping:
    """Who sleeps where: berth id a person, in party order; empty when no order keeps every berth in its limit."""

    berths: tuple[str, ...]
    possible: bool
    sleeps: int


def sleep_party(masses_kg: Sequence[float], berths: Sequence[Berth], told: Sequence[str | None]) -> Sleeping:
    """Return a berth for everybody within numbers and mass limits; told berths are kept."""
    order = sorted(range(len(masses_kg)), key=lambda number: -masses_kg[number])
    room = {berth.id: berth.sleeps for berth in berths}
    left = {berth.id: berth.limit_kg for berth in berths}
    chosen: dict[int, str] = {}

    def place(position: int) -> bool:
        if position == len(order):
            return True
        number = order[position]
        for berth_id in [told[number]] if told[number] in room else list(room):
            if berth_id is None or room[berth_id] == 0 or left[berth_id] < masses_kg[number]:
                continue
            room[berth_id] -= 1
            left[berth_id] -= masses_kg[number]
            chosen[number] = berth_id
            if place(position + 1):
                return True
            room[berth_id] += 1
            left[berth_id] += masses_kg[number]
        return False

    possible = place(0)
    berth_of = tuple(chosen.get(number, "") for number in range(len(masses_kg))) if possible else ()
    return Sleeping(berth_of, possible, sum(berth.sleeps for berth in berths))
