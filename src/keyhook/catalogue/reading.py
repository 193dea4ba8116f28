"""The catalogue out of its files: every record validated, every reference followed, all problems at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from types import MappingProxyType
from typing import Any, TypeVar

from pydantic import BaseModel, TypeAdapter

from keyhook.catalogue.files import ChargeFile, KitFile, TaskFile, TyreFile
from keyhook.catalogue.models import Catalogue, Charge, Fitting, KitItem, Place, Scales, Task
from keyhook.catalogue.references import CHARGES, KIT, SCALES, TASKS, TYRES, Parts, reference_problems
from keyhook.errors import BrokenFolder, Problem
from keyhook.records_toml import read_record

M = TypeVar("M", bound=BaseModel)


@cache
def load_catalogue() -> Catalogue:
    """Return the catalogue that ships with the library; read once."""
    return read_catalogue(shipped_texts())


def shipped_texts() -> dict[str, str]:
    """Return the files of the catalogue that ships with the library, name to text."""
    return dict(_under(files("keyhook.catalogue").joinpath("data")))


def read_catalogue(texts: Mapping[str, str]) -> Catalogue:
    """Return the catalogue in these files (name to text: ``fittings/*.toml``, ``tasks.toml`` ...).

    Raises
    ------
    BrokenFolder
        With every problem of every file: file, line, field, value, what to do.
    """
    problems: list[Problem] = []

    def read(file: str, model: type[M]) -> M | None:
        if file not in texts:
            problems.append(Problem(file, 0, "", "the file is missing", "", "Add it", "missing-file"))
            return None
        try:
            return read_record(texts[file], file, model)
        except BrokenFolder as error:
            problems.extend(error.problems)
            return None

    parts = Parts(
        fittings={file: read(file, Fitting) for file in sorted(texts) if file.startswith("fittings/")},
        tasks=read(TASKS, TaskFile),
        kit=read(KIT, KitFile),
        charges=read(CHARGES, ChargeFile),
        scales=read(SCALES, Scales),
    )
    tyres = read(TYRES, TyreFile)
    problems.extend(reference_problems(parts, texts))
    if problems or not (parts.tasks and parts.kit and parts.charges and parts.scales and tyres):
        raise BrokenFolder(problems)
    return Catalogue(
        fittings=MappingProxyType({fitting.id: fitting for fitting in parts.read_fittings.values()}),
        tasks=MappingProxyType({task.id: task for task in parts.tasks.task}),
        places=MappingProxyType({place.id: place for place in parts.tasks.place}),
        kit=MappingProxyType({item.id: item for item in parts.kit.item}),
        charges=MappingProxyType({charge.id: charge for charge in parts.charges.charge}),
        wear_life_months=MappingProxyType(parts.charges.wear_life_months),
        load_index_kg=MappingProxyType(tyres.load_index_kg),
        speed_symbol_km_h=MappingProxyType(tyres.speed_symbol_km_h),
        scales=parts.scales,
    )


def json_schemas() -> dict[str, dict[str, Any]]:
    """Return the JSON Schema of each kind of catalogue record."""
    kinds: list[type[BaseModel]] = [Fitting, Task, Place, KitItem, Charge, Scales]
    return {kind.__name__.lower(): TypeAdapter(kind).json_schema() for kind in kinds}


def _under(folder: Traversable, prefix: str = "") -> Iterable[tuple[str, str]]:
    for entry in sorted(folder.iterdir(), key=lambda path: path.name):
        if entry.is_dir():
            yield from _under(entry, f"{prefix}{entry.name}/")
        elif entry.name.endswith(".toml"):
            yield prefix + entry.name, entry.read_text(encoding="utf-8")
