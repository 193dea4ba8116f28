"""How the files of the catalogue are laid out; a fitting is a file of its own."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from keyhook.catalogue.models import Charge, KitItem, Place, Task
from keyhook.records import Positive, Record

Months = Annotated[int, Field(gt=0)]
LoadIndex = Annotated[int, Field(ge=0, le=279)]
SpeedSymbol = Annotated[str, Field(pattern=r"^[A-Z]$")]


class TaskFile(Record):
    """The file of tasks and places."""

    place: tuple[Place, ...]
    task: tuple[Task, ...]


class KitFile(Record):
    """The file of kit."""

    item: tuple[KitItem, ...]


class ChargeFile(Record):
    """The file of charges, and how many months the things that wear are expected to live."""

    wear_life_months: dict[str, Months]
    charge: tuple[Charge, ...]


class TyreFile(Record):
    """The file of tyre tables: kilograms a tyre by load index, km/h by speed symbol."""

    load_index_kg: dict[LoadIndex, Positive]
    speed_symbol_km_h: dict[SpeedSymbol, Annotated[int, Field(gt=0)]]
