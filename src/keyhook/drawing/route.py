"""Where one stands on a walk round the vehicle: stops in order with the way between them, or a ring to be lit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from keyhook.drawing.canvas import Canvas
from keyhook.drawing.numbers import Placed, Spot, place_numbers

_HALF, _RING, _AIR = 11.5, 30.0, 1.0
#: From the middle of a ring to the edge of the picture, its line (4 wide when lit) and all.
_ROOM = _RING + 2.0
Place = Callable[[float], float]


@dataclass(frozen=True, slots=True)
class Stand:
    """One place to stand: station, what it is called, where [m], and which stop it is."""

    station: str
    name: str
    x_m: float
    y_m: float
    number: int


def place_stops(stands: Sequence[Stand], x: Place, y: Place, size: tuple[float, float]) -> list[Placed]:
    """Return each stop where it stands, or beside it where two would lie on one another; in their order."""
    spots = [
        Spot(stand.number, f"Stop {stand.number}: {stand.name}", stand.station, px, py, px, py)
        for stand in stands
        for px, py in [(x(stand.x_m), y(stand.y_m))]
    ]
    return place_numbers(spots, *size, apart=2 * _HALF * 2**0.5 + _AIR)  # squares: apart by their corners


def draw_route(canvas: Canvas, stops: Sequence[Placed]) -> None:
    """Draw the way from stop to stop, then each stop as a square with its number."""
    if len(stops) > 1:
        way = " L".join(f"{entry.x:.1f} {entry.y:.1f}" for entry in stops)
        canvas.path("kd-way", f"M{way}")
    for entry in stops:
        with canvas.group(entry.spot.title, stop=str(entry.spot.number), station=entry.spot.station):
            canvas.rect("kd-stop", entry.x - _HALF, entry.y - _HALF, 2 * _HALF, 2 * _HALF, radius=4)
            canvas.text("kd-stop-number", entry.x, entry.y + 4.5, str(entry.spot.number), size=13)


def draw_rings(canvas: Canvas, stands: Sequence[Stand], x: Place, y: Place, size: tuple[float, float]) -> None:
    """Draw a ring round each place to stand, whole within the picture; a page lights the one that is meant."""
    for stand in stands:
        with canvas.group(f"Stand here: {stand.name}", ring=stand.station):
            middle = (x(stand.x_m), y(stand.y_m))
            at_x, at_y = (min(max(at, _ROOM), end - _ROOM) for at, end in zip(middle, size, strict=True))
            canvas.circle("kd-ring", at_x, at_y, _RING)
