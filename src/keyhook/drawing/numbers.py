"""Where the find-it numbers go: near their place, never on one another, a lead line when they had to move."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

RADIUS = 10.5
#: A number that a page lights is drawn a little larger; two such beside one another still do not touch.
LIT_RADIUS = 12.5
APART = 2 * LIT_RADIUS + 1.0
#: The dot at the true place of a number that stands elsewhere.
DOT = 2.2
#: Within so much of its place a number marks it itself.
AT_PLACE = 3.0
_AIR = 2.0
_RING, _TURNS, _REACH = 4.0, 24, 112.0
#: So many of the nearest free places are tried before the others.
_CLOSE = 96

Points = NDArray[np.float64]
Mask = NDArray[np.bool_]
Wish = Callable[[Points], Mask]
#: x and y of the place, then of where the number should go first.
Seat = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Spot:
    """A fitting on the picture: its number, what it is, where it is, and where its number should go first."""

    number: int
    title: str
    station: str
    x: float
    y: float
    home_x: float
    home_y: float


@dataclass(frozen=True, slots=True)
class Placed:
    """A spot with the place its number found."""

    spot: Spot
    x: float
    y: float

    @property
    def moved(self) -> bool:
        """Whether the number stands away from its place and is led to it by a line."""
        return (self.x - self.spot.x) ** 2 + (self.y - self.spot.y) ** 2 > AT_PLACE**2


def place_numbers(spots: Sequence[Spot], width: float, height: float, *, apart: float = APART) -> list[Placed]:
    """Return every number at the free place nearest to its home, in order of number.

    Numbers that nobody else wants the place of stay at home; then the others are set one by one, in order of number.
    Of all places round its home a number takes the nearest that is inside the picture and free, where, as far as
    there is such a place, its lead line runs under no other number, it lies on no other lead line, it hides neither
    the place of another fitting nor its own, and lines do not cross. ``apart`` is the least distance of two middles.
    """
    ordered = sorted(spots, key=lambda spot: spot.number)
    seats = tuple((spot.x, spot.y, spot.home_x, spot.home_y) for spot in ordered)
    found = _places(seats, width, height, apart)
    return [Placed(spot, x, y) for spot, (x, y) in zip(ordered, found, strict=True)]


@lru_cache(maxsize=128)  # the same few vehicles are drawn over and over
def _places(seats: tuple[Seat, ...], width: float, height: float, apart: float) -> tuple[tuple[float, float], ...]:
    every: Points = np.array(seats, dtype=np.float64).reshape(-1, 4)
    spots, homes = every[:, :2], every[:, 2:]
    at: Points = np.full_like(homes, np.nan)
    set_already: list[int] = []
    for number in _alone_first(spots, homes, apart):
        near = np.clip(homes[number], apart / 2, np.array([width, height]) - apart / 2) + _OFFSETS
        near = near[_inside(near, width, height, apart / 2)]
        free = near[_all_far(near, at[set_already], apart)]
        at[number] = _best(free if len(free) else near, number, spots, at, set_already)
        set_already.append(number)
    return tuple((round(float(x), 2), round(float(y), 2)) for x, y in at)


def _best(free: Points, number: int, spots: Points, at: Points, others: list[int]) -> Points:
    """Return the first of the free places after each wish in turn, most important first, has kept those it likes."""
    spot = spots[number]
    discs, ends = at[others], spots[others]
    elsewhere = np.delete(spots, number, axis=0)
    passed = elsewhere[_lengths(elsewhere - spot) > 2 * DOT]
    wishes: tuple[Wish, ...] = (
        lambda near: _from_lines(discs[None], near[:, None], spot) >= RADIUS + _AIR,
        lambda near: _from_lines(near[:, None], discs[None], ends[None]) >= RADIUS + _AIR,
        lambda near: _all_far(near, elsewhere, RADIUS + DOT + _AIR),
        lambda near: (_lengths(near - spot) <= AT_PLACE) | (_lengths(near - spot) >= RADIUS + DOT + _AIR),
        lambda near: _from_lines(passed[None], near[:, None], spot) >= 2 * DOT,
        lambda near: _no_crossing(near, spot, discs, ends),
    )
    kept, all_met = _liked(free[:_CLOSE], wishes)
    if not all_met:
        kept, _ = _liked(free, wishes)
    best: Points = kept[0]
    return best


def _liked(near: Points, wishes: Sequence[Wish]) -> tuple[Points, bool]:
    """Return the places that are left, and whether every wish was met; a wish that nobody meets is let go."""
    all_met = True
    for wish in wishes:
        liked = near[wish(near)]
        all_met = all_met and len(liked) > 0
        near = liked if len(liked) else near
    return near, all_met


def _alone_first(spots: Points, homes: Points, apart: float) -> list[int]:
    """Return the order of placing: first whoever has room at home without hiding another place."""

    def crowded(number: int) -> bool:
        home = homes[number]
        to_homes, to_spots = (_lengths(np.delete(them, number, axis=0) - home) for them in (homes, spots))
        return bool(np.any(to_homes < apart) or np.any(to_spots < RADIUS + DOT + _AIR))

    return sorted(range(len(spots)), key=lambda number: (crowded(number), number))


def _offsets() -> Points:
    turns = np.arange(_TURNS) * 2 * np.pi / _TURNS
    rings = np.arange(_RING, _REACH + _RING, _RING)
    round_about = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    return np.concatenate([np.zeros((1, 2)), (rings[:, None, None] * round_about).reshape(-1, 2)])


_OFFSETS = _offsets()


def _inside(near: Points, width: float, height: float, edge: float) -> Mask:
    low, high = np.full(2, edge) - 1e-6, np.array([width, height]) - edge + 1e-6
    return _every((near >= low) & (near <= high))


def _all_far(near: Points, others: Points, apart: float) -> Mask:
    return _every(_lengths(near[:, None] - others[None]) >= apart)


def _every(rows: Mask) -> Mask:
    found: Mask = np.all(rows, axis=1)
    return found


def _lengths(ways: Points) -> Points:
    return np.hypot(ways[..., 0], ways[..., 1])


def _from_lines(points: Points, start: Points, end: Points) -> Points:
    """Return, for each candidate, the least distance of points from lines; infinite where there is none."""
    along = end - start
    length = np.maximum(np.sum(along * along, axis=-1), 1e-9)
    share = np.clip(np.sum((points - start) * along, axis=-1) / length, 0.0, 1.0)
    gaps: Points = np.min(_lengths(points - (start + share[..., None] * along)), axis=1, initial=np.inf)
    return gaps


def _no_crossing(near: Points, spot: Points, discs: Points, ends: Points) -> Mask:
    """Return whether the line from each candidate to the spot crosses no line from disc to end."""
    start = near[:, None]
    one = _side(start, spot, discs[None]) * _side(start, spot, ends[None])
    two = _side(discs[None], ends[None], start) * _side(discs[None], ends[None], spot)
    return _every((one >= 0) | (two >= 0))


def _side(start: Points, end: Points, point: Points) -> Points:
    """Return on which side of a line a point lies: positive, negative, or nought when on it."""
    along, to = end - start, point - start
    return along[..., 0] * to[..., 1] - along[..., 1] * to[..., 0]
