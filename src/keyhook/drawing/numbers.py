"""Where the find-it numbers go: near their place, never on one another, a lead line when they had to move."""

from __future__ import annotations

from dataclasses import dataclass

RADIUS = 10.5


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


def place_numbers(spots: list[Spot], width: float, height: float) -> list[Placed]:
    """Return every number at the free place nearest to its home, in order of number; never two on one another."""
    taken: list[tuple[float, float]] = []
    placed = []
    for spot in sorted(spots, key=lambda spot: spot.number):
        x, y = _nearest_free(spot.home_x, spot.home_y, taken, width, height)
        taken.append((x, y))
        placed.append(Placed(spot, x, y))
    return placed


def _nearest_free(
    x: float, y: float, taken: list[tuple[float, float]], width: float, height: float
) -> tuple[float, float]:
    step = 2 * RADIUS + 2
    offsets = sorted(
        ((i * i + j * j, i, j) for i in range(-14, 15) for j in range(-14, 15)),
        key=lambda entry: (entry[0], entry[2], entry[1]),
    )
    for _, i, j in offsets:
        at_x, at_y = x + i * step / 2, y + j * step / 2
        inside = RADIUS <= at_x <= width - RADIUS and RADIUS <= at_y <= height - RADIUS
        if inside and all((at_x - a) ** 2 + (at_y - b) ** 2 >= (2 * RADIUS + 1) ** 2 for a, b in taken):
            return at_x, at_y
    return x, y
