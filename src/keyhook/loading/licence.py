"""May this driver drive this vehicle? Great Britain's categories by mass, date of test and age; else 'check'.

Rules and their standing are in ``docs/sources/loading.toml``. The answer is yes, no or check: where the facts or the
law leave it open, the answer is check and the desk looks at the licence and at national law. It never is a permission.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from keyhook.basis import Basis, Because, Input
from keyhook.hire.hire import Licence

May = Literal["yes", "no", "check"]

B_LIMIT_KG = 3500.0
C1_LIMIT_KG = 7500.0
C1E_TRAIN_LIMIT_KG = 8250.0
B_TRAILER_KG = 750.0
B_TRAILER_AFTER_2021_KG = 3500.0
ELECTRIC_LIMIT_KG = 4250.0
ELECTRIC_FROM = dt.date(2025, 6, 10)
READ_ACROSS_BEFORE = dt.date(1997, 1, 1)
B_TOW_FROM = dt.date(2021, 12, 16)
C1_ENDS_AGE = 70
AGE_B, AGE_C1 = 17, 18
MOST_PASSENGERS = 8


@dataclass(frozen=True, slots=True)
class Driven:
    """What is to be driven: MAM [kg], passenger seats besides the driver's, gearbox, power, trailer MAM [kg]."""

    mam_kg: float
    passenger_seats: int = 3
    manual: bool = True
    electric: bool = False
    trailer_mam_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class LicenceAnswer:
    """Yes, no or check; the phrase key of the reason (``loading.licence.*``) and why."""

    may: May
    reason: str
    because: Because


def age_on(born_on: dt.date, day: dt.date) -> int:
    """Return whole years of age on a day; somebody born on 29 February has their birthday on 1 March."""
    return day.year - born_on.year - ((day.month, day.day) < (born_on.month, born_on.day))


def may_drive(licence: Licence, driven: Driven, day: dt.date) -> LicenceAnswer:
    """Return whether the holder may drive this on a day."""
    for rule in (_open_facts, _too_many_seats, _too_young, _by_mass, _gearbox, _trailer):
        found = rule(licence, driven, day)
        if found is not None:
            return _answer(found[0], found[1], licence, driven, day)
    return _answer("yes", _reason_for_yes(licence, driven, day), licence, driven, day)


def may_drive_all_hire(licence: Licence, driven: Driven, first: dt.date, last: dt.date) -> LicenceAnswer:
    """Return the stricter answer of the first and the last day, so that a birthday on the way is seen."""
    order = ("no", "check", "yes")
    answers = (may_drive(licence, driven, first), may_drive(licence, driven, last))
    return min(answers, key=lambda answer: order.index(answer.may))


def holds_c1_by_age_of_test(licence: Licence) -> bool | None:
    """Tell whether a car licence is old enough to carry C1; None when the date is not known closely enough."""
    if licence.car_test_on is None:
        return None
    return licence.car_test_on < READ_ACROSS_BEFORE


_Found = tuple[May, str] | None


def _open_facts(licence: Licence, driven: Driven, day: dt.date) -> _Found:
    if licence.issued_in != "GB":
        return "check", "foreign"
    if not licence.categories:
        return "check", "unknown_category"
    if licence.born_on is None and driven.mam_kg > B_LIMIT_KG:
        return "check", "unknown_age"
    _ = day
    return None


def _too_many_seats(licence: Licence, driven: Driven, day: dt.date) -> _Found:
    _ = licence, day
    return ("no", "too_many_seats") if driven.passenger_seats > MOST_PASSENGERS else None


def _too_young(licence: Licence, driven: Driven, day: dt.date) -> _Found:
    if licence.born_on is None:
        return None
    least = AGE_B if _within_b(driven, day) else AGE_C1
    return ("no", "too_young") if age_on(licence.born_on, day) < least else None


def _within_b(driven: Driven, day: dt.date) -> bool:
    electric = driven.electric and driven.mam_kg <= ELECTRIC_LIMIT_KG and day >= ELECTRIC_FROM
    return driven.mam_kg <= B_LIMIT_KG or electric


def _by_mass(licence: Licence, driven: Driven, day: dt.date) -> _Found:
    if driven.mam_kg > C1_LIMIT_KG:
        return "no", "needs_c"
    if _within_b(driven, day):
        return None
    return _needs_c1(licence, day)


def _needs_c1(licence: Licence, day: dt.date) -> _Found:
    explicit = any(category.startswith("C1") for category in licence.categories)
    by_age = holds_c1_by_age_of_test(licence)
    if not explicit and by_age is None:
        return "check", "unknown_test_date"
    if not explicit and not by_age:
        return "no", "needs_c1"
    assert licence.born_on is not None
    if age_on(licence.born_on, day) >= C1_ENDS_AGE and not licence.c1_restored_at_70:
        return "no", "c1_ends_at_70"
    return None


def _gearbox(licence: Licence, driven: Driven, day: dt.date) -> _Found:
    if not driven.manual:
        return None
    wanted = "B" if _within_b(driven, day) else "C1"
    held = [category for category in licence.categories if category.startswith(wanted)]
    if not held and wanted == "C1":
        held = [category for category in licence.categories if category.startswith("B")]
    automatic_only = bool(held) and all(category.endswith("_automatic") for category in held)
    return ("no", "automatic_only") if automatic_only else None


def _trailer(licence: Licence, driven: Driven, day: dt.date) -> _Found:
    if driven.trailer_mam_kg <= B_TRAILER_KG:
        return None
    if _within_b(driven, day):
        may = "BE" in licence.categories or (driven.trailer_mam_kg <= B_TRAILER_AFTER_2021_KG and day >= B_TOW_FROM)
        return None if may else ("no", "trailer_too_heavy")
    has_c1e = "C1E" in licence.categories or bool(holds_c1_by_age_of_test(licence))
    within = driven.mam_kg + driven.trailer_mam_kg <= C1E_TRAIN_LIMIT_KG
    return None if has_c1e and within else ("no", "trailer_too_heavy")


def _reason_for_yes(licence: Licence, driven: Driven, day: dt.date) -> str:
    if driven.mam_kg <= B_LIMIT_KG:
        return "b_is_enough"
    if _within_b(driven, day):
        return "electric_b"
    explicit = any(category.startswith("C1") for category in licence.categories)
    return "c1_held" if explicit else "c1_by_old_test"


_SOURCES = {
    "b_is_enough": ("gb-driving-licences-1999", Basis.PUBLISHED),
    "needs_c1": ("gb-driving-licences-1999", Basis.PUBLISHED),
    "needs_c": ("gb-driving-licences-1999", Basis.PUBLISHED),
    "too_many_seats": ("gb-driving-licences-1999", Basis.PUBLISHED),
    "c1_held": ("gb-driving-licences-1999", Basis.PUBLISHED),
    "c1_by_old_test": ("gb-driving-licences-1999", Basis.PUBLISHED),
    "automatic_only": ("gb-driving-licences-1999", Basis.PUBLISHED),
    "trailer_too_heavy": ("gb-driving-licences-1999", Basis.PUBLISHED),
    "electric_b": ("gb-zero-emission-2025", Basis.PUBLISHED),
    "too_young": ("gb-licence-ages", Basis.PUBLISHED),
    "c1_ends_at_70": ("gb-c1-at-70", Basis.PUBLISHED),
}


def _answer(may: May, reason: str, licence: Licence, driven: Driven, day: dt.date) -> LicenceAnswer:
    source, basis = _SOURCES.get(reason, ("", Basis.ASSUMPTION))
    facts = [
        Input("maximum authorised mass", driven.mam_kg, "kg", "build sheet", Basis.MEASURED),
        Input("day", day.isoformat()),
        Input("categories", ", ".join(licence.categories) or "not told", "", "licence", Basis.TOLD),
    ]
    if licence.born_on:
        facts.append(Input("age that day", age_on(licence.born_on, day), "years", "licence", Basis.TOLD))
    if licence.car_test_on:
        facts.append(Input("car test", licence.car_test_on.isoformat(), "", "licence", Basis.TOLD))
    return LicenceAnswer(
        may, reason, Because("category by permitted mass, age and date of test", tuple(facts), basis, source)
    )
