"""The phrase book: every sentence the pure library can say, keyed, English complete.

A sentence stands once, in a file of the folder ``en``. Computations return a key and values; whoever
shows the answer calls :func:`say`. Another language is another folder; a missing key falls back to English.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

from keyhook.errors import UnknownName

#: Languages in which a hirer may read, each by its own name. English is complete; the others fall back to it.
LANGUAGES: Mapping[str, str] = {
    "en": "English",
    "de": "Deutsch",
    "fr": "Français",
    "nl": "Nederlands",
    "es": "Español",
}


@cache
def phrase_book(language: str = "en") -> Mapping[str, str]:
    """Return all phrases of a language by dotted key; empty when the language has no book."""
    folder = files(__name__).joinpath(language)
    if not folder.is_dir():
        return {}
    pages = (page for page in folder.iterdir() if page.name.endswith(".toml"))
    return {key: text for page in pages for key, text in _flat(tomllib.loads(page.read_text(encoding="utf-8")))}


def say(key: str, values: Mapping[str, object] | None = None, language: str = "en") -> str:
    """Return the phrase ``key`` with ``values`` filled in.

    Raises
    ------
    UnknownName
        No book carries the key.
    """
    phrase = phrase_book(language).get(key) or phrase_book().get(key)
    if phrase is None:
        raise UnknownName("No phrase has this key", seen=key, todo="Add it to phrases/en")
    return phrase.format(**(values or {}))


def _flat(table: Mapping[str, object], prefix: str = "") -> list[tuple[str, str]]:
    pairs: list[tuple[str, str]] = []
    for key, value in table.items():
        if isinstance(value, Mapping):
            pairs.extend(_flat(value, f"{prefix}{key}."))
        else:
            pairs.append((prefix + key, str(value)))
    return pairs
