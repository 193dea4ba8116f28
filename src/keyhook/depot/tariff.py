"""The tariff: what a hire costs, what is included, what else is charged, and where fairness sets a limit.

Every sum is exact (whole numbers or text) in the tariff's currency, tax included; no float comes near money.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field, model_validator

from keyhook.depot.amount import Amount
from keyhook.money import Money
from keyhook.records import Name, Record, Text

Percent = Annotated[int, Field(ge=0, le=100)]
Days = Annotated[int, Field(ge=0, le=999)]
Minutes = Annotated[int, Field(ge=0, le=9999)]
MonthDay = Annotated[str, Field(pattern=r"^(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$")]
Clock = Annotated[str, Field(pattern=r"^([01][0-9]|2[0-3]):[0-5][0-9]$")]
Note = Annotated[str, Field(max_length=300)]


class Season(Record):
    """A stretch of the year, both days included, with its factor on the nightly price."""

    id: Name
    from_day: MonthDay
    to_day: MonthDay
    factor: Amount
    min_nights: Annotated[int, Field(ge=1, le=60)]
    note: Note = ""

    def holds(self, day: dt.date) -> bool:
        """Tell whether a day falls into the season, which may run over the turn of the year."""
        mark = f"{day:%m-%d}"
        if self.from_day <= self.to_day:
            return self.from_day <= mark <= self.to_day
        return mark >= self.from_day or mark <= self.to_day


class ClassPrice(Record):
    """The price of one night in one class (one build sheet) and its deposit."""

    sheet: Name
    per_night: Amount
    deposit: Amount


class Discounts(Record):
    """Shares taken off the nightly sum; together never more than ``most``."""

    nights_14: Amount
    nights_21: Amount
    repeat_hirer: Amount
    midweek: Amount
    most: Amount


class BookingTerms(Record):
    """What is paid when, and the service fee with what it covers."""

    paid_at_booking_percent: Percent
    balance_days_before: Days
    service_fee: Amount
    service_covers: Note


class DepositTerms(Record):
    """How the deposit is held and when it goes back."""

    how: Note
    return_working_days: Days
    hold_days_if_damage: Days


class Excess(Record):
    """The hirer's share of damage by event, what reducing it costs, and the charges no reduction covers."""

    standard: Amount
    reduced_per_night: Amount
    reduced_to: Amount
    not_reduced: tuple[Name, ...] = ()


class Mileage(Record):
    """Miles included a day, averaged over the hire; free of limit from so many nights."""

    free_miles_per_day: Annotated[int, Field(ge=0)]
    unlimited_from_nights: Annotated[int, Field(ge=1)]
    extra_per_mile: Amount


class FuelTerms(Record):
    """Out full, back full: the pump price of the day with a stated service, and how far off full is full."""

    service_per_refill: Amount
    margin_percent: Percent = 0
    tolerance_eighths: Amount


class GasTerms(Record):
    """Gas included, the price of a kilogram beyond it, the refill service and the frost supplement a day."""

    included_kg: Amount
    per_kg: Amount
    refill_service: Amount
    frost_pack_per_day: Amount


class ExhaustFluidTerms(Record):
    """Exhaust fluid by the litre beyond the included miles."""

    per_litre: Amount
    included_miles: Annotated[int, Field(ge=0)]


class LateStep(Record):
    """A late return up to so many minutes: a price, or day rates with a limit on the next hirer's cost."""

    upto_min: Minutes
    price: Amount | None = None
    day_rates: Amount | None = None
    knock_on_limit: Amount | None = None

    @model_validator(mode="after")
    def _says_one_price(self) -> LateStep:
        if (self.price is None) == (self.day_rates is None):
            raise ValueError("a late step has either price or day_rates")
        return self


class LateTerms(Record):
    """Late returns: grace, steps, and the factor when they rang early enough."""

    grace_min: Minutes
    steps: tuple[LateStep, ...]
    announced_factor: Amount
    announced_ahead_min: Minutes = 120
    early_return: Note = ""


class OutOfHours(Record):
    """Price of keys in or out between two clock times over the night; the key safe is free."""

    price: Amount
    from_clock: Clock
    to_clock: Clock


class Extra(Record):
    """An option that can be booked."""

    id: Name
    price: Amount
    per: Literal["person", "hire", "seat", "driver_night"]


class CancelStep(Record):
    """From so many whole days before collection, this share of the price is kept."""

    from_days: Days
    keep_percent: Percent


class CancelTerms(Record):
    """Cancelling and moving dates."""

    steps: tuple[CancelStep, ...]
    move_free_days: Days
    move_fee: Amount
    by_depot: Note = ""


class Wear(Record):
    """What age takes off: months a part lives, the least share that is left, what is wear and what is not."""

    least_share: Amount
    life_months: dict[Name, Annotated[int, Field(ge=1, le=600)]]
    accepted: tuple[Note, ...] = ()
    not_accepted: tuple[Note, ...] = ()
    loss_of_hire_days: Days = 0


class Goodwill(Record):
    """What the depot gives back for a fault of its own."""

    fault: Text
    give: Amount | None = None
    day_rates: Amount | None = None
    hotel_limit: Amount | None = None
    per: Literal["night", "day", "hour", "event"] = "event"


class Grade(Record):
    """One grade of a charge with its lowest and highest price."""

    grade: Text
    low: Amount
    high: Amount


class ChargePrice(Record):
    """The usual price of one charge of the catalogue at this depot, lowest and highest, or by grade."""

    charge: Name
    low: Amount
    high: Amount
    grades: tuple[Grade, ...] = ()

    @model_validator(mode="after")
    def _low_is_not_above_high(self) -> ChargePrice:
        if self.low > self.high or any(grade.low > grade.high for grade in self.grades):
            raise ValueError("the lowest price stands before the highest")
        return self


class Tariff(Record):
    """Everything a depot charges, gives and keeps, in one currency."""

    currency: Annotated[str, Field(pattern=r"^[A-Z]{3}$")]
    labour_per_hour: Amount
    admin_fee: Amount
    write_off_piece: Amount
    write_off_hire: Amount
    goodwill_desk_limit: Amount
    seasons: tuple[Season, ...]
    classes: tuple[ClassPrice, ...]
    extras: tuple[Extra, ...]
    discounts: Discounts
    booking: BookingTerms
    deposit: DepositTerms
    excess: Excess
    mileage: Mileage
    fuel: FuelTerms
    gas: GasTerms
    exhaust_fluid: ExhaustFluidTerms
    late: LateTerms
    out_of_hours: OutOfHours
    cancel: CancelTerms
    wear: Wear
    goodwill: tuple[Goodwill, ...] = ()
    charges: tuple[ChargePrice, ...] = ()
    fair: dict[Name, Note] = Field(default_factory=dict)

    def money(self, amount: Decimal) -> Money:
        """Return an amount of the tariff as money of its currency."""
        return Money.of(amount, self.currency)

    def season_of(self, day: dt.date) -> Season | None:
        """Return the first season that holds the day, or None when the year has a gap there."""
        return next((season for season in self.seasons if season.holds(day)), None)
