"""The hire as form fields and back: every field optional to get wrong, every slip named beside its field."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from django.http import QueryDict
from pydantic import ValidationError

from keyhook.hire.hire import Hire
from keyhook.records_toml import WORDS
from keyhook.vehicle.build_sheet import BuildSheet

MOST_PEOPLE, MOST_BIKES, MOST_DRIVERS = 8, 6, 3
LOCAL = "%Y-%m-%dT%H:%M"


@dataclass(slots=True)
class HireForm:
    """What was typed, the hire it makes (None while something is wrong) and the slips by field."""

    values: dict[str, str]
    multi: dict[str, list[str]]
    hire: Hire | None = None
    errors: dict[str, str] = field(default_factory=dict)

    @property
    def slips(self) -> list[str]:
        """Every slip as one sentence."""
        return list(self.errors.values())


def form_of(hire: Hire) -> HireForm:
    """Return the fields of a hire as it stands."""
    zone = ZoneInfo(hire.zone)
    values = {
        "lead": hire.lead,
        "vehicle": hire.vehicle or "",
        "wanted_sheet": hire.wanted_sheet or "",
        "status": hire.status,
        "collect_at": hire.collect_at.astimezone(zone).strftime(LOCAL),
        "return_at": hire.return_at.astimezone(zone).strftime(LOCAL),
        "fresh_l": _number(hire.fresh_l),
        "where": hire.trip.where,
        "countries": ", ".join(hire.trip.countries),
        "crossing_height": _number(hire.trip.crossing.height_m if hire.trip.crossing else None),
        "crossing_length": _number(hire.trip.crossing.length_m if hire.trip.crossing else None),
        "note": hire.note,
    }
    for n, person in enumerate(hire.party):
        values |= {
            f"p{n}_name": person.name,
            f"p{n}_age": _number(person.age_years),
            f"p{n}_mass": _number(person.mass_kg),
            f"p{n}_height": _number(person.height_cm),
            f"p{n}_seat": person.seat or "",
            f"p{n}_berth": person.berth or "",
        }
    for load in hire.loads:
        before = float(values.get(f"load_{load.store}") or 0)
        values[f"load_{load.store}"] = _number(before + load.mass_kg)
    for n, bike in enumerate(hire.bikes):
        values |= {f"b{n}_mass": _number(bike.mass_kg), f"b{n}_battery": _number(bike.battery_kg or None)}
    multi = {"options": list(hire.options), "tags": list(hire.tags)}
    for n, licence in enumerate(hire.drivers):
        values |= {
            f"d{n}_person": str(licence.person),
            f"d{n}_born": licence.born_on.isoformat() if licence.born_on else "",
            f"d{n}_test": licence.car_test_on.isoformat() if licence.car_test_on else "",
        }
        multi[f"d{n}_categories"] = list(licence.categories)
    return HireForm(values, multi, hire)


def read_form(data: QueryDict, base: Hire | None, hire_id: str, sheet: BuildSheet | None, zone: str) -> HireForm:
    """Return the form as typed, with the hire it makes over ``base`` (what the form does not show is kept)."""
    form = HireForm({key: data.get(key, "").strip() for key in data}, {key: data.getlist(key) for key in data})
    record = base.model_dump(mode="python") if base else {"id": hire_id, "zone": zone, "status": "booked"}
    record |= {
        "lead": form.values.get("lead", ""),
        "vehicle": form.values.get("vehicle") or None,
        "wanted_sheet": form.values.get("wanted_sheet") or None,
        "status": form.values.get("status") or "booked",
        "collect_at": _moment(form, "collect_at", zone),
        "return_at": _moment(form, "return_at", zone),
        "party": list(_party(form)),
        "drivers": list(_drivers(form, base)),
        "options": form.multi.get("options", []),
        "tags": form.multi.get("tags", []),
        "loads": list(_loads(form, base, sheet)),
        "bikes": list(_bikes(form, base)),
        "fresh_l": _float(form, "fresh_l", "Fresh water"),
        "note": form.values.get("note", ""),
    }
    trip = dict(record.get("trip") or {})
    trip["where"] = form.values.get("where", "")
    countries = [part.strip().upper() for part in form.values.get("countries", "GB").replace(";", ",").split(",")]
    trip["countries"] = [country for country in countries if country] or ["GB"]
    height_m, length_m = _float(form, "crossing_height", "Height"), _float(form, "crossing_length", "Length")
    trip["crossing"] = {"height_m": height_m, "length_m": length_m} if height_m and length_m else None
    record["trip"] = trip
    if not form.errors:
        _validate(form, record)
    return form


def _validate(form: HireForm, record: dict[str, Any]) -> None:
    try:
        form.hire = Hire.model_validate(record)
    except ValidationError as error:
        for entry in error.errors(include_url=False):
            key, sentence = _slip(entry)
            form.errors.setdefault(key, sentence)


_FIELD_OF = {"age_years": "age", "mass_kg": "mass", "height_cm": "height", "battery_kg": "battery"}
_LABEL_OF = {"age_years": "Age", "mass_kg": "Mass", "height_cm": "Height", "battery_kg": "Battery", "lead": "Name"}


def _slip(entry: Mapping[str, Any]) -> tuple[str, str]:
    loc = entry["loc"]
    wrong, todo = WORDS.get(entry["type"], (str(entry["msg"]).removeprefix("Value error, "), "Mend it"))
    context = {key: value for key, value in entry.get("ctx", {}).items() if key != "error"}
    label = _LABEL_OF.get(str(loc[-1]) if loc else "", str(loc[-1]).replace("_", " ").capitalize() if loc else "The hire")
    seen = "" if isinstance(entry.get("input"), dict) else f" (saw {entry.get('input')})"
    sentence = f"{label}: {wrong.format(**context)}{seen}. {todo.format(**context)}."
    if len(loc) == 3 and loc[0] in {"party", "bikes", "drivers"}:  # noqa: PLR2004  # list, position, field
        return f"{loc[0][0]}{loc[1]}_{_FIELD_OF.get(loc[2], loc[2])}", sentence
    return str(loc[0]) if loc else "collect_at", sentence


def _party(form: HireForm) -> Iterator[dict[str, Any]]:
    for n in range(MOST_PEOPLE):
        who = f"Person {n + 1}"
        age = _float(form, f"p{n}_age", f"{who}, age")
        if age is None:
            if form.values.get(f"p{n}_mass"):
                form.errors[f"p{n}_age"] = f"{who} has a mass and no age. Give the age too."
            continue
        yield {
            "name": form.values.get(f"p{n}_name", ""),
            "age_years": age,
            "mass_kg": _float(form, f"p{n}_mass", f"{who}, mass"),
            "height_cm": _float(form, f"p{n}_height", f"{who}, height"),
            "seat": form.values.get(f"p{n}_seat") or None,
            "berth": form.values.get(f"p{n}_berth") or None,
        }


def _drivers(form: HireForm, base: Hire | None) -> Iterator[dict[str, Any]]:
    held = {n: licence.model_dump(mode="python") for n, licence in enumerate(base.drivers)} if base else {}
    for n in range(MOST_DRIVERS):
        person = form.values.get(f"d{n}_person", "")
        if not person.isdigit():
            continue
        yield held.get(n, {}) | {
            "person": int(person),
            "categories": form.multi.get(f"d{n}_categories", []),
            "born_on": _date(form, f"d{n}_born", "Date of birth"),
            "car_test_on": _date(form, f"d{n}_test", "Date of the car test"),
        }


def _loads(form: HireForm, base: Hire | None, sheet: BuildSheet | None) -> Iterator[dict[str, Any]]:
    stores = [store.id for store in sheet.stores] if sheet else []
    told = {load.store: load for load in base.loads} if base else {}
    for store in stores:
        mass_kg = _float(form, f"load_{store}", store.replace("_", " ").capitalize())
        if mass_kg:
            what = told[store].what if store in told else ""
            yield {"store": store, "mass_kg": mass_kg, "what": what}


def _bikes(form: HireForm, base: Hire | None) -> Iterator[dict[str, Any]]:
    _ = base
    for n in range(MOST_BIKES):
        mass_kg = _float(form, f"b{n}_mass", f"Bike {n + 1}")
        if mass_kg:
            battery_kg = _float(form, f"b{n}_battery", f"Bike {n + 1}, battery") or 0.0
            yield {"mass_kg": mass_kg, "electric": battery_kg > 0, "battery_kg": battery_kg}


def _float(form: HireForm, key: str, label: str) -> float | None:
    text = form.values.get(key, "").replace(",", ".")
    if not text:
        return None
    try:
        return float(text)
    except ValueError:
        form.errors[key] = f"{label} is not a number (saw {text[:30]}). Write a number, like 75 or 12.5."
        return None


def _date(form: HireForm, key: str, label: str) -> dt.date | None:
    text = form.values.get(key, "")
    if not text:
        return None
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        form.errors[key] = f"{label} is not a date (saw {text[:30]}). Write it like 1986-04-30."
        return None


def _moment(form: HireForm, key: str, zone: str) -> dt.datetime | None:
    """Return the local time as a moment; one that a clock change leaves out or doubles is refused in words."""
    label, text = key.removesuffix("_at").capitalize(), form.values.get(key, "")
    try:
        local = dt.datetime.fromisoformat(text)
    except ValueError:
        form.errors[key] = f"{label} is not a date and time (saw {text[:30]}). Write it like 2026-07-10T14:00."
        return None
    first, second = (local.replace(tzinfo=ZoneInfo(zone), fold=fold) for fold in (0, 1))
    if first.utcoffset() != second.utcoffset():
        form.errors[key] = f"{label}: the clocks change at that time (saw {text}). Choose a time an hour earlier or later."
        return None
    return first


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:g}"
