"""How surely a teach point was said in a recording: closeness of meaning, shared rare words, and the lead over others.

1. The recording is cut into overlapping windows of a few words (:mod:`keyhook.tour.recording`).
2. Closeness: cosine of the vectors of window and point, the mean of all points taken off both, so that what every
   sentence has in common (drive, open, close) does not count.
3. Overlap: of the words of a point, weighed by how rare they are among all points, the share that the window has.
   Words are cut to their stem, numbers written out, and a few trade words brought together.
4. A point's place is the window where closeness and overlap together are largest. Its lead is by how much it beats
   the best other point of this vehicle in that window: one sentence is seldom two points.
5. A logistic function of the three gives the chance that it was said. Its weights were fitted on the recordings of
   the demo marked ``choosing`` and are measured on those marked ``held out`` (``bench/bench_tour.py --fit``).
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from keyhook.basis import Basis, Because, Input
from keyhook.catalogue import Catalogue, TeachPoint
from keyhook.tour.recording import Window
from keyhook.tour.vectors import unit_rows, word_vectors

#: Overlap counts this much beside closeness when the best window is sought.
OVERLAP_SHARE = 0.8

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Weights:
    """The logistic function: bias and weights of closeness, overlap and lead; from which chance a point counts."""

    bias: float
    closeness: float
    overlap: float
    lead: float
    covered_from: float


#: Fitted on the recordings for choosing; see the module.
WEIGHTS = Weights(bias=-5.1, closeness=5.0, overlap=6.3, lead=3.0, covered_from=0.4)


@dataclass(frozen=True, slots=True)
class Match:
    """A point in a recording: its best window, the three measures there, and the chance that it was said."""

    point: str
    window: int
    closeness: float
    overlap: float
    lead: float
    chance: float

    @property
    def because(self) -> Because:
        """Why the chance is what it is."""
        inputs = (
            Input("closeness of meaning", self.closeness, "", "cosine of word vectors", Basis.MEASURED),
            Input("shared rare words", self.overlap, "share", "of the words of the point", Basis.MEASURED),
            Input("lead over the next point", self.lead, "", "in the same stretch", Basis.MEASURED),
        )
        return Because("logistic of weighted closeness + shared + lead", inputs, Basis.MEASURED, "static-word-vectors")


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """What is rare and what is common among all points of a catalogue, and the mean of their vectors."""

    rarity: dict[str, float]
    mean: NDArray[np.float32]

    def weights_of(self, text: str) -> dict[str, float]:
        """Return the stems of a text with their rarity; common ones count nothing."""
        return {stem: self.rarity.get(stem, 0.0) for stem in stems(text) if stem not in _COMMON}

    def vectors(self, texts: Sequence[str]) -> NDArray[np.float32]:
        """Return one unit vector a text with the mean of all points taken off."""
        off = word_vectors().of([plain(text) for text in texts]) - self.mean
        return unit_rows(off)


@dataclass(frozen=True, slots=True)
class Scores:
    """Closeness and overlap of every window (rows) and point (columns)."""

    points: tuple[str, ...]
    closeness: Floats
    overlap: Floats

    @property
    def together(self) -> Floats:
        """Closeness and overlap as one number."""
        both: Floats = self.closeness + OVERLAP_SHARE * self.overlap
        return both


def vocabulary_of(catalogue: Catalogue) -> Vocabulary:
    """Return the vocabulary of a catalogue."""
    texts = tuple(point.text for fitting in catalogue.fittings.values() for point in fitting.teach)
    return _vocabulary(texts)


@cache
def _vocabulary(texts: tuple[str, ...]) -> Vocabulary:
    seen = Counter(stem for text in texts for stem in set(stems(text)))
    rarity = {stem: math.log((len(texts) + 1) / (count + 0.5)) for stem, count in seen.items()}
    return Vocabulary(rarity, word_vectors().of([plain(text) for text in texts]).mean(axis=0))


def scores(windows: Sequence[Window], points: Sequence[TeachPoint], vocabulary: Vocabulary) -> Scores:
    """Return how close every window comes to every point."""
    heard = vocabulary.vectors([window.text for window in windows])
    meant = vocabulary.vectors([point.text for point in points])
    overlap = np.zeros((len(windows), len(points)))
    said = [set(stems(window.text)) for window in windows]
    for column, point in enumerate(points):
        weights = vocabulary.weights_of(point.text)
        total = sum(weights.values()) or 1.0
        overlap[:, column] = [sum(weight for stem, weight in weights.items() if stem in row) / total for row in said]
    return Scores(tuple(point.id for point in points), (heard @ meant.T).astype(np.float64), overlap)


def matches(found: Scores, weights: Weights = WEIGHTS) -> tuple[Match, ...]:
    """Return for every point where it was said best, and how surely."""
    together = found.together
    best = together.argmax(axis=0)
    result: list[Match] = []
    for column, point in enumerate(found.points):
        row = int(best[column])
        others = np.delete(together[row], column)
        lead = float(together[row, column] - others.max()) if others.size else 0.0
        closeness, overlap = float(found.closeness[row, column]), float(found.overlap[row, column])
        result.append(Match(point, row, closeness, overlap, lead, chance(closeness, overlap, lead, weights)))
    return tuple(result)


def chance(closeness: float, overlap: float, lead: float, weights: Weights = WEIGHTS) -> float:
    """Return the chance that a point was said, 0 to 1."""
    z = weights.bias + weights.closeness * closeness + weights.overlap * overlap + weights.lead * lead
    return 1 / (1 + math.exp(-z))


def plain(text: str) -> str:
    """Return text with numbers written out and trade words brought together."""
    words = _POINTED.sub(lambda m: f"{spelled(int(m[1]))} point {' '.join(_ONES[int(c)] for c in m[2])}", text)
    words = _NUMBER.sub(lambda m: spelled(int(m[0])), words)
    return _WORD.sub(lambda m: _SAME.get(m[0].lower(), m[0]), words)


def stems(text: str) -> list[str]:
    """Return the words of a text cut to their stem, in order."""
    return [_stem(word.lower()) for word in _WORD.findall(plain(text))]


def english_share(words: Sequence[str]) -> float:
    """Return which share of the words are the commonest little words of English: about 0.4 in English speech."""
    return sum(word.lower() in _LITTLE for word in words) / len(words) if words else 0.0


def spelled(number: int) -> str:
    """Return a number from 0 to 9999 as people say it, 'a' or 'one' before hundred left out."""
    if number < len(_ONES):
        return _ONES[number]
    for size, name in ((1000, "thousand"), (100, "hundred")):
        if number >= size:
            many, rest = divmod(number, size)
            head = name if many == 1 else f"{spelled(many)} {name}"
            return f"{head} {spelled(rest)}" if rest else head
    tens, ones = divmod(number, 10)
    return f"{_TENS[tens]} {_ONES[ones]}" if ones else _TENS[tens]


def _stem(word: str) -> str:
    word = word.removesuffix("'s")
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= _LEAST_STEM:
            word = word.removesuffix(ending)
            break
    if word.endswith("e") and len(word) > _LEAST_STEM + 1:
        word = word[:-1]
    return word[:-1] if len(word) > _LEAST_STEM and word[-1] == word[-2] else word


_LEAST_STEM = 3
_ENDINGS = ("ingly", "edly", "ing", "ied", "ies", "ed", "es", "ly", "s")
_WORD = re.compile(r"[A-Za-z0-9]+(?:'[a-z]+)?")
_NUMBER = re.compile(r"\d{1,4}")
_POINTED = re.compile(r"(\d{1,4})\.(\d+)")
_ONES = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"),
    *("thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
#: Other words of the trade for the same thing.
_SAME = {
    "loo": "toilet",
    "van": "vehicle",
    "bottle": "cylinder",
    "bottles": "cylinders",
    "waste": "grey",
    "cable": "lead",
    "telly": "television",
}
_COMMON_WORDS = """
the a an and or of to in on at is are it its you your we us our with for by not do does be as so that this these those
then than there here when where which who what if from up out off all no any each every one two has have had will can
may must only also them they he she i me my
"""
_LITTLE = frozenset(_COMMON_WORDS.split())
_COMMON = frozenset(_stem(word) for word in _WORD.findall(_COMMON_WORDS))
