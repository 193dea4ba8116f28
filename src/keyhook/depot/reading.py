"""A depot folder out of its texts: every problem of every file at once, or the whole folder."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from keyhook.catalogue import Catalogue
from keyhook.depot.crosscheck import Draft, folder_flaws
from keyhook.depot.depot import Depot, Staff, Words
from keyhook.depot.folder import DepotFolder
from keyhook.depot.tariff import Tariff
from keyhook.errors import BrokenFolder, Problem
from keyhook.hire.news import HireFile
from keyhook.records_toml import problem_at, problems_of, read_toml
from keyhook.vehicle.build_sheet import BuildSheet, Vehicle

M = TypeVar("M", bound=BaseModel)
E = TypeVar("E", Staff, Vehicle)

SINGLE_FILES = ("depot.toml", "staff.toml", "vehicles.toml", "tariff.toml", "words.toml")
FOLDERS = ("sheets/", "hires/")


def read_depot(files: Mapping[str, str], catalogue: Catalogue) -> DepotFolder:
    """Return the depot that these files describe.

    Parameters
    ----------
    files
        Texts by name within the folder: ``depot.toml``, ``staff.toml``, ``vehicles.toml``, ``tariff.toml``,
        ``words.toml`` where there are words in other languages, ``sheets/ID.toml``, ``hires/ID.toml``. Files that do
        not end in ``.toml`` are left alone.
    catalogue
        What fittings, kit, charges and places there are.

    Raises
    ------
    BrokenFolder
        With every problem of every file: file, line, field, what was wrong, the value seen, what to do.
    """
    texts = {name: text.removeprefix("\ufeff") for name, text in sorted(files.items()) if name.endswith(".toml")}
    desk = _Reader(texts)
    draft = Draft(
        depot=desk.spoken(desk.record("depot.toml", Depot)),
        tariff=desk.record("tariff.toml", Tariff),
        staff=desk.entries("staff.toml", "staff", Staff),
        vehicles=desk.entries("vehicles.toml", "vehicle", Vehicle),
        sheets=desk.folder("sheets/", BuildSheet),
        hires=desk.folder("hires/", HireFile),
    )
    desk.strangers()
    draft.broken = frozenset(problem.file for problem in desk.problems)
    for file, flaw in folder_flaws(draft, catalogue):
        told = problem_at(texts[file], file, flaw.loc, wrong=flaw.wrong, seen=flaw.seen, todo=flaw.todo, code=flaw.code)
        desk.problems.append(told)
    if desk.problems or draft.depot is None or draft.tariff is None:
        raise BrokenFolder(desk.problems)
    return _folder(draft, draft.depot, draft.tariff)


def _folder(draft: Draft, depot: Depot, tariff: Tariff) -> DepotFolder:
    news = {entry.hire.id: entry for entry in draft.hires.values()}
    return DepotFolder(
        depot=depot,
        staff=tuple(person for _, person in draft.staff),
        sheets=MappingProxyType({sheet.id: sheet for sheet in draft.sheets.values()}),
        vehicles=MappingProxyType({vehicle.id: vehicle for _, vehicle in draft.vehicles}),
        hires=MappingProxyType({name: entry.hire for name, entry in news.items()}),
        tariff=tariff,
        returns=MappingProxyType({name: entry.back for name, entry in news.items() if entry.back}),
        calls=MappingProxyType({name: entry.calls for name, entry in news.items() if entry.calls}),
    )


class _Reader:
    """Reads one file after the other and keeps the problems instead of stopping at the first."""

    def __init__(self, texts: Mapping[str, str]) -> None:
        self.texts = texts
        self.problems: list[Problem] = []

    def record(self, file: str, model: type[M]) -> M | None:
        """Return the record of a file, or None with its problems kept."""
        tables = self._tables(file)
        return None if tables is None else self._valid(file, model, tables, ())

    def entries(self, file: str, table: str, model: type[E]) -> list[tuple[int, E]]:
        """Return the sound entries of a list of tables with their positions; the problems of the others are kept."""
        tables = self._tables(file)
        if tables is None:
            return []
        strange = [key for key in tables if key != table]
        self.problems.extend(self._strange_key(file, key, table) for key in strange)
        listed = tables.get(table, [])
        if not isinstance(listed, list):
            todo = f"Write [[{table}]] above each"
            self.problems.append(
                problem_at(self.texts[file], file, (table,), wrong="not a list", seen=table, todo=todo)
            )
            return []
        read = [(index, self._valid(file, model, entry, (table, index))) for index, entry in enumerate(listed)]
        return [(index, record) for index, record in read if record is not None]

    def folder(self, prefix: str, model: type[M]) -> dict[str, M]:
        """Return the sound records of a sub-folder by file name."""
        read = {file: self.record(file, model) for file in self.texts if file.startswith(prefix)}
        return {file: record for file, record in read.items() if record is not None}

    def spoken(self, depot: Depot | None) -> Depot | None:
        """Return the depot with its own words in other languages, where the folder has any."""
        read = self.record("words.toml", Words) if "words.toml" in self.texts else None
        return depot.model_copy(update={"words": {**depot.words, **read.words}}) if depot and read else depot

    def strangers(self) -> None:
        """Keep a problem for each TOML file that has no place in a depot folder."""
        for file in self.texts:
            in_folder = file.startswith(FOLDERS) and file.count("/") == 1
            if file not in SINGLE_FILES and not in_folder:
                todo = f"Name it {', '.join(SINGLE_FILES)}, sheets/ID.toml or hires/ID.toml, or move it away"
                self.problems.append(
                    Problem(file, 0, "", "this file has no place in a depot folder", "", todo, "strange-file")
                )

    def _tables(self, file: str) -> dict[str, Any] | None:
        if file not in self.texts:
            self.problems.append(
                Problem(file, 0, "", "the file is missing", "", "Add it to the folder", "missing-file")
            )
            return None
        try:
            return read_toml(self.texts[file], file)
        except BrokenFolder as error:
            self.problems.extend(error.problems)
            return None

    def _valid(self, file: str, model: type[M], entry: object, prefix: tuple[str | int, ...]) -> M | None:
        try:
            return model.model_validate(entry)
        except ValidationError as error:
            self.problems.extend(problems_of(error, self.texts[file], file, model, prefix))
            return None

    def _strange_key(self, file: str, key: str, table: str) -> Problem:
        todo = f"The entries of this file stand under [[{table}]]"
        return problem_at(
            self.texts[file], file, (key,), wrong="no such field", seen=key, todo=todo, code="field-extra-forbidden"
        )
