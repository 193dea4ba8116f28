"""Every text of the catalogue by key, and the same catalogue in another language, text by text."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from keyhook.catalogue.models import Fitting

#: Fields of a fitting's records that a person reads.
READ_BY_PEOPLE = frozenset(
    {"name", "what", "where", "text", "why", "who", "says", "first", "stop", "cause", "check", "fix"}
)


@dataclass(frozen=True, slots=True)
class Book:
    """The texts of one language by key. ``checked`` are keys a native speaker has ticked."""

    language: str
    texts: Mapping[str, str]
    checked: frozenset[str] = frozenset()


def texts_of(fitting: Fitting) -> dict[str, str]:
    """Return every text of the fitting that a person reads, keyed like ``hookup.teach.hk_order.text``."""
    return dict(_walk(fitting.model_dump(mode="python"), fitting.id))


def translated(fitting: Fitting, book: Book) -> Fitting:
    """Return the fitting in the book's language; a text the book lacks stays English."""
    return Fitting.model_validate(_replace(fitting.model_dump(mode="python"), fitting.id, book.texts))


@cache
def book_of(language: str) -> Book:
    """Return the shipped book of a language; empty for English and for a language without one."""
    folder = files(__name__).joinpath(language)
    if not folder.is_dir():
        return Book(language, {})
    pages = [page for page in folder.iterdir() if page.name.endswith(".toml")]
    texts: dict[str, str] = {}
    for page in pages:
        texts.update(tomllib.loads(page.read_text(encoding="utf-8")))
    return Book(language, texts)


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


def _replace(value: Any, key: str, texts: Mapping[str, str]) -> Any:
    if isinstance(value, Mapping):
        return {name: _replace(inner, at, texts) for name, inner, at in _children(value, key)}
    if isinstance(value, list | tuple):
        return [_replace(inner, at, texts) for _, inner, at in _children(value, key)]
    return texts.get(key, value) if isinstance(value, str) and key.rsplit(".", 1)[-1] in READ_BY_PEOPLE else value
