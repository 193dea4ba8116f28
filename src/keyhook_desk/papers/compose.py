"""From answers to the plain data a paper is set from."""

from __future__ import annotations

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

from keyhook.basis import Level
from keyhook.depot.depot import Depot
from keyhook.hire.hire import Hire
from keyhook.loading.findings import person_label
from keyhook.loading.outcome import AXLES, CabCard, DriverLine, LoadingAnswer
from keyhook.phrases import say
from keyhook.units import feet_inches_up, pounds
from keyhook.vehicle.build_sheet import BuildSheet

_WORDS = {
    "loads": "Loads at the tightest moment",
    "stops": "It must not leave like this",
    "warns": "Look at this first",
    "steps": "The least change that makes it legal",
    "people": "People and seats",
    "people_heads": ["Who", "Seat", "Needs"],
    "things": "What is aboard",
    "things_heads": ["What", "kg", "m behind front axle"],
    "states": "Every state of the trip",
    "states_heads": ["State", "Front kg", "Rear kg", "Total kg", "To spare kg", "Chance"],
    "drivers": "Drivers",
    "why": "Why these figures",
    "why_heads": ["Figure", "Value", "Because"],
}


def _frame(title: str, vehicle: str, depot: Depot, day: dt.date) -> dict[str, Any]:
    return {
        "title": title,
        "depot": depot.name,
        "vehicle": vehicle,
        "lang": "en",
        "region": depot.country,
        "footer": f"{title} · {day:%d %B %Y}",
        "day": [day.year, day.month, day.day],
        "caution": say("loading.caution"),
    }


def loading_sheet_data(
    answer: LoadingAnswer,
    steps: tuple[str, ...],
    hire: Hire,
    sheet: BuildSheet,
    vehicle: str,
    depot: Depot,
    day: dt.date,
) -> dict[str, Any]:
    """Return what stands on the loading sheet; ``day`` is the day it is set, the only date in the file."""
    zone = ZoneInfo(hire.zone)
    start, end = hire.collect_at.astimezone(zone), hire.return_at.astimezone(zone)
    by_level = {level: [say(f.code, f.values) for f in answer.findings if f.level is level] for level in Level}
    return _frame(f"Loading sheet {hire.id}", vehicle, depot, day) | {
        "heading": hire.lead,
        "subheading": f"{hire.id} · {start:%d %B %Y %H:%M} to {end:%d %B %Y %H:%M} · {sheet.name}",
        "verdict": say(f"loading.verdict.{answer.verdict}"),
        "when": f"Tightest while {say(f'loading.state.{answer.worst.state.key}')}; chance of overload "
        f"{100 * answer.worst.chance.any_probability:.0f} %",
        "words": _WORDS,
        "bars": _bars(answer),
        "stops": by_level[Level.STOP],
        "warns": by_level[Level.WARN],
        "steps": list(steps),
        "people": _people(answer, hire),
        "things": [[item.label, f"{item.mass_kg:.0f}", f"{item.x_m:.2f}"] for item in answer.items],
        "states": _states(answer),
        "drivers": [_driver(line, sheet) for line in answer.drivers],
        "why": [
            [
                figure.label,
                f"{figure.value:.0f} {figure.unit}",
                f"{figure.because.formula} ({figure.because.basis.value})",
            ]
            for figure in answer.figures.values()
            if isinstance(figure.value, float | int)
        ],
    }


def _driver(line: DriverLine, sheet: BuildSheet) -> str:
    reason = say(f"loading.licence.{line.answer.reason}", {"mam_kg": round(sheet.limits.mam_kg)})
    return f"{line.label}: {line.answer.may}. {reason}"


def _bars(answer: LoadingAnswer) -> list[dict[str, Any]]:
    rows = []
    for axle in AXLES:
        load_kg, limit_kg = answer.worst.load_kg(axle), answer.limits.of(axle)
        spare_kg = limit_kg - load_kg
        end = f"{spare_kg:.0f} kg to spare" if spare_kg >= 0 else f"{-spare_kg:.0f} kg OVER"
        words = f"{load_kg:.0f} of {limit_kg:.0f} kg, {end}"
        rows.append({"label": say(f"loading.axle.{axle}"), "load_kg": load_kg, "limit_kg": limit_kg, "words": words})
    return rows


def _people(answer: LoadingAnswer, hire: Hire) -> list[list[str]]:
    return [
        [
            person_label(hire, place.person),
            place.proposed or place.told or "?",
            say(f"loading.restraint.{place.restraint}"),
        ]
        for place in answer.seating.places
    ]


def _states(answer: LoadingAnswer) -> list[dict[str, Any]]:
    return [
        {
            "worst": state is answer.worst,
            "cells": [
                say(f"loading.state.{state.state.key}"),
                f"{state.loads.front_kg:.0f}",
                f"{state.loads.rear_kg:.0f}",
                f"{state.loads.total_kg:.0f}",
                f"{state.least_margin_kg:.0f}",
                f"{100 * state.chance.any_probability:.0f} %",
            ],
        }
        for state in answer.states
    ]


def cab_card_data(card: CabCard, sheet: BuildSheet, vehicle: str, depot: Depot, day: dt.date) -> dict[str, Any]:
    """Return what stands on the cab card; every length is rounded up to the inch."""
    length = "Length with rack" if card.rack_on else "Length"
    rows = [
        _size("Height", card.height_m, main=True),
        _size("Over mirrors", card.width_mirrors_m),
        _size("Width", card.width_m),
        _size(length, card.length_with_rack_m),
        {
            "label": "At most",
            "metric": f"{card.mam_kg:.0f} kg",
            "imperial": f"{pounds(card.mam_kg):,} lb",
            "main": False,
        },
    ]
    note = "Look up before every barrier, branch and canopy. Signs may round; keep a hand's breadth to spare."
    return _frame(f"Cab card {vehicle}", vehicle, depot, day) | {
        "heading": sheet.name,
        "heads": ["", "metric", "feet and inches, pounds"],
        "rows": rows,
        "note": note,
    }


def _size(label: str, length_m: float, *, main: bool = False) -> dict[str, Any]:
    feet, inches = feet_inches_up(length_m)
    return {"label": label, "metric": f"{length_m:.2f} m", "imperial": f"{feet} ft {inches} in", "main": main}
