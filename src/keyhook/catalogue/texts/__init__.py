"""Every text of the catalogue by key, and the same catalogue in another language, text by text.

A book of a language is a folder beside this file with one page a fitting (and pages of any other name). Each text
stands under its key with the English it was made from, so that a translation whose English has changed since is
never shown for the new words::

    ["hookup.teach.hk_order.text"]
    of = "The English words as they stood"
    text = "The words of the other language"
    checked = true    # a native speaker has read it
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, TypeVar

from pydantic import Field, ValidationError

from keyhook.catalogue.models import Catalogue, Fitting
from keyhook.errors import BrokenFolder, Problem
from keyhook.records import Record
from keyhook.records_toml import problem_at, problems_of, read_toml

R = TypeVar("R", bound=Record)

#: Fields of the catalogue's records that a person reads.
READ_BY_PEOPLE = frozenset(
    {
        *("name", "what", "where", "text", "why", "alone", "ask", "who"),
        *("says", "first", "stop", "cause", "check", "fix"),
        *("note", "fair", "grade"),
    }
)
#: First parts of the keys of what is no fitting; no fitting may be called so.
KINDS = ("task", "place", "kit", "charge")


class Said(Record):
    """One text in another language; ``of`` is the English it was made from, ``checked`` by a native speaker."""

    of: str = Field(min_length=1)
    text: str = Field(min_length=1, max_length=300)
    checked: bool = False


@dataclass(frozen=True, slots=True)
class Book:
    """The texts of one language by key."""

    language: str
    said: Mapping[str, Said]


@dataclass(frozen=True, slots=True)
class Translation:
    """A catalogue as one language shows it, and what is left to do.

    ``missing`` are keys without a text in the book, ``stale`` those whose English has changed since: both show
    English. ``unchecked`` are shown in the language though no native speaker has read them yet.
    """

    language: str
    catalogue: Catalogue
    missing: tuple[str, ...]
    stale: tuple[str, ...]
    unchecked: tuple[str, ...]

    @property
    def checked_by_native_speaker(self) -> bool:
        """Whether every text is there, up to date and read by a native speaker."""
        return not (self.missing or self.stale or self.unchecked)


def texts_of(fitting: Fitting) -> dict[str, str]:
    """Return every text of the fitting that a person reads, keyed like ``hookup.teach.hk_order.text``."""
    return _texts(fitting, fitting.id)


def all_texts(catalogue: Catalogue) -> dict[str, str]:
    """Return every text of the catalogue that a person reads; keys of tasks begin with ``task.`` and so on."""
    return {key: text for prefix, record in _records(catalogue) for key, text in _texts(record, prefix).items()}


def translated(catalogue: Catalogue, book: Book) -> Translation:
    """Return the catalogue in the book's language; a text that the book lacks, or whose English moved, stays English.

    Raises
    ------
    BrokenFolder
        The book holds a key that the catalogue does not have.
    """
    english = all_texts(catalogue)
    _no_strange_keys(book, english)
    missing = tuple(key for key in english if key not in book.said)
    stale = tuple(key for key, said in book.said.items() if said.of != english[key])
    use = {key: said for key, said in book.said.items() if said.of == english[key]}
    words = {key: said.text for key, said in use.items()}
    shown = replace(
        catalogue,
        fittings=_in_words(catalogue.fittings, "", words),
        tasks=_in_words(catalogue.tasks, "task.", words),
        places=_in_words(catalogue.places, "place.", words),
        kit=_in_words(catalogue.kit, "kit.", words),
        charges=_in_words(catalogue.charges, "charge.", words),
    )
    unchecked = tuple(key for key, said in use.items() if not said.checked)
    return Translation(book.language, shown, missing, stale, unchecked)


def read_book(language: str, pages: Mapping[str, str]) -> Book:
    """Return the book on these pages (file name to TOML text).

    Raises
    ------
    BrokenFolder
        With every problem of every page.
    """
    problems: list[Problem] = []
    said: dict[str, Said] = {}
    for file, text in pages.items():
        try:
            entries = read_toml(text, file)
        except BrokenFolder as error:
            problems.extend(error.problems)
            continue
        for key, entry in entries.items():
            if key in said:
                todo = "Keep one of the two"
                problems.append(problem_at(text, file, (key,), wrong="the key stands twice", seen=key, todo=todo))
            try:
                said[key] = Said.model_validate(entry)
            except ValidationError as error:
                problems.extend(problems_of(error, text, file, Said, (key,)))
    if problems:
        raise BrokenFolder(problems)
    return Book(language, said)


def left_to_do(catalogue: Catalogue, book: Book) -> str:
    """Return a page of every text that the book lacks or whose English has changed, ready to be filled in.

    What the book said of older English stands above the new as a comment. A page handed back with a text still empty
    is refused, so that nothing is forgotten; an empty page means that nothing is left.
    """
    entries: list[str] = []
    for key, english in all_texts(catalogue).items():
        said = book.said.get(key)
        if said is None or said.of != english:
            was = [f"# was: {_quoted(said.text)}, made from: {_quoted(said.of)}\n"] if said else []
            entries.append(f'{"".join(was)}[{_quoted(key)}]\nof = {_quoted(english)}\ntext = ""\n')
    return "\n".join(entries)


def _quoted(text: str) -> str:
    """Return a text as a basic string of TOML; on one line and printable, JSON writes the same."""
    return json.dumps(text, ensure_ascii=False)


@cache
def book_of(language: str) -> Book:
    """Return the shipped book of a language; empty for English and for a language without one."""
    folder = files(__name__).joinpath(language)
    if not folder.is_dir():
        return Book(language, {})
    pages = {page.name: page.read_text(encoding="utf-8") for page in folder.iterdir() if page.name.endswith(".toml")}
    return read_book(language, pages)


def _no_strange_keys(book: Book, english: Mapping[str, str]) -> None:
    strange = [key for key in book.said if key not in english]
    if strange:
        wrong, todo = "no text of the catalogue has this key", "Take it out or mend the key"
        raise BrokenFolder([Problem(book.language, 0, key, wrong, key, todo, "unknown-key") for key in strange])


def _records(catalogue: Catalogue) -> Iterator[tuple[str, Record]]:
    yield from catalogue.fittings.items()
    for kind, records in zip(KINDS, (catalogue.tasks, catalogue.places, catalogue.kit, catalogue.charges), strict=True):
        yield from ((f"{kind}.{name}", record) for name, record in records.items())


def _texts(record: Record, prefix: str) -> dict[str, str]:
    return dict(_walk(record.model_dump(mode="python"), prefix))


def _in_words(records: Mapping[str, R], prefix: str, words: Mapping[str, str]) -> Mapping[str, R]:
    """Return the records with their words; those without any in the book are the same objects as before."""
    spoken = {key.removeprefix(prefix).split(".", 1)[0] for key in words if key.startswith(prefix)}
    return MappingProxyType(
        {
            name: _reworded(record, prefix + name, words) if name in spoken else record
            for name, record in records.items()
        }
    )


def _walk(value: Any, key: str) -> Iterator[tuple[str, str]]:
    for name, inner, at in _children(value, key):
        if isinstance(inner, str):
            if name in READ_BY_PEOPLE and inner:
                yield at, inner
        else:
            yield from _walk(inner, at)


def _children(value: Any, key: str) -> Iterator[tuple[str, Any, str]]:
    if isinstance(value, Mapping):
        yield from ((name, inner, f"{key}.{name}") for name, inner in value.items())
    elif isinstance(value, list | tuple):
        for number, inner in enumerate(value):
            label = inner.get("id", number) if isinstance(inner, Mapping) else number
            yield "", inner, f"{key}.{label}"


def _reworded(value: Any, key: str, words: Mapping[str, str]) -> Any:
    """Return a value with the words of the book; how long they are, the book has checked, not the English record."""
    if isinstance(value, Record):
        names = type(value).model_fields
        return value.model_copy(
            update={name: _reworded(getattr(value, name), f"{key}.{name}", words) for name in names}
        )
    if isinstance(value, tuple):
        labels = (getattr(inner, "id", number) for number, inner in enumerate(value))
        return tuple(_reworded(inner, f"{key}.{at}", words) for at, inner in zip(labels, value, strict=True))
    return words.get(key, value) if isinstance(value, str) else value
