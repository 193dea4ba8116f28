"""What a return brought and what hirers said on the phone: the news of a hire, kept beside it."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from pydantic import Field, field_validator

from keyhook.hire.hire import Hire
from keyhook.records import Name, NotNegative, Record, Text


class NewMark(Record):
    """A mark seen at the return.

    ``photo_out`` tells whether a photo from the collection shows the place whole; ``told`` whether the hirer
    said so unasked; ``age_months`` is the age of the part; ``charge`` the charge it may fall under.
    """

    place: Text
    what: Text
    photo_out: bool = False
    told: bool = False
    age_months: Annotated[int, Field(ge=0, le=600)]
    charge: Name
    size_mm: Annotated[int, Field(ge=1, le=9000)] | None = None


class ReturnNews(Record):
    """What came back: the minute, the gauges, the state inside, what is missing, marks, and what they said.

    ``missing`` names kit, once for each piece. ``gas_used_kg`` is weighed or reckoned from litres filled.
    """

    at: dt.datetime
    driven_km: NotNegative
    fuel_eighths: Annotated[int, Field(ge=0, le=8)]
    gas_used_kg: NotNegative = 0.0
    cassette: Text
    grey: Text
    inside: Text
    missing: tuple[Name, ...] = ()
    marks: tuple[NewMark, ...] = ()
    said: tuple[Text, ...] = ()
    announced_late: bool = False

    @field_validator("at")
    @classmethod
    def _has_an_offset(cls, value: dt.datetime) -> dt.datetime:
        return _aware(value)


class Call(Record):
    """A call from the road in the hirer's own words."""

    at: dt.datetime
    says: Annotated[str, Field(min_length=1, max_length=500)]

    @field_validator("at")
    @classmethod
    def _has_an_offset(cls, value: dt.datetime) -> dt.datetime:
        return _aware(value)


class HireFile(Record):
    """One hire as it stands in its own file, with its news: ``[hire]``, ``[back]``, ``[[calls]]``."""

    hire: Hire
    back: ReturnNews | None = None
    calls: tuple[Call, ...] = ()


def _aware(value: dt.datetime) -> dt.datetime:
    if value.tzinfo is None:
        raise ValueError("a time needs a UTC offset, for example 2026-07-10T14:00:00+01:00")
    return value
