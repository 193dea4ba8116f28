"""Stations as blocks: each is visited once, unless the order of the points forces a second visit.

Two stations can wait for one another (A1 before B1, B2 before A2) though no two points do. Then a block a station
cannot be ordered. The points of the stations in such a knot are split by how often one has to change place before
them, and parts of one station are put together again wherever the blocks can still be ordered.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter

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
    part = _joined(_parts(points, before), points, before)
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
    part: dict[str, int] = {}
    for name in TopologicalSorter(before).static_order():
        if name not in station:
            continue
        home = station[name]
        same = [
            part[earlier] + (station[earlier] != home)
            for earlier in before.get(name, ())
            if earlier in station and knots[station[earlier]] == knots[home]
        ]
        part[name] = max(same, default=0)
    return part


def _joined(part: dict[str, int], points: Sequence[TourPoint], before: Mapping[str, tuple[str, ...]]) -> dict[str, int]:
    """Put parts of one station together, later ones into earlier ones, where no circle of blocks comes of it."""
    station = {point.id: (point.station, point.closing) for point in points}
    for home in dict.fromkeys(station.values()):
        names = [name for name in station if station[name] == home]
        numbers = sorted({part[name] for name in names})
        for keep, number in ((a, b) for a in numbers for b in numbers if a < b):
            trial = part | {name: keep for name in names if part[name] == number}
            if not _goes_in_a_circle({name: (*station[name], trial[name]) for name in station}, before):
                part = trial
    return part


def _goes_in_a_circle(home: Mapping[str, tuple[str, bool, int]], before: Mapping[str, tuple[str, ...]]) -> bool:
    ahead: dict[tuple[str, bool, int], set[tuple[str, bool, int]]] = {block: set() for block in home.values()}
    for name, block in home.items():
        ahead[block] |= {home[earlier] for earlier in before[name] if earlier in home} - {block}
    try:
        TopologicalSorter(ahead).prepare()
    except CycleError:
        return True
    return False


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
