"""The least inconvenient way to make a loading legal, as a mixed-integer linear programme.

Every movable thing stays, moves to another store within its limit, or is left behind; every bike stays or is left; the
rack may come off once no bike is on it; fresh water is litres. Each change has its inconvenience; the sum is least
subject to every limit in every planned state. Room that is to be kept for the spread of the masses is taken off the
limits by the caller (:mod:`keyhook.loading.packing`), always on the safe side.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from keyhook.loading.settings import Inconvenience


@dataclass(frozen=True, slots=True)
class Thing:
    """Something that can be left or moved: mass [kg], where it is, where it could go (store id to x [m])."""

    key: str
    label: str
    mass_kg: float
    x_m: float
    store: str
    may_move_to: tuple[tuple[str, float], ...] = ()
    leave_points: float | None = None
    needs: str = ""


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit in one state: ``front``, ``rear`` or ``total``; ``room_kg`` is limit less all that cannot change."""

    state: str
    axle: str
    room_kg: float
    carries_water: bool = True


@dataclass(frozen=True, slots=True)
class LighteningTask:
    """What can change and what must hold. ``water`` is (asked l, least l, x m); ``rooms`` what each store may take."""

    things: tuple[Thing, ...]
    limits: tuple[Limit, ...]
    store_limits_kg: dict[str, float]
    wheelbase_m: float
    water_asked_l: float = 0.0
    water_least_l: float = 0.0
    water_x_m: float = 0.0
    rack_limit_kg: float | None = None


@dataclass(frozen=True, slots=True)
class Lightening:
    """The change: things left, things moved (thing, from, to), water [l], its inconvenience, what binds.

    ``binding`` are limits and stores with under half a kilo to spare. ``price_per_kg`` says for each how much
    inconvenience one more kilo of room would spare; ``price_per_l`` what one more litre of water would cost.
    """

    possible: bool
    left: tuple[Thing, ...] = ()
    moves: tuple[tuple[Thing, str, str], ...] = ()
    water_l: float = 0.0
    points: float = 0.0
    binding: tuple[str, ...] = ()
    price_per_kg: tuple[tuple[str, float], ...] = ()
    price_per_l: float | None = None
    short_by_kg: float = 0.0

    @property
    def changes_nothing(self) -> bool:
        """Whether everything may stay as it is."""
        return self.possible and not self.left and not self.moves


@dataclass(frozen=True, slots=True)
class _Choice:
    """One way for one thing: stay, move to a store, or be left (store empty)."""

    thing: int
    store: str
    x_m: float
    points: float
    left: bool


def choices(task: LighteningTask, cost: Inconvenience) -> list[_Choice]:
    """Return every way for every thing."""
    found: list[_Choice] = []
    for number, thing in enumerate(task.things):
        leave = thing.leave_points if thing.leave_points is not None else thing.mass_kg * cost.leave_per_kg
        found.append(_Choice(number, thing.store, thing.x_m, 0.0, left=False))
        found.append(_Choice(number, "", 0.0, leave, left=True))
        move = thing.mass_kg * cost.move_per_kg + cost.move_each
        found.extend(
            _Choice(number, store, x, move, left=False) for store, x in thing.may_move_to if store != thing.store
        )
    return found


def lighten(task: LighteningTask, cost: Inconvenience, *, prices: bool = True) -> Lightening:
    """Return the least inconvenient legal change, or by how much it stays over with all that can go left behind."""
    solved = _solve(task, cost)
    if solved is None:
        return Lightening(possible=False, short_by_kg=shortfall_kg(task))
    picked, water_l, points = solved
    result = _read(task, picked, water_l, points)
    return _with_prices(task, cost, result) if prices else result


def shortfall_kg(task: LighteningTask) -> float:
    """Return by how much the worst limit is still passed when all that can go is left behind, kg."""
    empty_l = task.water_least_l
    return max(_water_load(limit, task) * empty_l - limit.room_kg for limit in task.limits)


def load_factor(axle: str, x_m: float, wheelbase_m: float) -> float:
    """Return what a kilo at ``x_m`` adds to ``front``, ``rear`` or ``total``."""
    rear = x_m / wheelbase_m
    return {"front": 1 - rear, "rear": rear, "total": 1.0}[axle]


def _water_load(limit: Limit, task: LighteningTask) -> float:
    return load_factor(limit.axle, task.water_x_m, task.wheelbase_m) if limit.carries_water else 0.0


def _solve(task: LighteningTask, cost: Inconvenience) -> tuple[list[_Choice], float, float] | None:
    ways = choices(task, cost)
    objective = np.array([way.points for way in ways] + [-cost.water_per_l])
    rows, uppers = zip(*_rows(task, ways), strict=True) if ways or task.limits else ((), ())
    ones = np.array([[1.0 if way.thing == n else 0.0 for way in ways] + [0.0] for n in range(len(task.things))])
    constraints = [LinearConstraint(np.array(rows), -np.inf, np.array(uppers))]
    if task.things:
        constraints.append(LinearConstraint(ones, 1, 1))
    integrality = np.array([1] * len(ways) + [0])
    lower = np.array([0.0] * len(ways) + [min(task.water_least_l, task.water_asked_l)])
    upper = np.array([1.0] * len(ways) + [task.water_asked_l])
    solved = milp(
        objective,
        constraints=constraints,
        integrality=integrality,
        bounds=Bounds(lower, upper),
        options={"mip_rel_gap": 0},
    )
    if solved.x is None:
        return None
    picked = [way for way, taken in zip(ways, solved.x, strict=False) if taken > 0.5]  # noqa: PLR2004  # a rounded 0 or 1
    return picked, float(solved.x[-1]), float(solved.fun) + cost.water_per_l * task.water_asked_l


def _rows(task: LighteningTask, ways: Sequence[_Choice]) -> Iterator[tuple[list[float], float]]:
    things = task.things
    for limit in task.limits:
        factors = [
            0.0 if w.left else things[w.thing].mass_kg * load_factor(limit.axle, w.x_m, task.wheelbase_m) for w in ways
        ]
        yield [*factors, _water_load(limit, task)], limit.room_kg
    for store, most_kg in task.store_limits_kg.items():
        yield [*(things[w.thing].mass_kg if w.store == store else 0.0 for w in ways), 0.0], most_kg
    for number, way in enumerate(ways):
        needed = things[way.thing].needs
        if needed and not way.left:  # the thing may stay only while what it hangs on stays
            row = [0.0] * (len(ways) + 1)
            row[number] = 1.0
            for other, across in enumerate(ways):
                if things[across.thing].key == needed and not across.left:
                    row[other] -= 1.0
            yield row, 0.0


def _read(task: LighteningTask, picked: Sequence[_Choice], water_l: float, points: float) -> Lightening:
    things = task.things
    left = tuple(things[way.thing] for way in picked if way.left)
    moves = tuple(
        (things[w.thing], things[w.thing].store, w.store)
        for w in picked
        if not w.left and w.store != things[w.thing].store
    )
    return Lightening(True, left, moves, round(water_l, 3), round(points, 6), tuple(_binding(task, picked, water_l)))


def _binding(task: LighteningTask, picked: Sequence[_Choice], water_l: float) -> Iterator[str]:
    half_kg = 0.5
    kept = [(task.things[way.thing].mass_kg, way) for way in picked if not way.left]
    for limit in task.limits:
        used = sum(mass * load_factor(limit.axle, way.x_m, task.wheelbase_m) for mass, way in kept)
        if limit.room_kg - used - _water_load(limit, task) * water_l < half_kg:
            yield f"{limit.state}.{limit.axle}"
    for store, most_kg in task.store_limits_kg.items():
        stored = sum(mass for mass, way in kept if way.store == store)
        if stored and most_kg - stored < half_kg:
            yield f"store.{store}"


def _with_prices(task: LighteningTask, cost: Inconvenience, found: Lightening) -> Lightening:
    """Solve again with one kilo more of each axle limit that binds, and with one litre more of water."""
    if found.points == 0:
        return found
    prices = []
    for axle in ("front", "rear", "total"):
        eased = tuple(
            Limit(limit.state, limit.axle, limit.room_kg + (limit.axle == axle), limit.carries_water)
            for limit in task.limits
        )
        again = _solve(_replaced(task, limits=eased), cost)
        if again is not None and found.points - again[2] > 1e-6:  # noqa: PLR2004  # nothing gained
            prices.append((axle, round(found.points - again[2], 3)))
    litre = None
    if found.water_l < task.water_asked_l:
        more_l = min(task.water_asked_l, found.water_l + 1)
        again = _solve(_replaced(task, water_least_l=more_l), cost)
        litre = (
            None if again is None else round(again[2] - found.points + cost.water_per_l * (more_l - found.water_l), 3)
        )
    return Lightening(
        found.possible, found.left, found.moves, found.water_l, found.points, found.binding, tuple(prices), litre
    )


def _replaced(task: LighteningTask, **changes: Any) -> LighteningTask:
    values = {name: getattr(task, name) for name in LighteningTask.__dataclass_fields__}
    return LighteningTask(**{**values, **changes})


def every_change(task: LighteningTask, cost: Inconvenience) -> Iterator[tuple[float, tuple[_Choice, ...]]]:
    """Yield inconvenience and choices of every way that keeps all limits, with the most water each allows.

    For small tasks only: it tries all of them. The slow twin of :func:`lighten`, kept for checks and benches.
    """
    ways = choices(task, cost)
    by_thing = [[way for way in ways if way.thing == number] for number in range(len(task.things))]
    for picked in itertools.product(*by_thing):
        water_l = _most_water_l(task, picked)
        if water_l is not None:
            yield sum(way.points for way in picked) + cost.water_per_l * (task.water_asked_l - water_l), picked


def _most_water_l(task: LighteningTask, picked: Sequence[_Choice]) -> float | None:
    kept = {task.things[way.thing].key for way in picked if not way.left}
    if any(task.things[way.thing].needs not in {"", *kept} for way in picked if not way.left):
        return None
    for store, most_kg in task.store_limits_kg.items():
        if sum(task.things[way.thing].mass_kg for way in picked if way.store == store and not way.left) > most_kg:
            return None
    most_l = task.water_asked_l
    for limit in task.limits:
        used = sum(
            task.things[w.thing].mass_kg * load_factor(limit.axle, w.x_m, task.wheelbase_m)
            for w in picked
            if not w.left
        )
        room, factor = limit.room_kg - used, _water_load(limit, task)
        if factor > 0:
            most_l = min(most_l, room / factor)
        elif room < 0:
            return None
    least_l = min(task.water_least_l, task.water_asked_l)
    return most_l if most_l >= least_l - 1e-9 else None
