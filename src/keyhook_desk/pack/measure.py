"""How much of a language there is."""

from __future__ import annotations

from functools import cache

from keyhook.catalogue import load_catalogue
from keyhook.catalogue.texts import all_texts, book_of
from keyhook.phrases import phrase_book


@cache
def measured(language: str) -> tuple[int, int, int, int]:
    """Return texts of the catalogue that the language has up to date and all there are, and words of the pack alike."""
    english = all_texts(load_catalogue())
    said = book_of(language).said
    fresh = sum(1 for key, text in english.items() if key in said and said[key].of == text)
    words = [key for key in phrase_book() if key.startswith("pack.")]
    spoken = phrase_book(language)
    return fresh, len(english), sum(key in spoken for key in words), len(words)
