"""JSON Schema of every kind of record that people write, for editors and for other programs."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel

from keyhook.depot.depot import Depot, Staff, Words
from keyhook.depot.tariff import Tariff
from keyhook.errors import UnknownName
from keyhook.hire.news import HireFile
from keyhook.vehicle.build_sheet import BuildSheet, Vehicle

DIALECT = "https://json-schema.org/draft/2020-12/schema"
KINDS: dict[str, type[BaseModel]] = {
    "depot": Depot,
    "hire": HireFile,
    "sheet": BuildSheet,
    "staff": Staff,
    "tariff": Tariff,
    "vehicle": Vehicle,
    "words": Words,
}
#: Files that hold a list of records have it under this heading.
LISTED = {"staff": "staff", "vehicle": "vehicle"}


def json_schema(name: str) -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of one kind of record, by its name in :data:`KINDS`.

    It describes what a file holds: for staff and vehicles the list under its heading.

    Raises
    ------
    UnknownName
        No such kind of record.
    """
    if name not in KINDS:
        raise UnknownName("No record of this kind", seen=name, todo=f"Use one of: {', '.join(KINDS)}")
    schema = KINDS[name].model_json_schema(mode="validation")
    if name in LISTED:
        definitions = schema.pop("$defs", {})
        definitions[schema["title"]] = schema
        listed = {"type": "array", "items": {"$ref": f"#/$defs/{schema['title']}"}}
        schema = {
            "$defs": definitions,
            "type": "object",
            "properties": {LISTED[name]: listed},
            "required": [LISTED[name]],
            "additionalProperties": False,
        }
    return {"$schema": DIALECT, "title": name, **{key: value for key, value in schema.items() if key != "title"}}
