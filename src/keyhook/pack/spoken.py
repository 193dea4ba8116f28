"""One language at a time: a card is in the hirer's language as a whole, or as a whole in English.

A card whose book lacks one of its texts, or holds one made from older English, is shown in English and says so: half
a caution in one language and half in another helps nobody.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from keyhook.catalogue.texts import Book
from keyhook.phrases import phrase_book, say

ENGLISH = "en"


@dataclass(slots=True)
class Spoken:
    """The words of one pack in one language; counts what was shown unchecked and what fell back.

    ``checked`` says that a depot has had the language read by a native speaker; ``own`` holds the depot's own words,
    as it wrote them, and what they are in the language.
    """

    language: str
    book: Book
    checked: bool = False
    own: Mapping[str, str] = field(default_factory=dict)
    unchecked: set[str] = field(default_factory=set)
    fell_back: set[str] = field(default_factory=set)

    def card(self, texts: Mapping[str, str]) -> tuple[str, dict[str, str]]:
        """Return the language of a card and its texts by key; ``texts`` are the English ones.

        Every text comes from the book, or none does.
        """
        if self.language == ENGLISH:
            return ENGLISH, dict(texts)
        said = {key: self.book.said.get(key) for key in texts}
        if any(one is None or one.of != texts[key] for key, one in said.items()):
            self.fell_back.update(texts)
            return ENGLISH, dict(texts)
        if not self.checked:
            self.unchecked.update(key for key, one in said.items() if one is not None and not one.checked)
        return self.language, {key: one.text for key, one in said.items() if one is not None}

    def words(self, text: str) -> tuple[str, str]:
        """Return the language of the depot's own words and the words: in the hirer's language when the depot has them.

        They count neither as unchecked nor as fallen back: they are the depot's.
        """
        if self.language != ENGLISH and text in self.own:
            return self.language, self.own[text]
        return ENGLISH, text

    def phrases(self, prefix: str, names: Iterable[str]) -> tuple[str, dict[str, str]]:
        """Return the language of phrases that belong together, and the phrases by name."""
        names = list(names)
        book = phrase_book(self.language)
        whole = self.language == ENGLISH or all(f"{prefix}.{name}" in book for name in names)
        language = self.language if whole else ENGLISH
        if not whole:
            self.fell_back.update(f"{prefix}.{name}" for name in names)
        elif self.language != ENGLISH and not self.checked:
            self.unchecked.update(f"{prefix}.{name}" for name in names)
        return language, {name: say(f"{prefix}.{name}", language=language) for name in names}


def folded(words: str) -> str:
    """Return words as a search compares them: lower case, without accents, one space between."""
    plain = unicodedata.normalize("NFKD", words.casefold())
    kept = "".join(sign if sign.isalnum() else " " for sign in plain if not unicodedata.combining(sign))
    return " ".join(kept.split())
