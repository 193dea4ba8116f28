"""Which points to show, as integer programmes; the only file of the tour that speaks to the solver.

Four models share the points (a literal each, true for what must be said, taking along what they wait for) and the
clock (talking and walking fit into the time left). They differ in what they know of walking:

``choose_on_round``
    One circuit through a depot node, which stands for the start on the way out and for the end station on the way
    back; a block without a shown point is skipped. Blocks may come in any order, so where points of one block wait
    for points of another this is a bound, and the answer only when the circuit happens to keep their order.
``choose_along``
    The same with the blocks in one given order, some skipped. Fast, and right for that order.
``choose_in_order``
    One circuit on which every used block has a rank, and ranks keep what waits for what. It says all there is to say
    and is the slowest.
``choose_by_walks``
    The shortest walk of every set of blocks is given as a table (:mod:`keyhook.tour.walks`).

Times are rounded up to whole ticks, so the clock is never beaten; values are rounded to the nearest step.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from keyhook.tour.visits import Ground

try:
    from ortools.sat.python import cp_model
except ImportError:  # a machine for which the solver is not built: tours are greedy there
    SOLVER_THERE = False
else:
    SOLVER_THERE = True

#: Ticks a second.
TICKS = 100
#: Steps a unit of money.
STEPS = 10_000
#: So many blocks may be used or not in the table of walks.
MOST_FREE_BLOCKS = 16
_DEPOT = -1

Status = Literal["best", "found", "impossible", "unknown"]


@dataclass(frozen=True, slots=True)
class Search:
    """How long to look [s at most; 0 for no solver at all] and with which seed.

    There is one worker, so the same question has the same answer wherever the time is not what ends the search.
    """

    limit_s: float = 1.5
    seed: int = 1


@dataclass(frozen=True, slots=True)
class Choice:
    """What a model chose.

    ``names`` are the shown points, ``order`` the used blocks as walked (empty where the model knows no order),
    ``bound_cost`` what nothing can exceed, ``spent_s`` the seconds it took. The statuses of the solver stay apart:
    proven best, found but not proven, impossible, and nothing known yet.
    """

    status: Status
    names: frozenset[str]
    order: tuple[int, ...]
    bound_cost: float
    spent_s: float

    @property
    def there(self) -> bool:
        """Whether anything was found."""
        return self.status in {"best", "found"}


@dataclass(slots=True)
class _Model:
    """One model: shown points, used blocks, arcs of a circuit where there is one."""

    ground: Ground
    model: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    shown: dict[str, cp_model.IntVar] = field(default_factory=dict)
    used: dict[int, cp_model.IntVar] = field(default_factory=dict)
    arcs: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)


def choose_on_round(ground: Ground, search: Search, start: Iterable[str] = ()) -> Choice:
    """Return the points that save most on a round trip in which blocks may come in any order."""
    built = _points(ground, frozenset())
    _circuit(built, _every_arc(ground))
    _clock(built, _walking(built))
    _hint(built, start)
    return _most_value(built, search)


def choose_along(
    ground: Ground, order: Sequence[int], search: Search, without: Collection[str], start: Iterable[str] = ()
) -> Choice:
    """Return the points that save most when the blocks are walked in this order, some of them skipped."""
    built = _points(ground, without)
    _circuit(built, _arcs_along(order))
    _clock(built, _walking(built))
    _hint(built, start)
    return _most_value(built, search)


def choose_in_order(ground: Ground, search: Search, order: Sequence[int], start: Iterable[str] = ()) -> Choice:
    """Return the points that save most when blocks may come in any order that keeps what waits for what."""
    built = _points(ground, frozenset())
    _circuit(built, _every_arc(ground))
    _ranks(built)
    _clock(built, _walking(built))
    _hint(built, start)
    _hint_order(built, order)
    return _most_value(built, search)


def choose_by_walks(
    ground: Ground, walk_ticks: NDArray[np.int32], search: Search, without: Collection[str], start: Iterable[str] = ()
) -> Choice:
    """Return the points that save most when every set of blocks has its walk; ``walk_ticks`` goes by bit mask."""
    built = _points(ground, without)
    always = forced_mask(ground)
    free = [number for number in built.used if not ground.visits[number].closing and not always >> number & 1]
    masks = [
        always | sum(1 << number for bit, number in enumerate(free) if row >> bit & 1) for row in range(2 ** len(free))
    ]
    rows = [min(int(walk_ticks[mask]), _left_ticks(ground) + 1) for mask in masks]
    row = built.model.new_int_var(0, len(rows) - 1, "row")
    built.model.add(row == sum(built.used[number] * 2**bit for bit, number in enumerate(free)))
    walking = built.model.new_int_var(0, max(rows), "walking")
    built.model.add_element(row, rows, walking)
    _clock(built, walking)
    _hint(built, start)
    return _most_value(built, search)


def shortest_round(ground: Ground, names: Collection[str], search: Search, order: Sequence[int]) -> Choice:
    """Return the shortest round trip through the blocks of these points, in any order; ``order`` is a start."""
    built = _Model(ground)
    built.used = {number: built.model.new_constant(1) for number in sorted(ground.used(names))}
    _circuit(built, [(a, b) for a, b in _every_arc(ground) if {a, b} - {_DEPOT} <= built.used.keys()])
    _hint_order(built, order)
    built.model.minimize(_walking(built))
    solver, status = _solved(built, search)
    walked = _order(built, solver) if status in {"best", "found"} else ()
    return Choice(status, frozenset(names), walked, math.inf, solver.wall_time)


def value_steps(ground: Ground, name: str) -> int:
    """Return what a point saves in whole steps."""
    return round(ground.points[name].value_cost * STEPS)


def forced_mask(ground: Ground) -> int:
    """Return the blocks with something that must be said as a bit mask, the closing one left out."""
    numbers = {number for number in ground.used(ground.forced) if not ground.visits[number].closing}
    return sum(1 << number for number in numbers)


def leg_ticks(ground: Ground, one: int | None, other: int | None) -> int:
    """Return the ticks between two blocks; None first is the start, None last the end station."""
    problem = ground.problem
    here = problem.start_station if one is None else ground.visits[one].station
    there = problem.end_station if other is None else ground.visits[other].station
    return math.ceil(round(problem.walking_s[here, there] * TICKS, 6))


def _points(ground: Ground, without: Collection[str]) -> _Model:
    """Make a literal a point, a literal a block (used when one of its points is shown), and say what waits for what."""
    built = _Model(ground)
    for number, visit in enumerate(ground.visits):
        names = [built.model.new_bool_var(name) for name in visit.points]
        built.shown |= dict(zip(visit.points, names, strict=True))
        built.used[number] = built.model.new_bool_var(f"used {number}")
        built.model.add_max_equality(built.used[number], names)
    for name, literal in built.shown.items():
        if name in ground.forced:
            built.model.add(literal == 1)
        elif name in without:
            built.model.add(literal == 0)
        for earlier in ground.before[name]:
            built.model.add_implication(literal, built.shown[earlier])
    return built


def _every_arc(ground: Ground) -> list[tuple[int, int]]:
    """From everywhere to everywhere, but from the closing block only to the end."""
    nodes = [_DEPOT, *range(len(ground.visits))]
    closing = {number for number, visit in enumerate(ground.visits) if visit.closing}
    return [(a, b) for a in nodes for b in nodes if a != b and (a not in closing or b == _DEPOT)]


def _arcs_along(order: Sequence[int]) -> list[tuple[int, int]]:
    nodes = [_DEPOT, *order, _DEPOT]
    pairs = {(a, b) for place, a in enumerate(nodes) for b in nodes[place + 1 :]}
    return sorted(pairs - {(_DEPOT, _DEPOT)})


def _circuit(built: _Model, pairs: Iterable[tuple[int, int]]) -> None:
    """One circuit through the depot and every used block; the closing block, when used, is the last."""
    visits = built.ground.visits
    built.arcs = {pair: built.model.new_bool_var(f"{pair}") for pair in pairs}
    # Nodes of a circuit count from 0: the depot takes the place before the first block.
    circuit: list[tuple[int, int, cp_model.LiteralT]] = [(a + 1, b + 1, arc) for (a, b), arc in built.arcs.items()]
    circuit += [(number + 1, number + 1, ~literal) for number, literal in built.used.items()]
    nothing = built.model.new_bool_var("nothing is shown")
    circuit.append((0, 0, nothing))
    built.model.add_circuit(circuit)
    for literal in built.used.values():  # else blocks could go round among themselves and never be walked to
        built.model.add_implication(literal, ~nothing)
    for last in (number for number in built.used if visits[number].closing):
        for (number, there), arc in built.arcs.items():
            if there == _DEPOT and number != last:
                built.model.add_implication(built.used[last], ~arc)


def _ranks(built: _Model) -> None:
    """Count the blocks along the circuit; a shown point has its block behind the blocks that it waits for."""
    rank = {number: built.model.new_int_var(1, len(built.used), f"rank {number}") for number in built.used}
    for (a, b), arc in built.arcs.items():
        if _DEPOT not in {a, b}:
            built.model.add(rank[b] == rank[a] + 1).only_enforce_if(arc)
    for (first, second), asking in built.ground.crossing.items():
        for name in sorted(asking):
            built.model.add(rank[first] < rank[second]).only_enforce_if(built.shown[name])


def _walking(built: _Model) -> cp_model.LinearExpr:
    """Ticks of walking along the circuit."""
    legs = [leg_ticks(built.ground, None if a == _DEPOT else a, None if b == _DEPOT else b) for a, b in built.arcs]
    return cp_model.LinearExpr.weighted_sum(list(built.arcs.values()), legs)


def _clock(built: _Model, walking: cp_model.LinearExpr) -> None:
    """Talking and walking fit into the time left."""
    ground = built.ground
    ticks = [math.ceil(round(ground.problem.talk_s(ground.points[name]) * TICKS, 6)) for name in built.shown]
    talking = cp_model.LinearExpr.weighted_sum(list(built.shown.values()), ticks)
    built.model.add(talking + walking <= _left_ticks(ground))


def _left_ticks(ground: Ground) -> int:
    return math.floor(round(ground.problem.left_s * TICKS, 6))


def _most_value(built: _Model, search: Search) -> Choice:
    """Make the saved loss as large as possible."""
    steps = [value_steps(built.ground, name) for name in built.shown]
    built.model.maximize(cp_model.LinearExpr.weighted_sum(list(built.shown.values()), steps))
    solver, status = _solved(built, search)
    if status not in {"best", "found"}:
        bound_cost = -math.inf if status == "impossible" else math.inf
        return Choice(status, frozenset(), (), bound_cost, solver.wall_time)
    names = frozenset(name for name, literal in built.shown.items() if solver.boolean_value(literal))
    bound_cost = solver.best_objective_bound / STEPS
    return Choice(status, names, _order(built, solver), bound_cost, solver.wall_time)


def _solved(built: _Model, search: Search) -> tuple[cp_model.CpSolver, Status]:
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = max(search.limit_s, 0.01)
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = search.seed
    solver.parameters.linearization_level = 2
    return solver, _status(solver.solve(built.model))


def _status(said: cp_model.CpSolverStatus) -> Status:
    known: dict[cp_model.CpSolverStatus, Status] = {
        cp_model.OPTIMAL: "best",
        cp_model.FEASIBLE: "found",
        cp_model.INFEASIBLE: "impossible",
    }
    return known.get(said, "unknown")


def _hint(built: _Model, start: Iterable[str]) -> None:
    names = set(start)
    if names:
        for name, literal in built.shown.items():
            built.model.add_hint(literal, name in names)


def _hint_order(built: _Model, order: Sequence[int]) -> None:
    taken = set(zip([_DEPOT, *order], [*order, _DEPOT], strict=True))
    for pair, arc in built.arcs.items():
        built.model.add_hint(arc, pair in taken)


def _order(built: _Model, solver: cp_model.CpSolver) -> tuple[int, ...]:
    """Return the blocks along the circuit, the depot left out."""
    after = {a: b for (a, b), arc in built.arcs.items() if solver.boolean_value(arc)}
    order: list[int] = []
    here = after.get(_DEPOT, _DEPOT)
    while here != _DEPOT:
        order.append(here)
        here = after[here]
    return tuple(order)
