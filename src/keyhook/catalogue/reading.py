"""The catalogue out of its files: every record validated, every reference followed, all problems at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from types import MappingProxyType
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, TypeAdapter, ValidationError

from keyhook.catalogue.conditions import unknown_condition
from keyhook.catalogue.models import Catalogue, Charge, Fitting, KitItem, Place, Scales, Task
from keyhook.catalogue.precedence import first_cycle
from keyhook.errors import BrokenFolder, Problem
from keyhook.records import Record
from keyhook.records_toml import problem_at, problems_of, read_toml

M = TypeVar("M", bound=BaseModel)


class TaskFile(Record):
    """The file of tasks and places."""

    place: tuple[Place, ...]
    task: tuple[Task, ...]


class KitFile(Record):
    """The file of kit."""

    item: tuple[KitItem, ...]


class ChargeFile(Record):
    """The file of charges."""

    wear_life_months: dict[str, int]
    charge: tuple[Charge, ...]


class TyreFile(Record):
    """The file of tyre tables."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    load_index_kg: dict[int, float]
    speed_symbol_km_h: dict[str, int]


@cache
def load_catalogue() -> Catalogue:
    """Return the catalogue that ships with the library; read once."""
    return read_catalogue(dict(_shipped(files("keyhook.catalogue").joinpath("data"))))


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
            return model.model_validate(read_toml(texts[file], file))
        except BrokenFolder as error:
            problems.extend(error.problems)
        except ValidationError as error:
            problems.extend(problems_of(error, texts[file], file, model))
        return None

    fittings = {file: read(file, Fitting) for file in sorted(texts) if file.startswith("fittings/")}
    tasks, kit, charges = read("tasks.toml", TaskFile), read("kit.toml", KitFile), read("charges.toml", ChargeFile)
    tyres, scales = read("tyres.toml", TyreFile), read("scales.toml", Scales)
    if problems or not (tasks and kit and charges and tyres and scales):
        raise BrokenFolder(problems)
    catalogue = Catalogue(
        fittings=MappingProxyType({fitting.id: fitting for fitting in fittings.values() if fitting}),
        tasks=MappingProxyType({task.id: task for task in tasks.task}),
        places=MappingProxyType({place.id: place for place in tasks.place}),
        kit=MappingProxyType({item.id: item for item in kit.item}),
        charges=MappingProxyType({charge.id: charge for charge in charges.charge}),
        wear_life_months=MappingProxyType(charges.wear_life_months),
        load_index_kg=MappingProxyType(tyres.load_index_kg),
        speed_symbol_km_h=MappingProxyType(tyres.speed_symbol_km_h),
        scales=scales,
    )
    if found := [*_wrong_references(catalogue, texts), *_twice(fittings, tasks, kit, charges, texts)]:
        raise BrokenFolder(found)
    return catalogue


def json_schemas() -> dict[str, dict[str, Any]]:
    """Return the JSON Schema of each kind of catalogue record."""
    kinds: list[type[BaseModel]] = [Fitting, Task, Place, KitItem, Charge, Scales]
    return {kind.__name__.lower(): TypeAdapter(kind).json_schema() for kind in kinds}


def _shipped(folder: Traversable, prefix: str = "") -> Iterable[tuple[str, str]]:
    for entry in sorted(folder.iterdir(), key=lambda path: path.name):
        if entry.is_dir():
            yield from _shipped(entry, f"{prefix}{entry.name}/")
        elif entry.name.endswith(".toml"):
            yield prefix + entry.name, entry.read_text(encoding="utf-8")


def _wrong_references(catalogue: Catalogue, texts: Mapping[str, str]) -> Iterable[Problem]:
    for fitting in catalogue.fittings.values():
        file = f"fittings/{fitting.id}.toml"
        if file not in texts:
            yield Problem(_file_of(fitting, texts), 1, "id", "the id is not the file's name", fitting.id, "Rename one")
            continue
        yield from _fitting_references(fitting, catalogue, file, texts[file])
    for index, task in enumerate(catalogue.tasks.values()):
        yield from _task_references(index, task, catalogue, texts["tasks.toml"])
    yield from _cycles(catalogue, texts)


def _file_of(fitting: Fitting, texts: Mapping[str, str]) -> str:
    return next((file for file, text in texts.items() if f'id = "{fitting.id}"' in text), "fittings")


def _fitting_references(fitting: Fitting, catalogue: Catalogue, file: str, text: str) -> Iterable[Problem]:
    points = {point.id for other in catalogue.fittings.values() for point in other.teach}
    named: list[tuple[tuple[int | str, ...], str, Iterable[str], str]] = [
        *((("kit", n), item, catalogue.kit, "kit") for n, item in enumerate(fitting.kit)),
        *((("charges", n), item, catalogue.charges, "charge") for n, item in enumerate(fitting.charges)),
        *(
            (("teach", n, "after", k), before, points, "teach point")
            for n, point in enumerate(fitting.teach)
            for k, before in enumerate(point.after)
        ),
    ]
    for loc, name, known, what in named:
        if name not in known:
            yield problem_at(text, file, loc, wrong=f"no {what} has this id", seen=name, todo="Use an id that exists")
    spoken = [
        *((("teach", n, "when"), word) for n, point in enumerate(fitting.teach) for word in point.when),
        *(
            (("symptoms", n, "causes", k, "raised_by"), word)
            for n, symptom in enumerate(fitting.symptoms)
            for k, cause in enumerate(symptom.causes)
            for word in cause.raised_by
        ),
    ]
    for loc, word in spoken:
        if wrong := unknown_condition(word, catalogue):
            yield problem_at(text, file, loc, wrong=wrong, seen=word, todo="Use a hire tag of scales.toml or 'always'")


def _task_references(index: int, task: Task, catalogue: Catalogue, text: str) -> Iterable[Problem]:
    def wrong(field: str, sentence: str, seen: str) -> Problem:
        return problem_at(text, "tasks.toml", ("task", index, field), wrong=sentence, seen=seen, todo="Mend the name")

    if task.place not in catalogue.places:
        yield wrong("place", "no place has this id", task.place)
    yield from (wrong("after", "no task has this id", name) for name in task.after if name not in catalogue.tasks)
    yield from (wrong("when", said, word) for word in task.when if (said := unknown_condition(word, catalogue)))


def _cycles(catalogue: Catalogue, texts: Mapping[str, str]) -> Iterable[Problem]:
    points = {point.id: point.after for fitting in catalogue.fittings.values() for point in fitting.teach}
    owner = {point.id: fitting.id for fitting in catalogue.fittings.values() for point in fitting.teach}
    graphs: list[tuple[Mapping[str, tuple[str, ...]], Callable[[str], str]]] = [
        (points, lambda name: f"fittings/{owner[name]}.toml"),
        ({task.id: task.after for task in catalogue.tasks.values()}, lambda _: "tasks.toml"),
    ]
    for graph, file_of in graphs:
        if cycle := first_cycle(graph):
            file = file_of(cycle[0])
            line = 1 + texts[file][: texts[file].find(f'id = "{cycle[0]}"')].count("\n")
            todo = "Take one of them out of 'after'"
            yield Problem(file, line, "after", "each of these waits for the next", " -> ".join(cycle), todo, "cycle")


def _twice(
    fittings: Mapping[str, Fitting | None], tasks: TaskFile, kit: KitFile, charges: ChargeFile, texts: Mapping[str, str]
) -> Iterable[Problem]:
    seen: dict[tuple[str, str], str] = {}
    entries: list[tuple[str, str, str, tuple[int | str, ...]]] = [
        *(("task", task.id, "tasks.toml", ("task", n)) for n, task in enumerate(tasks.task)),
        *(("place", place.id, "tasks.toml", ("place", n)) for n, place in enumerate(tasks.place)),
        *(("kit", item.id, "kit.toml", ("item", n)) for n, item in enumerate(kit.item)),
        *(("charge", charge.id, "charges.toml", ("charge", n)) for n, charge in enumerate(charges.charge)),
        *((("teach"), p.id, file, ("teach", n)) for file, f in fittings.items() if f for n, p in enumerate(f.teach)),
        *(
            ("symptom", s.id, file, ("symptoms", n))
            for file, f in fittings.items()
            if f
            for n, s in enumerate(f.symptoms)
        ),
    ]
    for kind, name, file, loc in entries:
        if (kind, name) in seen:
            wrong = f"a {kind} of this id stands already in {seen[kind, name]}"
            yield problem_at(texts[file], file, (*loc, "id"), wrong=wrong, seen=name, todo="Give it an id of its own")
        seen[kind, name] = file
