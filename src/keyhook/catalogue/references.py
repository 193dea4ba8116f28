"""What one record of the catalogue says of another: every name followed, nothing twice, nothing in a circle."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import get_args

from keyhook.catalogue.conditions import Vocabulary, unknown_condition
from keyhook.catalogue.files import ChargeFile, KitFile, TaskFile
from keyhook.catalogue.models import Fitting, Moment, Scales
from keyhook.catalogue.precedence import first_cycle
from keyhook.errors import Problem
from keyhook.records_toml import problem_at

Loc = tuple[int | str, ...]

TASKS, KIT, CHARGES, TYRES, SCALES = "tasks.toml", "kit.toml", "charges.toml", "tyres.toml", "scales.toml"
#: Moments in the order in which they come; ``need`` may come at any time.
MOMENTS = tuple(moment for moment in get_args(Moment) if moment != "need")


@dataclass(frozen=True, slots=True)
class Parts:
    """What could be read of the catalogue: fittings by file; a file that could not be read is None."""

    fittings: Mapping[str, Fitting | None]
    tasks: TaskFile | None
    kit: KitFile | None
    charges: ChargeFile | None
    scales: Scales | None

    @property
    def read_fittings(self) -> dict[str, Fitting]:
        """The fittings that could be read, by file."""
        return {file: fitting for file, fitting in self.fittings.items() if fitting}

    @property
    def all_fittings_read(self) -> bool:
        """Whether no fitting is broken."""
        return None not in self.fittings.values()


@dataclass(frozen=True, slots=True)
class Mention:
    """One record names another: where, the name, and what kind of thing it names."""

    file: str
    loc: Loc
    name: str
    kind: str


def reference_problems(parts: Parts, texts: Mapping[str, str]) -> Iterator[Problem]:
    """Yield every name that leads nowhere, every id that stands twice, every circle and every wrong order.

    What a file that could not be read might have held is not held against the others.
    """
    known = _known(parts)
    for mention in _mentions(parts):
        yield from _followed(mention, known, texts[mention.file])
    if parts.scales:
        words = _vocabulary(parts, parts.scales)
        for mention in _conditions(parts):
            wrong, meant = unknown_condition(mention.name, words)
            if wrong:
                yield _told(mention, wrong, meant, texts[mention.file])
    yield from _misnamed(parts, texts)
    yield from _twice(parts, texts)
    yield from _circles(parts, texts)
    yield from _out_of_order(parts, texts)


def _known(parts: Parts) -> dict[str, Collection[str] | None]:
    """Return the ids of each kind; None where a broken file may have held more."""
    points = {point.id for fitting in parts.read_fittings.values() for point in fitting.teach}
    return {
        "piece of kit": {item.id for item in parts.kit.item} if parts.kit else None,
        "charge": {charge.id for charge in parts.charges.charge} if parts.charges else None,
        "life": parts.charges.wear_life_months if parts.charges else None,
        "task": {task.id for task in parts.tasks.task} if parts.tasks else None,
        "place": {place.id for place in parts.tasks.place} if parts.tasks else None,
        "teach point": points if parts.all_fittings_read else None,
    }


def _vocabulary(parts: Parts, scales: Scales) -> Vocabulary:
    fittings = {fitting.id for fitting in parts.read_fittings.values()} if parts.all_fittings_read else None
    return Vocabulary(scales.tags, scales.options, scales.reports, scales.gauges, fittings)


def _mentions(parts: Parts) -> Iterator[Mention]:
    for file, fitting in parts.read_fittings.items():
        yield from (Mention(file, ("kit", n), name, "piece of kit") for n, name in enumerate(fitting.kit))
        yield from (Mention(file, ("charges", n), name, "charge") for n, name in enumerate(fitting.charges))
        for n, point in enumerate(fitting.teach):
            yield from (Mention(file, ("teach", n, "after"), name, "teach point") for name in point.after)
    for n, task in enumerate(parts.tasks.task if parts.tasks else ()):
        yield Mention(TASKS, ("task", n, "place"), task.place, "place")
        yield from (Mention(TASKS, ("task", n, "after"), name, "task") for name in task.after)
    for n, charge in enumerate(parts.charges.charge if parts.charges else ()):
        if charge.wear:
            yield Mention(CHARGES, ("charge", n, "wear"), charge.wear, "life")


def _conditions(parts: Parts) -> Iterator[Mention]:
    for file, fitting in parts.read_fittings.items():
        for n, point in enumerate(fitting.teach):
            yield from (Mention(file, ("teach", n, "when"), word, "") for word in point.when)
        yield from (Mention(file, ("checks", n, "when"), check.when, "") for n, check in enumerate(fitting.checks))
        for n, symptom in enumerate(fitting.symptoms):
            for k, cause in enumerate(symptom.causes):
                loc = ("symptoms", n, "causes", k, "raised_by")
                yield from (Mention(file, loc, word, "") for word in cause.raised_by)
    for n, task in enumerate(parts.tasks.task if parts.tasks else ()):
        yield from (Mention(TASKS, ("task", n, "when"), word, "") for word in task.when)
    for n, item in enumerate(parts.kit.item if parts.kit else ()):
        yield from (Mention(KIT, ("item", n, "when"), word, "") for word in item.when)


def _followed(mention: Mention, known: Mapping[str, Collection[str] | None], text: str) -> Iterator[Problem]:
    names = known[mention.kind]
    if names is not None and mention.name not in names:
        yield _told(mention, f"no {mention.kind} has this id", names, text)


def _told(mention: Mention, wrong: str, meant: Collection[str], text: str) -> Problem:
    close = difflib.get_close_matches(mention.name, list(meant), n=1, cutoff=0.6)
    todo = f"Did you mean {close[0]}?" if close else "Use a name that exists, or add it where it belongs"
    return problem_at(text, mention.file, mention.loc, wrong=wrong, seen=mention.name, todo=todo)


def _misnamed(parts: Parts, texts: Mapping[str, str]) -> Iterator[Problem]:
    for file, fitting in parts.read_fittings.items():
        if file != f"fittings/{fitting.id}.toml":
            todo = f"Call the file {fitting.id}.toml or mend the id"
            wrong = "the id is not the name of the file"
            yield problem_at(texts[file], file, ("id",), wrong=wrong, seen=fitting.id, todo=todo)


def _twice(parts: Parts, texts: Mapping[str, str]) -> Iterator[Problem]:
    seen: dict[tuple[str, str], str] = {}
    for mention in _ids(parts):
        key = (mention.kind, mention.name)
        if key in seen:
            wrong = f"a {mention.kind} of this id stands already in {seen[key]}"
            todo = "Give it an id of its own"
            text = texts[mention.file]
            yield problem_at(text, mention.file, mention.loc, wrong=wrong, seen=mention.name, todo=todo)
        seen.setdefault(key, mention.file)


def _ids(parts: Parts) -> Iterator[Mention]:
    for n, task in enumerate(parts.tasks.task if parts.tasks else ()):
        yield Mention(TASKS, ("task", n, "id"), task.id, "task")
    for n, place in enumerate(parts.tasks.place if parts.tasks else ()):
        yield Mention(TASKS, ("place", n, "id"), place.id, "place")
    for n, item in enumerate(parts.kit.item if parts.kit else ()):
        yield Mention(KIT, ("item", n, "id"), item.id, "piece of kit")
    for n, charge in enumerate(parts.charges.charge if parts.charges else ()):
        yield Mention(CHARGES, ("charge", n, "id"), charge.id, "charge")
    for file, fitting in parts.read_fittings.items():
        yield from (Mention(file, ("teach", n, "id"), p.id, "teach point") for n, p in enumerate(fitting.teach))
        yield from (Mention(file, ("symptoms", n, "id"), s.id, "symptom") for n, s in enumerate(fitting.symptoms))


def _circles(parts: Parts, texts: Mapping[str, str]) -> Iterator[Problem]:
    points = {
        point.id: (point.after, file, ("teach", n, "after"))
        for file, fitting in parts.read_fittings.items()
        for n, point in enumerate(fitting.teach)
    }
    tasks = {
        task.id: (task.after, TASKS, ("task", n, "after"))
        for n, task in enumerate(parts.tasks.task if parts.tasks else ())
    }
    for entries in (points, tasks):
        cycle = first_cycle({name: after for name, (after, _, _) in entries.items()})
        if cycle:
            _, file, loc = entries[cycle[0]]
            seen, wrong = " -> ".join(cycle), "each of these waits for the next, so none can come first"
            todo = "Take one of them out of an 'after'"
            yield problem_at(texts[file], file, loc, wrong=wrong, seen=seen, todo=todo, code="cycle")


def _out_of_order(parts: Parts, texts: Mapping[str, str]) -> Iterator[Problem]:
    """Yield teach points that are told at an earlier moment than a point they wait for."""
    moment_of = {point.id: point.moment for fitting in parts.read_fittings.values() for point in fitting.teach}
    for file, fitting in parts.read_fittings.items():
        for n, point in enumerate(fitting.teach):
            late = [name for name in point.after if _is_earlier(point.moment, moment_of.get(name, "need"))]
            if late:
                wrong = f"it is told at '{point.moment}', before the moment of a point it waits for"
                todo = "Take it out of 'after' or move one of the two"
                loc = ("teach", n, "after")
                yield problem_at(texts[file], file, loc, wrong=wrong, seen=", ".join(late), todo=todo, code="order")


def _is_earlier(moment: str, other: str) -> bool:
    return "need" not in {moment, other} and MOMENTS.index(moment) < MOMENTS.index(other)
