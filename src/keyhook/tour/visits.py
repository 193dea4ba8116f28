"""Stations as blocks: each is visited once, unless the order of the points forces a second visit.

Two stations can wait for one another (A1 before B1, B2 before A2) though no two points do. Then a block a station
cannot be ordered. At the stations of such a knot, points that wait for the same points of other stations make a block:

* Nothing is lost by it. Say each point on the first visit to its station on which all that it waits for elsewhere was
  shown; what waits for it is still later, and points of one block are then said on the same visit.
* The blocks can be ordered. Were they to wait for one another in a circle, some point of it would wait for itself:
  what one block waits for at another station, every later block of the circle waits for too.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from keyhook.tour.problem import TourPoint, TourProblem, forced_points, open_points, with_all_before


@dataclass(frozen=True, slots=True)
class Visit:
    """One block of points at one station; ``closing`` is the block at the end of the tour."""

    station: str
    points: tuple[str, ...]
    closing: bool = False


def visits_of(problem: TourProblem) -> tuple[Visit, ...]:
    """Return the blocks of all open points, in the order of the stations; the points inside in an order that holds."""
    points = open_points(problem)
    before = {name: waits_for for name, waits_for in problem.needed_before().items() if name in {p.id for p in points}}
    part = _parts(points, before)
    order = {name: rank for rank, name in enumerate(in_order([point.id for point in points], before))}
    blocks: dict[tuple[int, int, str], list[str]] = {}
    places = {station: rank for rank, station in enumerate(problem.stations)}
    for point in sorted(points, key=lambda point: order[point.id]):
        key = (places[point.station] + len(places) * point.closing, part[point.id], point.station)
        blocks.setdefault(key, []).append(point.id)
    closing = {point.id for point in points if point.closing}
    return tuple(Visit(key[2], tuple(names), names[0] in closing) for key, names in sorted(blocks.items()))


def in_order(names: Sequence[str], before: Mapping[str, Iterable[str]]) -> list[str]:
    """Return the names so that each comes after what it waits for, else as they stood."""
    there, placed, result = set(names), set[str](), list[str]()

    def place(name: str) -> None:
        if name in placed:
            return
        placed.add(name)
        for earlier in before.get(name, ()):
            if earlier in there:
                place(earlier)
        result.append(name)

    for name in names:
        place(name)
    return result


@dataclass(frozen=True, slots=True)
class Ground:
    """A problem cut into blocks, with what the order of its points asks of the blocks.

    ``crossing`` names for two blocks (the first has to come first) the points of the second that ask for it; pairs
    that end in the closing block are left out, it is last anyway.
    """

    problem: TourProblem
    points: Mapping[str, TourPoint]
    visits: tuple[Visit, ...]
    home: Mapping[str, int]
    before: Mapping[str, tuple[str, ...]]
    forced: frozenset[str]
    crossing: Mapping[tuple[int, int], frozenset[str]]

    def active(self, names: Collection[str]) -> set[tuple[int, int]]:
        """Return the pairs of blocks that must keep their order when these points are shown."""
        return {pair for pair, asking in self.crossing.items() if not asking.isdisjoint(names)}

    def blocks(self, order: Iterable[int], names: Collection[str]) -> list[tuple[str, tuple[str, ...]]]:
        """Return stations in this order with those of their points that are shown."""
        return [
            (self.visits[number].station, tuple(name for name in self.visits[number].points if name in names))
            for number in order
        ]

    def used(self, names: Iterable[str]) -> set[int]:
        """Return the blocks of these points."""
        return {self.home[name] for name in names}

    def with_all_before(self, names: Iterable[str]) -> frozenset[str]:
        """Return the points with everything they wait for, directly or through others."""
        return with_all_before(names, self.before)


def ground_of(problem: TourProblem) -> Ground:
    """Return the problem cut into blocks."""
    visits, before = visits_of(problem), problem.needed_before()
    home = {name: number for number, visit in enumerate(visits) for name in visit.points}
    crossing: dict[tuple[int, int], frozenset[str]] = {}
    for name, number in home.items():
        for earlier in before[name]:
            pair = (home[earlier], number)
            if pair[0] != pair[1] and not visits[number].closing:
                crossing[pair] = crossing.get(pair, frozenset()) | {name}
    return Ground(problem, problem.by_id(), visits, home, before, forced_points(problem), crossing)


def _parts(points: Sequence[TourPoint], before: Mapping[str, tuple[str, ...]]) -> dict[str, int]:
    """Return for every point which part of its station it belongs to; 0 wherever a station is not in a knot."""
    station = {point.id: (point.station, point.closing) for point in points}
    knots = _knots(station, before)
    knotted = {knot for home, knot in knots.items() if home != knot}
    part: dict[str, int] = {}
    seen: dict[_Place, list[frozenset[str]]] = {}
    for name, home in station.items():
        waits_for = with_all_before([name], before) if knots[home] in knotted else frozenset()
        elsewhere = frozenset(other for other in waits_for if other in station and station[other] != home)
        kinds = seen.setdefault(home, [])
        if elsewhere not in kinds:
            kinds.append(elsewhere)
        part[name] = kinds.index(elsewhere)
    return part


_Place = tuple[str, bool]


def _knots(station: Mapping[str, _Place], before: Mapping[str, tuple[str, ...]]) -> dict[_Place, _Place]:
    """Return for every station a name of its knot: stations that wait for one another, directly or through others."""
    ahead: dict[_Place, set[_Place]] = {home: set() for home in station.values()}
    for name, home in station.items():
        ahead[home] |= {station[earlier] for earlier in before.get(name, ()) if earlier in station} - {home}
    reach = {home: _reached(home, ahead) for home in ahead}
    return {home: min([home, *(other for other in reach[home] if home in reach[other])]) for home in ahead}


def _reached(start: _Place, ahead: Mapping[_Place, set[_Place]]) -> set[_Place]:
    found, waiting = set[_Place](), list(ahead[start])
    while waiting:
        here = waiting.pop()
        if here not in found:
            found.add(here)
            waiting.extend(ahead[here])
    return found
