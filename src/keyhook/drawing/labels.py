"""Words inside tanks, stores and beds: where there is room beside numbers, seats and other words, or not at all."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from keyhook.drawing.canvas import Canvas
from keyhook.drawing.numbers import RADIUS, Placed

#: Breadth of a letter as a share of its size: on the wide side, since the face of a page is its reader's own.
LETTER_SHARE = 0.6
#: Height of letters above and below the baseline, as shares of their size.
_RISE_SHARE, _FALL_SHARE = 0.78, 0.24
_STEP, _MOST_STEPS, _EDGE, _AIR = 6.0, 14, 4.0, 1.0
#: A line is kept free by small boxes along it.
_LINE_STEP = 5.0


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in drawing units."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        """Return whether two boxes have room in common."""
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom


@dataclass(frozen=True, slots=True)
class Label:
    """Lines of words (look, words, size) in a box: where they stand best, as middle and first baseline.

    A box covers the boxes of lower layers, so their words do not stand in it.
    """

    box: Box
    lines: tuple[tuple[str, str, float], ...]
    x: float
    y: float
    layer: int


def draw_labels(canvas: Canvas, labels: Sequence[Label], taken: Iterable[Box]) -> None:
    """Draw each label at the free place of its box nearest to its best one; what has no room its group still tells."""
    full = list(taken)
    for label in labels:
        at = _free_place(label, [*full, *(other.box for other in labels if other.layer > label.layer)])
        if at is None:
            continue
        full.append(_area(label, *at))
        with canvas.group():
            for (look, words, size), y in zip(label.lines, _baselines(label, at[1]), strict=True):
                canvas.text(look, at[0], y, words, size=size)


def _free_place(label: Label, closed: Iterable[Box]) -> tuple[float, float] | None:
    places = _places(label)
    areas = [_area(label, *at) for at in places]
    for one in _near(closed, areas):
        kept = [number for number, area in enumerate(areas) if not area.meets(one)]
        places, areas = [places[number] for number in kept], [areas[number] for number in kept]
    return places[0] if places else None


def _near(closed: Iterable[Box], areas: Sequence[Box]) -> Iterator[Box]:
    """Yield the boxes that meet any of the areas at all."""
    if areas:
        left, top = min(area.left for area in areas), min(area.top for area in areas)
        around = Box(left, top, max(area.right for area in areas), max(area.bottom for area in areas))
        yield from (box for box in closed if around.meets(box))


def boxes_of(placed: Sequence[Placed]) -> Iterator[Box]:
    """Yield what numbers and their lead lines cover."""
    for entry in placed:
        yield _around(entry.x, entry.y, RADIUS + _AIR)
        if entry.moved:
            yield from _along(entry.x, entry.y, entry.spot.x, entry.spot.y)


def boxes_between(placed: Sequence[Placed]) -> Iterator[Box]:
    """Yield what the way from each to the next covers."""
    for one, other in pairwise(placed):
        yield from _along(one.x, one.y, other.x, other.y)


def _along(x: float, y: float, to_x: float, to_y: float) -> Iterator[Box]:
    """Yield small boxes along a line."""
    steps = max(1, math.ceil(math.hypot(to_x - x, to_y - y) / _LINE_STEP))
    for step in range(steps + 1):
        share = step / steps
        yield _around(x + share * (to_x - x), y + share * (to_y - y), _LINE_STEP / 2)


def _around(x: float, y: float, half: float) -> Box:
    return Box(x - half, y - half, x + half, y + half)


def _area(label: Label, x: float, y: float) -> Box:
    half = max(LETTER_SHARE * size * len(words) for _, words, size in label.lines) / 2
    first, last = label.lines[0][2], label.lines[-1][2]
    *_, low = _baselines(label, y)
    return Box(x - half, y - _RISE_SHARE * first, x + half, low + _FALL_SHARE * last)


def _baselines(label: Label, y: float) -> Iterator[float]:
    yield y
    for _, _, size in label.lines[1:]:
        y += size + 4
        yield y


def _places(label: Label) -> list[tuple[float, float]]:
    """Return where the label can stand in its box, nearest to its best place first; too wide a one in its middle."""
    if not label.lines:
        return []
    box, at_best = label.box, _area(label, 0.0, 0.0)
    across = _steps(box.left + _EDGE - at_best.left, box.right - _EDGE - at_best.right)
    down = _steps(box.top + _EDGE - at_best.top, box.bottom - _EDGE - at_best.bottom)
    return sorted(
        ((x, y) for x in across for y in down),
        key=lambda at: ((at[0] - label.x) ** 2 + (at[1] - label.y) ** 2, at),
    )


def _steps(low: float, high: float) -> list[float]:
    if high <= low:
        return [(low + high) / 2]
    count = min(_MOST_STEPS, math.ceil((high - low) / _STEP))
    return [low + step * (high - low) / count for step in range(count + 1)]
