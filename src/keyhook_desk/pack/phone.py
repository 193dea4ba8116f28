"""From a pack to what its page shows: finished words in one language, figures in both units."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django.urls import reverse

from keyhook.drawing import plan_drawing
from keyhook.money import Money
from keyhook.pack import TripLoad
from keyhook.pack.content import Card
from keyhook.pack.leaving import Cost
from keyhook.pack.messages import EMERGENCY_NUMBER, moment_words
from keyhook.pack.trip import Locker
from keyhook.phrases import LANGUAGES, say
from keyhook.units import feet_inches_up, pounds
from keyhook_desk.pack.models import FittingPhoto
from keyhook_desk.pack.selectors import Held

_KPA_PER_BAR, _KPA_PER_PSI = 100.0, 6.894757293168  # exact; pound-force per square inch, NIST SP 811 appendix B
_SIGNS = {"GBP": "£", "EUR": "€", "USD": "$", "CHF": "CHF ", "JPY": "¥"}


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of the trip: its name, metric, imperial."""

    name: str
    metric: str
    imperial: str = ""


@dataclass(frozen=True, slots=True)
class ShownCard:
    """A card with whether it has been read, what is sent when it is, and the addresses of its photos."""

    card: Card
    read: bool
    points: str
    photos: tuple[tuple[str, int, int], ...]


def page_of(
    held: Held,
    token: str,
    confirmed: frozenset[str],
    photos: Mapping[str, list[FittingPhoto]],
    *,
    now: dt.datetime,
) -> dict[str, Any]:
    """Return what the template of the pack takes."""
    pack, language = held.pack, held.pack.language
    zone = ZoneInfo(held.hire.zone)
    shown = {card.fitting: _shown(card, confirmed, photos, token) for card in pack.cards}
    return {
        "held": held,
        "pack": pack,
        "language": language,
        "languages": _languages(token, language),
        "token": token,
        "depot": held.depot.name,
        "phone": on_one_line(held.depot.phone),
        "vehicle": held.vehicle.name,
        "plate": held.vehicle.plate,
        "hello": _hello(held.first_name, language),
        "start": moment_words(held.hire.collect_at.astimezone(zone), language),
        "end": moment_words(held.hire.return_at.astimezone(zone), language),
        "made": moment_words(now.astimezone(zone), language),
        "number": EMERGENCY_NUMBER,
        "drawing": _drawing(held, language),
        "cards": tuple(shown.values()),
        "groups": [(group, [shown[card.fitting] for card in cards]) for group, cards in pack.groups],
        "read_count": sum(one.read for one in shown.values()),
        "sizes": _sizes(held.trip, language) if held.trip else _bare_sizes(held, language),
        "trip": held.trip,
        "lockers": _lockers(held, language) if held.trip else (),
        "load": _load(held.trip, language) if held.trip else None,
        "costs": [
            ("costs_return", [_priced(cost, language) for cost in pack.leaving.of_the_return]),
            ("costs_damage", [_priced(cost, language) for cost in pack.leaving.of_damage]),
        ],
        "excess": in_words(pack.leaving.excess),
        "length": _metres(held.trip.length_m if held.trip else held.sheet.dimensions.length_m, language),
        "height": _metres(held.sheet.dimensions.height_m, language),
        "rack_adds": _pointed(f"{held.trip.rack_adds_m:.2f}", language) if held.trip else "",
        "kept": [reverse("pack:home_in", kwargs={"token": token, "language": code}) for code in LANGUAGES],
    }


def on_one_line(phone: str) -> str:
    """Return a telephone number that no line breaks apart."""
    return phone.replace(" ", "\u00a0")


def in_words(money: Money) -> str:
    """Return an amount as a hirer reads it: its sign, no pence when there are none."""
    amount = str(money).partition(" ")[2]
    return f"{_SIGNS.get(money.currency, money.currency + ' ')}{amount.removesuffix('.00')}"


def _pointed(figure: str, language: str) -> str:
    """Return a figure with the decimal sign of the language, as it stands on road signs there."""
    return figure.replace(".", say("pack.figure.point", language=language))


def _metres(length_m: float, language: str) -> str:
    return f"{_pointed(f'{length_m:.2f}', language)} m"


def _hello(name: str, language: str) -> str:
    return say("pack.hello", {"name": name}, language) if name else say("pack.hello_nobody", language=language)


def _languages(token: str, language: str) -> list[tuple[str, str, str, bool]]:
    """Return code, own name, address, and whether it is the one shown, of every language."""
    return [
        (code, name, reverse("pack:home_in", kwargs={"token": token, "language": code}), code == language)
        for code, name in LANGUAGES.items()
    ]


def _shown(card: Card, confirmed: frozenset[str], photos: Mapping[str, list[FittingPhoto]], token: str) -> ShownCard:
    points = [point.id for point in card.points]
    here = tuple(
        (reverse("pack:photo", kwargs={"token": token, "digest": one.digest}), one.width, one.height)
        for one in photos.get(card.fitting, ())
    )
    return ShownCard(card, bool(points) and confirmed.issuperset(points), ",".join(points), here)


def _drawing(held: Held, language: str) -> str:
    sheet = held.sheet
    values = {
        "name": sheet.name,
        "length": _pointed(f"{sheet.dimensions.length_m:g}", language),
        "width": _pointed(f"{sheet.dimensions.width_m:g}", language),
        "count": len(sheet.fittings),
    }
    told = say("pack.drawing.plan", values, language), say("pack.drawing.describe", values, language)
    return plan_drawing(sheet, upright=True, told=told)


def _length(key: str, length_m: float, language: str) -> Figure:
    feet, inches = feet_inches_up(length_m)
    return Figure(say(f"pack.trip.{key}", language=language), _metres(length_m, language), f"{feet} ft {inches} in")


def _mass(mam_kg: float, language: str) -> Figure:
    return Figure(say("pack.trip.mass", language=language), f"{mam_kg:.0f} kg", f"{pounds(mam_kg):,} lb")


def _sizes(trip: TripLoad, language: str) -> list[Figure]:
    return [
        _length("height", trip.height_m, language),
        _length("mirrors", trip.width_mirrors_m, language),
        _length("length_rack" if trip.rack_adds_m else "length", trip.length_m, language),
        _length("body", trip.width_m, language),
        _mass(trip.mam_kg, language),
    ]


def _bare_sizes(held: Held, language: str) -> list[Figure]:
    size = held.sheet.dimensions
    lengths = (("height", size.height_m), ("mirrors", size.width_mirrors_m), ("length", size.length_m))
    return [*(_length(key, at_m, language) for key, at_m in lengths), _mass(held.sheet.limits.mam_kg, language)]


def _lockers(held: Held, language: str) -> list[tuple[str, str, Locker]]:
    """Return language, name and figures of what may be loaded where, in the depot's own words."""
    own = held.depot.words.get(language, {})
    lockers = held.trip.lockers if held.trip else ()
    return [(language if one.name in own else "en", own.get(one.name, one.name), one) for one in lockers]


def _load(trip: TripLoad, language: str) -> dict[str, Any]:
    spare = max(round(trip.spare_kg), 0)
    ends = (("front", trip.spare_front_kg), ("rear", trip.spare_rear_kg), ("total", trip.spare_total_kg))
    return {
        "words": say(f"pack.trip.verdict_{trip.verdict}", {"spare": spare}, language),
        "spare": [(say(f"pack.trip.spare_{end}", language=language), f"{kg:.0f} kg") for end, kg in ends],
        "shows_spare": trip.verdict in {"fits", "tight"},
        "pressures": [
            (
                say(f"pack.trip.tyre_{one.end}", language=language),
                _pointed(f"{one.pressure_kpa / _KPA_PER_BAR:.1f}", language),
                f"{one.pressure_kpa / _KPA_PER_PSI:.0f}",
            )
            for one in trip.pressures
        ],
    }


def _priced(cost: Cost, language: str) -> tuple[str, str, str]:
    """Return name, its language, and the span of prices in words."""
    if cost.low is None or cost.high is None:
        return cost.name, cost.language, say("pack.leave.costs_unknown", language=language)
    key = "fixed" if cost.low == cost.high else "span" if cost.low.minor else "from_nothing"
    values = {"low": in_words(cost.low), "high": in_words(cost.high)}
    return cost.name, cost.language, say(f"pack.leave.costs_{key}", values, language)
