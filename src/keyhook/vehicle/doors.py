"""Walking round and through a vehicle: how far it is from one station to another, by which doors, and how long.

Inside, rooms are free floor and one walks straight from door to door; outside, one walks round the body. The way
is the quickest one, so nobody climbs over the driver's seat to save a metre.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations, pairwise

from keyhook.basis import Basis, Input
from keyhook.errors import UnknownName
from keyhook.vehicle.build_sheet import BuildSheet, Door, Station
from keyhook.vehicle.plan_view import OUTSIDE, Rectangle, body_of

#: A small party that looks about while it walks (assumption; a lone walker does about 1.4 m/s).
WALKING_SPEED_M_S = 1.0
#: Opening, stepping up or down and closing a door to the outside (assumption).
OUTER_DOOR_S = 5.0
#: Squeezing through a door or between two rooms (assumption).
INNER_DOOR_S = 1.0
#: Round the corners of the body one keeps this far away.
CORNER_M = 0.4
#: From a roof station one steps back to the nearest side.
STAND_OFF_M = 0.6

Point = tuple[float, float]

#: What walking rests on, for whoever shows a walking time.
WALKING_INPUTS = (
    Input("walking speed", WALKING_SPEED_M_S, "m/s", "a small party that looks about", Basis.ASSUMPTION),
    Input("door to the outside", OUTER_DOOR_S, "s", "open, step, close", Basis.ASSUMPTION),
    Input("door between rooms", INNER_DOOR_S, "s", "squeeze through", Basis.ASSUMPTION),
)


@dataclass(frozen=True, slots=True)
class Walk:
    """The quickest way between two stations: length, time, the doors in order, and its corners in plan."""

    distance_m: float
    duration_s: float
    doors: tuple[str, ...]
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class WalkingMap:
    """All walks of one vehicle, by the ids of the two stations."""

    walks: Mapping[tuple[str, str], Walk]

    def walk(self, from_station: str, to_station: str) -> Walk:
        """Return the walk between two stations.

        Raises
        ------
        UnknownName
            One of them is not on the sheet, or no door leads to it.
        """
        if (from_station, to_station) not in self.walks:
            seen = f"{from_station} to {to_station}"
            raise UnknownName("There is no way between these stations", seen=seen, todo="Mend stations or doors")
        return self.walks[from_station, to_station]


def walking_map(sheet: BuildSheet) -> WalkingMap:
    """Return the quickest walks between all stations of a vehicle; a station that no door reaches has none."""
    places = _places(sheet)
    ways = _ways(places, body_of(sheet))
    stations = [station.id for station in sheet.stations]
    walks: dict[tuple[str, str], Walk] = {}
    for start in stations:
        came_from, duration_s = _quickest(f"at {start}", ways)
        for end in stations:
            if f"at {end}" in duration_s:
                walks[start, end] = _walk(f"at {end}", came_from, duration_s, places)
    return WalkingMap(walks)


def walking_distance_m(sheet: BuildSheet, from_station: str, to_station: str) -> float:
    """Return the length of the quickest way between two stations [m]; for many pairs keep one :func:`walking_map`."""
    return walking_map(sheet).walk(from_station, to_station).distance_m


def walking_time_s(sheet: BuildSheet, from_station: str, to_station: str) -> float:
    """Return the time of the quickest way between two stations [s], doors included (basis: assumption)."""
    return walking_map(sheet).walk(from_station, to_station).duration_s


@dataclass(frozen=True, slots=True)
class _Place:
    """A point of the plan: where one stands, passes a door, or turns a corner; ``spaces`` it belongs to."""

    point: Point
    spaces: frozenset[str]
    door: str = ""
    half_door_s: float = 0.0


_Ways = dict[str, list[tuple[str, float]]]


def _places(sheet: BuildSheet) -> dict[str, _Place]:
    body = body_of(sheet)
    places = {f"at {station.id}": _standing(station, body) for station in sheet.stations}
    places |= {f"door {door.id}": _doorway(door) for door in sheet.doors}
    xs, ys = (body.x_from_m - CORNER_M, body.x_to_m + CORNER_M), (body.y_from_m - CORNER_M, body.y_to_m + CORNER_M)
    corners = [(x_m, y_m) for x_m in xs for y_m in ys]
    return places | {f"corner {n}": _Place(corner, frozenset({OUTSIDE})) for n, corner in enumerate(corners)}


def _standing(station: Station, body: Rectangle) -> _Place:
    if station.side == "roof":
        y_m = body.y_from_m - STAND_OFF_M if station.y_m <= 0 else body.y_to_m + STAND_OFF_M
        return _Place((station.x_m, y_m), frozenset({OUTSIDE}))
    space = station.room if station.side == "inside" and station.room else OUTSIDE
    return _Place((station.x_m, station.y_m), frozenset({space}))


def _doorway(door: Door) -> _Place:
    door_s = OUTER_DOOR_S if OUTSIDE in door.joins else INNER_DOOR_S
    return _Place((door.x_m, door.y_m), frozenset(door.joins), door.id, door_s / 2)


def _ways(places: dict[str, _Place], body: Rectangle) -> _Ways:
    """Return the straight ways between places of one space; half of a door's time lies on each side of it."""
    ways: _Ways = {name: [] for name in places}
    for (one, place), (other, goal) in combinations(places.items(), 2):
        inside = (place.spaces & goal.spaces) - {OUTSIDE}
        around = OUTSIDE in place.spaces and OUTSIDE in goal.spaces and not _crosses(place.point, goal.point, body)
        if inside or around:
            taken_s = math.dist(place.point, goal.point) / WALKING_SPEED_M_S + place.half_door_s + goal.half_door_s
            ways[one].append((other, taken_s))
            ways[other].append((one, taken_s))
    return ways


def _crosses(start: Point, end: Point, body: Rectangle) -> bool:
    """Tell whether a straight line runs through the inside of the body (touching a wall does not count)."""
    enters, leaves = 0.0, 1.0
    for (a, b), (low, high) in zip(
        zip(start, end, strict=True), ((body.x_from_m, body.x_to_m), (body.y_from_m, body.y_to_m)), strict=True
    ):
        if a == b:
            if not low < a < high:
                return False
            continue
        first, second = sorted(((low - a) / (b - a), (high - a) / (b - a)))
        enters, leaves = max(enters, first), min(leaves, second)
    return leaves - enters > 1e-9  # noqa: PLR2004  rounding only


def _quickest(start: str, ways: _Ways) -> tuple[dict[str, str], dict[str, float]]:
    """Return for every place that can be reached the place before it and the time to it (Dijkstra's method)."""
    duration_s, came_from, done = {start: 0.0}, dict[str, str](), set[str]()
    queue = [(0.0, start)]
    while queue:
        so_far_s, here = heapq.heappop(queue)
        if here in done:
            continue
        done.add(here)
        for there, taken_s in ways[here]:
            if so_far_s + taken_s < duration_s.get(there, math.inf):
                duration_s[there], came_from[there] = so_far_s + taken_s, here
                heapq.heappush(queue, (duration_s[there], there))
    return came_from, duration_s


def _walk(end: str, came_from: dict[str, str], duration_s: dict[str, float], places: dict[str, _Place]) -> Walk:
    passed = [places[name] for name in reversed(list(_back(end, came_from)))]
    points = tuple(place.point for place in passed)
    distance_m = math.fsum(math.dist(one, other) for one, other in pairwise(points))
    return Walk(distance_m, duration_s[end], tuple(place.door for place in passed if place.door), points)


def _back(end: str, came_from: dict[str, str]) -> Iterator[str]:
    here: str | None = end
    while here is not None:
        yield here
        here = came_from.get(here)
