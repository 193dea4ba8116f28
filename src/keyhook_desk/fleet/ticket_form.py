"""The weighbridge ticket as form fields and back."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.http import QueryDict
from pydantic import ValidationError

from keyhook.vehicle.build_sheet import BuildSheet, Ticket
from keyhook_desk.web.typed import Typed

_LABELS = {
    "id": "Number", "taken_on": "Day", "front_kg": "Front axle", "rear_kg": "Rear axle",
    "division_kg": "Step of the scale", "fresh_l": "Fresh water", "grey_l": "Grey water",
}  # fmt: skip
_EIGHTHS = 8


@dataclass(slots=True)
class TicketForm(Typed):
    """What was typed, and the ticket it makes (None while something is wrong)."""

    ticket: Ticket | None = None


def empty_ticket(day: dt.date) -> TicketForm:
    """Return the form as it is proposed."""
    return TicketForm({"taken_on": day.isoformat(), "division_kg": "10", "fuel_eighths": "8", "kit": "yes"})


def read_ticket(data: QueryDict, sheet: BuildSheet, today: dt.date) -> TicketForm:
    """Return the form as typed with the ticket it makes."""
    form = TicketForm({})
    form.take(data)
    driver_kg = form.number("driver_kg", "Who sat inside")
    driver_seat = next((seat for seat in sheet.seats if seat.driver), sheet.seats[0])
    fuel = form.values.get("fuel_eighths", "")
    record = {
        "id": form.values.get("id", ""),
        "taken_on": form.date("taken_on", "Day"),
        "front_kg": form.number("front_kg", "Front axle"),
        "rear_kg": form.number("rear_kg", "Rear axle"),
        "division_kg": form.number("division_kg", "Step of the scale") or 10.0,
        "fuel_share": int(fuel) / _EIGHTHS if fuel.isdecimal() else 1.0,
        "fresh_l": form.number("fresh_l", "Fresh water") or 0.0,
        "grey_l": form.number("grey_l", "Grey water") or 0.0,
        "standard_kit": form.values.get("kit") == "yes",
        "rack_fitted": form.values.get("rack") == "yes",
        "aboard": [{"what": "driver", "mass_kg": driver_kg, "x_m": driver_seat.x_m}] if driver_kg else [],
        "note": form.values.get("note", ""),
    }
    for key in ("taken_on", "front_kg", "rear_kg"):
        if record[key] is None:
            form.errors.setdefault(key, f"{_LABELS[key]} is empty. Read it off the ticket.")
    _look_over(form, record["taken_on"] if isinstance(record["taken_on"], dt.date) else None, today)
    if not form.errors:
        try:
            form.ticket = Ticket.model_validate(record)
        except ValidationError as error:
            form.refuse(error, lambda loc: str(loc[0]) if loc else "id", _LABELS)
    return form


def _look_over(form: TicketForm, taken_on: dt.date | None, today: dt.date) -> None:
    if taken_on is not None and taken_on > today:
        sentence = f"The ticket is from a day to come (saw {taken_on.isoformat()}). Mend the date."
        form.errors.setdefault("taken_on", sentence)
