"""The hire as form fields and back: every field optional to get wrong, every slip named beside its field.

What the page does not show (legs, pets, facts of a licence, notes on loads) is carried over from the hire as held,
and what was not touched stays exactly as it was.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, get_args
from zoneinfo import ZoneInfo

from django.http import QueryDict
from pydantic import ValidationError

from keyhook.hire.hire import Bike, Hire, Licence, Load, Tag
from keyhook.loading.swap import fitted_to
from keyhook.vehicle.build_sheet import BuildSheet
from keyhook_desk.web.typed import Typed, as_typed

MOST_PEOPLE, MOST_BIKES, MOST_DRIVERS = 12, 6, 3
CATEGORIES = tuple((name, name.replace("_", " ")) for name in ("B", "B_automatic", "C1", "C1_automatic", "BE", "C1E"))
_TAG_WORDS = {"over35": "over 3.5 t", "offgrid": "off grid", "first_timer": "first time", "hookup": "hook-up"}
TAGS = tuple((tag, _TAG_WORDS.get(tag, tag.replace("_", " "))) for tag in get_args(Tag))
_LOCAL = "%Y-%m-%dT%H:%M"
_PERSON_FIELDS = ("name", "age", "mass", "height", "seat", "berth")


@dataclass(slots=True)
class HireForm(Typed):
    """What was typed, and the hire it makes (None while something is wrong)."""

    hire: Hire | None = None


def form_of(hire: Hire) -> HireForm:
    """Return the fields of a hire as it stands."""
    zone = ZoneInfo(hire.zone)
    crossing = hire.trip.crossing
    values = {
        "lead": hire.lead,
        "vehicle": hire.vehicle or "",
        "wanted_sheet": hire.wanted_sheet or "",
        "status": hire.status,
        "collect_at": hire.collect_at.astimezone(zone).strftime(_LOCAL),
        "return_at": hire.return_at.astimezone(zone).strftime(_LOCAL),
        "fresh_l": as_typed(hire.fresh_l),
        "where": hire.trip.where,
        "countries": ", ".join(hire.trip.countries),
        "crossing_height": as_typed(crossing.height_m if crossing else None),
        "crossing_length": as_typed(crossing.length_m if crossing else None),
        "note": hire.note,
    }
    for n, person in enumerate(hire.party):
        told = (person.name, as_typed(person.age_years), as_typed(person.mass_kg), as_typed(person.height_cm))
        shown = (*told, person.seat or "", person.berth or "")
        values |= {f"p{n}_{key}": value for key, value in zip(_PERSON_FIELDS, shown, strict=True)}
    values |= {f"load_{store}": as_typed(_sum_kg(loads)) for store, loads in _by_store(hire).items()}
    for n, bike in enumerate(hire.bikes):
        values |= {f"b{n}_mass": as_typed(bike.mass_kg), f"b{n}_battery": as_typed(bike.battery_kg or None)}
    multi: dict[str, list[str]] = {"options": list(hire.options), "tags": list(hire.tags)}
    for n, licence in enumerate(hire.drivers):
        values |= {
            f"d{n}_person": str(licence.person),
            f"d{n}_born": licence.born_on.isoformat() if licence.born_on else "",
            f"d{n}_test": licence.car_test_on.isoformat() if licence.car_test_on else "",
        }
        multi[f"d{n}_categories"] = list(licence.categories)
    return HireForm(values, multi, hire=hire)


def read_form(data: QueryDict, base: Hire | None, hire_id: str, sheet: BuildSheet | None, zone: str) -> HireForm:
    """Return the form as typed, with the hire it makes over ``base``, fitted to ``sheet``.

    Seats and beds this vehicle has not are let go; things go to its store that is most alike.
    """
    form = HireForm({})
    form.take(data)
    record: dict[str, Any] = base.model_dump(mode="python") if base else {"id": hire_id, "zone": zone}
    rows = list(_party_rows(form))
    places = {row: place for place, (row, _) in enumerate(rows)}
    record |= {
        "lead": form.values.get("lead", ""),
        "vehicle": form.values.get("vehicle") or None,
        "wanted_sheet": form.values.get("wanted_sheet") or None,
        "status": form.values.get("status") or "booked",
        "collect_at": _moment(form, "collect_at", base.collect_at if base else None, zone),
        "return_at": _moment(form, "return_at", base.return_at if base else None, zone),
        "party": [person for _, person in rows],
        "drivers": list(_drivers(form, base, places)),
        "options": form.multi.get("options", []),
        "tags": form.multi.get("tags", []),
        "loads": _in_held_order(list(_loads(form, base)), base),
        "bikes": list(_bikes(form, base)),
        "fresh_l": form.number("fresh_l", "Fresh water"),
        "trip": _trip(form, record.get("trip") or {}),
        "note": form.values.get("note", "").replace("\r\n", "\n"),
    }
    if not rows:
        form.errors.setdefault("p0_age", "Nobody travels yet. Give the age of one person at least.")
    if not form.errors:
        _validate(form, record)
    if form.hire is not None and sheet is not None:
        form.hire = fitted_to(sheet, form.hire)
    return form


def _validate(form: HireForm, record: dict[str, Any]) -> None:
    try:
        form.hire = Hire.model_validate(record)
    except ValidationError as error:
        form.refuse(error, _key, _LABEL_OF)


_FIELD_OF = {
    "age_years": "age", "mass_kg": "mass", "height_cm": "height", "battery_kg": "battery",
    "born_on": "born", "car_test_on": "test", "person": "person",
}  # fmt: skip
_LABEL_OF = {
    "age_years": "Age", "mass_kg": "Mass", "height_cm": "Height", "battery_kg": "Battery",
    "lead": "Name on the contract", "countries": "Countries", "fresh_l": "Fresh water",
}  # fmt: skip


def _key(loc: tuple[Any, ...]) -> str:
    """Return the form field of a place in the record."""
    match loc:
        case ("party" | "bikes" | "drivers" as table, int(n), str(name)):
            return f"{table[0]}{n}_{_FIELD_OF.get(name, name)}"
        case ("trip", "crossing", str(name)):
            return f"crossing_{name.removesuffix('_m')}"
        case ("trip", str(name), *_):
            return name
        case (str(name), *_):
            return name
        case _:
            return "return_at"


def _party_rows(form: HireForm) -> Iterator[tuple[int, dict[str, Any]]]:
    """Yield the rows that name somebody, with their number on the page."""
    for n in range(MOST_PEOPLE):
        who = f"Person {n + 1}"
        told = {key: form.values.get(f"p{n}_{key}", "") for key in _PERSON_FIELDS}
        age = form.number(f"p{n}_age", f"{who}, age")
        if age is None:
            if (told["mass"] or told["name"]) and f"p{n}_age" not in form.errors:
                form.errors[f"p{n}_age"] = f"{who} is named without an age. Give the age, or empty the row."
            continue
        yield (
            n,
            {
                "name": told["name"],
                "age_years": age,
                "mass_kg": form.number(f"p{n}_mass", f"{who}, mass"),
                "height_cm": form.number(f"p{n}_height", f"{who}, height"),
                "seat": told["seat"] or None,
                "berth": told["berth"] or None,
            },
        )


def _drivers(form: HireForm, base: Hire | None, places: Mapping[int, int]) -> Iterator[dict[str, Any]]:
    """Yield the drivers; ``places`` maps rows of the page to places in the party."""
    held = {licence.person: licence for licence in base.drivers} if base else {}
    for n in range(MOST_DRIVERS):
        text = form.values.get(f"d{n}_person", "")
        if not text.isdigit():
            continue
        if int(text) not in places:
            form.errors[f"d{n}_person"] = (
                f"Driver {n + 1} is an empty row of the party (saw person {int(text) + 1}). Choose who drives."
            )
            continue
        yield _licence(form, n, held.get(int(text))) | {"person": places[int(text)]}


def _licence(form: HireForm, n: int, held: Licence | None) -> dict[str, Any]:
    return (held.model_dump(mode="python") if held else {}) | {
        "categories": form.multi.get(f"d{n}_categories", []),
        "born_on": form.date(f"d{n}_born", f"Driver {n + 1}, date of birth"),
        "car_test_on": form.date(f"d{n}_test", f"Driver {n + 1}, date of the car test"),
    }


def _loads(form: HireForm, base: Hire | None) -> Iterator[Load | dict[str, Any]]:
    """Yield what goes into each store; a figure that was not touched keeps its loads as they were."""
    held = _by_store(base) if base else {}
    for key in (key for key in form.values if key.startswith("load_")):
        store = key.removeprefix("load_")
        mass_kg = form.number(key, f"Load of {store.replace('_', ' ')}")
        there = held.get(store, [])
        if there and form.values[key] == as_typed(_sum_kg(there)):
            yield from there
        elif mass_kg:
            yield {"store": store, "mass_kg": mass_kg, "what": there[0].what if there else ""}


def _in_held_order(loads: list[Load | dict[str, Any]], base: Hire | None) -> list[Load | dict[str, Any]]:
    held: tuple[Load | dict[str, Any], ...] = base.loads if base else ()
    return sorted(loads, key=lambda load: held.index(load) if load in held else len(held))


def _bikes(form: HireForm, base: Hire | None) -> Iterator[Bike | dict[str, Any]]:
    held = base.bikes if base else ()
    for n in range(MOST_BIKES):
        mass_kg = form.number(f"b{n}_mass", f"Bike {n + 1}")
        if mass_kg is None:
            continue
        battery_kg = form.number(f"b{n}_battery", f"Bike {n + 1}, battery") or 0.0
        same = n < len(held) and (held[n].mass_kg, held[n].battery_kg) == (mass_kg, battery_kg)
        yield held[n] if same else {"mass_kg": mass_kg, "electric": battery_kg > 0, "battery_kg": battery_kg}


def _trip(form: HireForm, held: Mapping[str, Any]) -> dict[str, Any]:
    countries = [part.strip().upper() for part in form.values.get("countries", "").replace(";", ",").split(",")]
    height_m, length_m = (
        form.number("crossing_height", "Crossing, height"),
        form.number("crossing_length", "Crossing, length"),
    )
    if (height_m is None) != (length_m is None):
        missing = "crossing_length" if length_m is None else "crossing_height"
        form.errors.setdefault(missing, "A crossing is booked with height and length. Give both, or neither.")
    return dict(held) | {
        "where": form.values.get("where", ""),
        "countries": [country for country in countries if country] or ["GB"],
        "crossing": {"height_m": height_m, "length_m": length_m} if height_m and length_m else None,
    }


def _by_store(hire: Hire) -> dict[str, list[Load]]:
    found: dict[str, list[Load]] = {}
    for load in hire.loads:
        found.setdefault(load.store, []).append(load)
    return found


def _sum_kg(loads: list[Load]) -> float:
    return sum(load.mass_kg for load in loads)


def _moment(form: HireForm, key: str, held: dt.datetime | None, zone: str) -> dt.datetime | None:
    """Return the local time as a moment; one that a clock change leaves out or doubles is refused in words."""
    label, text = key.removesuffix("_at").capitalize(), form.values.get(key, "")
    if held is not None and text == held.astimezone(ZoneInfo(zone)).strftime(_LOCAL):
        return held
    try:
        local = dt.datetime.fromisoformat(text)
    except ValueError:
        form.errors[key] = f"{label} is not a date and time (saw {text[:30]}). Write it like 2026-07-10T14:00."
        return None
    local = local.replace(tzinfo=None)
    first, second = (local.replace(tzinfo=ZoneInfo(zone), fold=fold) for fold in (0, 1))
    if first.utcoffset() != second.utcoffset():
        form.errors[key] = (
            f"{label}: the clocks change at that time (saw {text}). Choose a time an hour earlier or later."
        )
        return None
    return first
