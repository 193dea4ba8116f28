"""The depot itself and the people who work there."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field, model_validator

from keyhook.depot.amount import Amount
from keyhook.depot.window import Window
from keyhook.records import Name, NotNegative, Positive, Record, Text

Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
#: A language by its two letters, and what the depot's own words are called in it.
Language = Annotated[str, Field(pattern=r"^[a-z]{2}$")]
Spoken = Annotated[str, Field(min_length=1, max_length=300)]
WEEKDAYS: tuple[Weekday, ...] = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


class Counted(Record):
    """What a depot has counted of one teach point: in how many hires it went wrong, as a call or a charge.

    ``hires`` are those whose vehicle had the fitting and whose party was told; ``harmed`` of them came back with it.
    """

    hires: Annotated[int, Field(ge=0, le=1_000_000)]
    harmed: Annotated[int, Field(ge=0, le=1_000_000)]

    @model_validator(mode="after")
    def _no_more_than_there_were(self) -> Counted:
        if self.harmed > self.hires:
            raise ValueError("it cannot have gone wrong in more hires than were counted")
        return self


class Depot(Record):
    """The business and its yard.

    Parameters
    ----------
    zone
        Time zone in which its days are counted, for example ``Europe/London``.
    country
        Where it trades and its vehicles are registered, two letters.
    drives_on
        The side of the road at home; the nearside is on that hand.
    hours
        Opening hours by weekday; a day that is not named is closed.
    returns, collections
        The usual windows for keys in and keys out.
    slot_min
        Minutes between two returns in the book.
    places
        How many vehicles (or jobs) each place of the yard takes at a time.
    home_amps
        Hook-up posts in the yard, amperes each.
    phone
        Where a hirer rings, by day and night, as it is dialled from abroad; empty when it is not told.
    words
        By language: the depot's own words of sheets, vehicles and tariff (where a thing is, stations, cupboards,
        quirks, what is wear) as a hirer reads them in it. What is not there is shown as the depot wrote it.
    learnt
        By teach point of the catalogue: what this depot has counted of it.
    """

    id: Name
    name: Text
    place: Text
    zone: Text
    country: Annotated[str, Field(pattern=r"^[A-Z]{2}$")]
    currency: Annotated[str, Field(pattern=r"^[A-Z]{3}$")]
    drives_on: Literal["left", "right"]
    hours: dict[Weekday, Window]
    returns: Window
    collections: Window
    slot_min: Annotated[int, Field(ge=5, le=120)] = 20
    places: dict[Name, Annotated[int, Field(ge=0, le=99)]]
    home_amps: tuple[Annotated[int, Field(ge=1, le=63)], ...] = ()
    fuel_station_km: NotNegative | None = None
    weighbridge_km: NotNegative | None = None
    weighbridge_price: Amount | None = None
    practice_site_km: NotNegative | None = None
    port_km: NotNegative | None = None
    fleet_by_sheet: dict[Name, Annotated[int, Field(ge=0, le=9999)]] = Field(default_factory=dict)
    hires_per_year: Annotated[int, Field(ge=0)] | None = None
    nights_per_hire: Positive | None = None
    phone: Annotated[str, Field(pattern=r"^(\+?[0-9][0-9 ]{4,22}[0-9])?$")] = ""
    words: dict[Language, dict[Text, Spoken]] = Field(default_factory=dict)
    learnt: dict[Name, Counted] = Field(default_factory=dict)

    def open_at(self, local: dt.datetime) -> bool:
        """Tell whether the depot is open at a time on its own clock, the minute of closing included."""
        window = self.hours.get(WEEKDAYS[local.weekday()])
        return window is not None and window.holds(local.time())


class Words(Record):
    """The depot's own words in other languages, as they stand in a file of their own: see ``words`` of the depot."""

    words: dict[Language, dict[Text, Spoken]]


class Staff(Record):
    """One person who works at the depot.

    Parameters
    ----------
    skills
        Words of the task list: ``desk``, ``clean``, ``yard``, ``tech``.
    days
        Weekdays on which they work; all of the depot's when empty.
    break_min, break_window
        One unbroken break of so many minutes that begins within the window.
    pace_factor
        Minutes they take for one minute by the book: 1.5 is somebody in their third week, 0.9 a quick one.
    cost_per_hour
        In the depot's currency, exact.
    """

    id: Name
    name: Text
    role: Text
    skills: Annotated[tuple[Name, ...], Field(min_length=1)]
    shift: Window
    days: tuple[Weekday, ...] = ()
    break_min: Annotated[int, Field(ge=0, le=120)] = 45
    break_window: Window = Window.of("11:30-14:00")
    pace_factor: Annotated[float, Field(ge=0.5, le=3)] = 1.0
    cost_per_hour: Amount

    def works_on(self, day: dt.date, depot: Depot) -> bool:
        """Tell whether the person works on a local day; without days of their own, whenever the depot is open."""
        weekday = WEEKDAYS[day.weekday()]
        return weekday in (self.days or depot.hours)
