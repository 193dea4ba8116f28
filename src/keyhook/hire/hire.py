"""The hire: party, drivers, options, loads, trip and times."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field, model_validator

from keyhook.records import Name, NotNegative, Positive, Record, Text

#: Hire tags of the catalogue (``meta.when_tags``); a test keeps the two equal.
Tag = Literal[
    "first_timer", "children", "infant", "frost", "heat", "hookup", "offgrid", "abroad", "ski", "festival",
    "pets", "bikes", "towing", "over35", "ferry", "long", "storm",
]  # fmt: skip
Status = Literal["enquiry", "booked", "out", "returned", "closed", "cancelled"]


class Person(Record):
    """One of the party. ``mass_kg`` None means nobody told: the typical mass for the age is used.

    ``weighed`` True: the mass was read off a scale, not told.
    """

    name: str = Field(default="", max_length=120)
    age_years: Annotated[float, Field(ge=0, le=120)]
    mass_kg: Annotated[float, Field(gt=0, le=300)] | None = None
    height_cm: Annotated[float, Field(gt=30, le=230)] | None = None
    seat: Name | None = None
    berth: Name | None = None
    weighed: bool = False


class Licence(Record):
    """Facts of one driver's licence; no number and no scan is ever kept."""

    person: Annotated[int, Field(ge=0)]
    categories: tuple[Literal["B", "B_automatic", "C1", "C1_automatic", "C1E", "BE"], ...]
    born_on: dt.date | None = None
    car_test_on: dt.date | None = None
    years_held: NotNegative | None = None
    c1_restored_at_70: bool = False
    medical_d4: bool = False
    issued_in: Annotated[str, Field(pattern=r"^[A-Z]{2}$")] = "GB"


class Load(Record):
    """What goes into one store. ``told`` False marks a depot's estimate, ``weighed`` True a mass read off a scale."""

    store: Name
    mass_kg: NotNegative
    what: str = Field(default="", max_length=120)
    told: bool = True
    weighed: bool = False


class Bike(Record):
    """One bicycle on the rack; ``battery_kg`` is the part of its mass that comes off, ``weighed`` as for loads."""

    mass_kg: Positive
    electric: bool = False
    battery_kg: NotNegative = 0.0
    weighed: bool = False


class Pet(Record):
    """An animal that travels with them."""

    what: Text
    mass_kg: Positive


class Trailer(Record):
    """A trailer on the tow bar."""

    mass_kg: Positive
    ball_kg: NotNegative
    mam_kg: Positive


class Leg(Record):
    """One stretch of the trip: nights at one kind of pitch, reached by a drive."""

    nights: Annotated[int, Field(ge=0, le=120)]
    hookup_amps: Annotated[int, Field(ge=0, le=63)] = 0
    drive_km: NotNegative = 0.0
    where: str = Field(default="", max_length=120)


class Crossing(Record):
    """A ferry or tunnel booked with sizes."""

    height_m: Positive
    length_m: Positive


class Trip(Record):
    """Where they go."""

    where: str = Field(default="", max_length=200)
    legs: tuple[Leg, ...] = ()
    countries: tuple[Annotated[str, Field(pattern=r"^[A-Z]{2}$")], ...] = ("GB",)
    night_c: tuple[float, float] | None = None
    day_c: tuple[float, float] | None = None
    crossing: Crossing | None = None
    late_arrival: str = Field(default="", max_length=200)


class Hire(Record):
    """One hire. Times are aware; ``zone`` is the depot's zone, in which days are counted."""

    id: Name
    lead: Text
    vehicle: Name | None = None
    wanted_sheet: Name | None = None
    status: Status
    collect_at: dt.datetime
    return_at: dt.datetime
    zone: str = "Europe/London"
    party: Annotated[tuple[Person, ...], Field(min_length=1, max_length=12)]
    drivers: tuple[Licence, ...] = ()
    tags: tuple[Tag, ...] = ()
    options: tuple[Name, ...] = ()
    loads: tuple[Load, ...] = ()
    bikes: tuple[Bike, ...] = ()
    pets: tuple[Pet, ...] = ()
    trailer: Trailer | None = None
    fresh_l: NotNegative | None = None
    trip: Trip = Trip()
    note: str = Field(default="", max_length=1000)

    @model_validator(mode="after")
    def _ends_after_it_begins(self) -> Hire:
        if self.collect_at.tzinfo is None or self.return_at.tzinfo is None:
            raise ValueError("times need a UTC offset, for example 2026-07-10T14:00:00+01:00")
        if self.return_at <= self.collect_at:
            raise ValueError("the return must come after the collection")
        return self
