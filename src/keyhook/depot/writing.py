"""A depot folder as text files: lossless, stable, the same form every time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any
from zoneinfo import ZoneInfo

from pydantic import BaseModel

from keyhook.depot.folder import DepotFolder
from keyhook.depot.toml_text import toml_text
from keyhook.hire.hire import Hire
from keyhook.hire.news import Call, ReturnNews
from keyhook.vehicle.build_sheet import BuildSheet

SHEET_HEADING = """Build sheet: one type of vehicle as this depot has it built.
x_m runs rearward from the front axle, y_m from the centreline towards the offside, z_m up from the ground [m].
Tickets stand in the depot's weighing condition: diesel and gas full, fresh, grey, boiler and cassette empty,
standard kit aboard, nobody inside; a ticket that was taken otherwise says how."""
HIRE_HEADING = """One hire: who travels, who drives, what they take, where and when. Times carry their UTC offset."""
HEADINGS = {
    "depot.toml": "The depot: its yard, its hours and its money.",
    "staff.toml": "The people who work here. Pace 1 is a minute by the book; above 1 takes longer.",
    "vehicles.toml": "The vehicles: each one of a build sheet, with what is true of it alone.",
    "words.toml": "The depot's own words for hirers: as they stand in its other files, then in another language.",
    "tariff.toml": "The tariff, tax included. Sums and factors are whole numbers or text, so that they stay exact.",
}


def write_depot(folder: DepotFolder) -> Mapping[str, str]:
    """Return the folder as texts by file name, sorted by name.

    Reading them back gives an equal folder, and writing that gives the same texts.
    """
    depot = plain(folder.depot)
    words = depot.pop("words", None)
    texts = {
        "depot.toml": toml_text(depot, HEADINGS["depot.toml"]),
        "staff.toml": toml_text({"staff": _each(folder.staff)}, HEADINGS["staff.toml"]),
        "vehicles.toml": toml_text({"vehicle": _each(list(folder.vehicles.values()))}, HEADINGS["vehicles.toml"]),
        "tariff.toml": toml_text(plain(folder.tariff), HEADINGS["tariff.toml"]),
    }
    if words:
        texts["words.toml"] = toml_text({"words": words}, HEADINGS["words.toml"])
    texts |= {f"sheets/{name}.toml": sheet_text(sheet) for name, sheet in folder.sheets.items()}
    texts |= {
        f"hires/{name}.toml": hire_text(hire, folder.returns.get(name), folder.calls.get(name, ()))
        for name, hire in folder.hires.items()
    }
    return dict(sorted(texts.items()))


def sheet_text(sheet: BuildSheet) -> str:
    """Return one build sheet as text."""
    return toml_text(plain(sheet), SHEET_HEADING)


def hire_text(hire: Hire, back: ReturnNews | None = None, calls: Sequence[Call] = ()) -> str:
    """Return one hire with its news as text; its times on the clock of its zone."""
    zone = ZoneInfo(hire.zone)
    table = {
        "hire": _local(plain(hire), zone),
        "back": _local(plain(back), zone) if back else None,
        "calls": [_local(plain(call), zone) for call in calls] or None,
    }
    return toml_text(table, HIRE_HEADING)


def plain(record: BaseModel) -> dict[str, Any]:
    """Return the fields of a record that differ from their defaults."""
    return record.model_dump(exclude_defaults=True)


def _each(records: Sequence[BaseModel]) -> list[dict[str, Any]]:
    return [plain(record) for record in records]


def _local(table: dict[str, Any], zone: ZoneInfo) -> dict[str, Any]:
    return {key: value.astimezone(zone) if isinstance(value, dt.datetime) else value for key, value in table.items()}
