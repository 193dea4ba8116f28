"""The day as a constraint model: for proof on small days, for windows of large ones, and for the lower levels.

The only file that speaks to the solver. One family of rules is one method with one sentence, and
:meth:`DayModel.write` reads like a table of contents. Tasks that are not free keep the minutes, the people
and the mode of the plan the model is started from; rules among them are not written again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import partial
from itertools import chain
from typing import Any

from ortools.sat.python import cp_model

from keyhook.turnaround.blank import first_gap_among, joined, work_begun
from keyhook.turnaround.hand_overs import hand_overs_alone, plan_of_hand_overs
from keyhook.turnaround.plan import Objective, Plan, PlannedBreak, PlannedTask, earliest_start_min, tasks_meant
from keyhook.turnaround.problem import ALL_ZONES, Problem, Task, crew_minutes, minutes_at_pace
from keyhook.turnaround.recount import late_by_departure, objective, overtime_by_person

Expr = Any
Literal = Any
LEVELS = len(Objective._fields)
#: Share of the time for the bound of the hand-overs alone, at most.
HAND_OVERS_SHARE = 0.2


@dataclass(frozen=True, slots=True)
class Free:
    """What a model may change: these tasks, and who serves these departures."""

    tasks: frozenset[str]
    departures: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Exact:
    """What the solver found: its best plan (None: none in time), the bound of the level asked, whether it is proven.

    ``impossible`` is True when the solver has proven that there is no plan at all; ``seconds`` is the time it took.
    """

    plan: Plan | None
    bound: int
    proven: bool
    impossible: bool = False
    seconds: float = 0.0


@dataclass(frozen=True, slots=True)
class Levels:
    """What came of solving level by level, the earlier ones held: the last plan, and how far it is proven.

    ``bounds`` has one whole number a level that was tried: with the levels before it as good as found, no plan is
    better. ``proven`` counts the levels, from the first, at which the plan reaches its bound.
    """

    plan: Plan | None
    bounds: tuple[int, ...]
    proven: int
    impossible: bool = False


@dataclass
class _Var:
    """One task in the model: minutes, whether it is done, ways of doing it, and who does it."""

    task: Task
    start: Expr
    end: Expr
    size: Expr
    done: Literal
    free: bool
    modes: list[Literal] = field(default_factory=list)
    people: dict[str, list[Literal]] = field(default_factory=dict)


class DayModel:
    """A constraint model of one day, or of what is free in it."""

    def __init__(self, problem: Problem, start: Plan | None = None, free: Free | None = None) -> None:
        self._problem, self._start = problem, start
        self._model = cp_model.CpModel()
        everything = Free(frozenset(task.id for task in problem.tasks), frozenset(d.id for d in problem.departures))
        self._is_whole = free is None or start is None
        self._free = everything if free is None or start is None else free
        self._serves: dict[tuple[str, str], Literal] = {}
        self._served: dict[str, Literal] = {}
        self._leaving: dict[str, Literal] = {}
        self._vars: dict[str, _Var] = {}
        self._breaks: dict[tuple[str, int], Expr] = {}
        self._levels: list[Expr] = []
        #: What follows from the rest, with how to read it from a plan: a start that is told whole is taken at once.
        self._follows: list[tuple[Expr, Callable[[Plan], int]]] = []
        self.write()

    def write(self) -> None:
        """Write variables, every family of rules, and the objective."""
        self._who_serves_whom()
        self._tasks()
        self._crews()
        self._not_before()
        self._order()
        self._one_at_a_time_and_breaks()
        self._second_eyes()
        self._places()
        self._zones()
        self._levels = [self._lateness(), self._swaps(), self._overtime(), self._moved()]
        self._hint()

    # ------------------------------------------------------------ variables

    def _who_serves_whom(self) -> None:
        """Every departure has one vehicle that suits it or is put off where that is allowed; no vehicle has two."""
        model = self._model
        for departure in self._problem.departures:
            for suits in departure.vehicles:
                pair = (departure.id, suits.vehicle)
                if departure.id in self._free.departures:
                    self._serves[pair] = model.new_bool_var(f"{departure.id} by {suits.vehicle}")
                else:
                    same = self._start is not None and self._start.vehicle_of[departure.id] == suits.vehicle
                    self._serves[pair] = model.new_constant(int(same))
            literals = [self._serves[departure.id, suits.vehicle] for suits in departure.vehicles]
            self._served[departure.id] = served = self._any_of(literals, f"{departure.id} served")
            self._follows.append((served, partial(_is_served, departure.id)))
            if departure.postpone_cost is None:
                model.add_exactly_one(literals)
        for vehicle in self._problem.vehicles:
            literals = [literal for (_, name), literal in self._serves.items() if name == vehicle.id]
            self._leaving[vehicle.id] = leaves = self._any_of(literals, f"{vehicle.id} leaves")
            self._follows.append((leaves, partial(_leaves, vehicle.id)))

    def _any_of(self, literals: list[Literal], name: str) -> Literal:
        """Return a literal that is true when the one true among at most one is there."""
        found = self._model.new_bool_var(name)
        self._model.add_exactly_one([*literals, found.negated()])
        return found

    def _tasks(self) -> None:
        """Every task that is called for has minutes between opening and closing."""
        for task in self._problem.tasks:
            kept = self._kept(task)
            if kept is not None:
                self._vars[task.id] = self._constant(task, kept)
            elif task.fixed is None:
                self._vars[task.id] = self._variable(task)

    def _kept(self, task: Task) -> PlannedTask | None:
        """Return the minutes a task keeps: what has begun, and in a window what is not free."""
        if task.fixed is not None:
            fixed = task.fixed
            return PlannedTask(task.id, fixed.start_min, fixed.end_min, fixed.mode, tuple(sorted(fixed.people)))
        if task.id in self._free.tasks or self._start is None:
            return None
        return self._start.by_task.get(task.id)

    def _constant(self, task: Task, kept: PlannedTask) -> _Var:
        yes = self._model.new_constant(1)
        var = _Var(task, kept.start_min, kept.end_min, kept.end_min - kept.start_min, yes, free=False)
        var.people = {person: [yes] for person in kept.people}
        var.modes = [self._model.new_constant(int(number == kept.mode)) for number in range(len(task.modes))]
        return var

    def _variable(self, task: Task) -> _Var:
        problem, model = self._problem, self._model
        longest = problem.closing_min - problem.opening_min
        start = model.new_int_var(problem.opening_min, problem.closing_min, f"{task.id} starts")
        end = model.new_int_var(problem.opening_min, problem.closing_min, f"{task.id} ends")
        size = model.new_int_var(1, longest, f"{task.id} takes")
        model.add(end == start + size)
        return _Var(task, start, end, size, self._done(task), free=True)

    def _done(self, task: Task) -> Literal:
        if task.departure is not None:
            return self._served[task.departure]
        if task.only_if_leaving and task.vehicle is not None:
            return self._leaving[task.vehicle]
        return self._model.new_constant(1)

    # ------------------------------------------------------------ rules

    def _crews(self) -> None:
        """Do each task in one mode, by as many people with its skill as that asks, at the pace of the slowest."""
        model = self._model
        for var in self._free_vars():
            if len(var.task.modes) == 1:
                var.modes = [var.done]
            else:
                var.modes = [model.new_bool_var(f"{var.task.id} mode {n}") for n in range(len(var.task.modes))]
                model.add_exactly_one([*var.modes, var.done.negated()])
            for chosen, mode in zip(var.modes, var.task.modes, strict=True):
                if mode.crew == 0:
                    model.add(var.size == mode.duration_min).only_enforce_if(chosen)
                    continue
                literals = []
                for person in self._problem.people:
                    if mode.skill in person.skills:
                        literal = model.new_bool_var(f"{var.task.id} by {person.id}")
                        literals.append((literal, minutes_at_pace(mode.duration_min, person.pace_factor)))
                        var.people.setdefault(person.id, []).append(literal)
                        model.add_implication(literal, chosen)
                model.add(sum(literal for literal, _ in literals) == mode.crew * chosen)
                if mode.crew == 1:
                    model.add(var.size == sum(m * a for a, m in literals)).only_enforce_if(chosen)
                else:
                    slowest = model.new_int_var(0, max((m for _, m in literals), default=0), f"{var.task.id} slowest")
                    model.add_max_equality(slowest, [m * a for a, m in literals] or [model.new_constant(0)])
                    self._follows.append((slowest, partial(self._slowest, var.task, var.task.modes.index(mode))))
                    model.add(var.size == slowest).only_enforce_if(chosen)

    def _slowest(self, task: Task, number: int, plan: Plan) -> int:
        planned = plan.by_task.get(task.id)
        if planned is None or planned.mode != number:
            return 0
        paces = tuple(self._problem.person_by_id[person].pace_factor for person in planned.people)
        return crew_minutes(task.modes[number], paces)

    def _not_before(self) -> None:
        """Nothing begins before the opening, its release, the arrival of its vehicle or of the hirer it needs."""
        for var in self._free_vars():
            task = var.task
            self._model.add(var.start >= earliest_start_min(self._problem, task, task.vehicle))
            if task.departure is not None and task.zones:
                for vehicle, literal in self._vehicles_of(task):
                    arrives = self._problem.vehicle_by_id[vehicle].arrives_min
                    self._model.add(var.start >= arrives).only_enforce_if(literal)

    def _order(self) -> None:
        """Begin each task after what it waits for has ended, and after the lag between them."""
        for var in self._vars.values():
            for link in var.task.after if var.task.fixed is None else ():
                for other, literals in self._meant(var, link):
                    if var.free or other.free:
                        rule = self._model.add(var.start >= other.end + link.lag_min)
                        rule.only_enforce_if([var.done, other.done, *literals])

    def _one_at_a_time_and_breaks(self) -> None:
        """Let a person do one thing at a time, within the hours, and take every break in its window."""
        for person in self._problem.people:
            spans = []
            mine = [var for var in self._vars.values() if person.id in var.people]
            if not any(var.free for var in mine):
                self._keep_breaks(person.id)
                continue
            last = min(person.shift[1] + person.overtime_max_min, self._problem.closing_min)
            for var in mine:
                for literal in var.people[person.id]:
                    spans.append(self._span(var, literal))
                    if var.free:
                        self._model.add(var.start >= person.shift[0]).only_enforce_if(literal)
                        self._model.add(var.end <= last).only_enforce_if(literal)
            spans += [self._model.new_fixed_size_interval_var(a, b - a, "away") for a, b in joined(person.away)]
            spans += self._breaks_of(person.id)
            self._model.add_no_overlap(spans)

    def _breaks_of(self, name: str) -> list[Any]:
        person, spans = self._problem.person_by_id[name], []
        taken = joined([*person.away, *work_begun(self._problem, name)])
        for index, rest in enumerate(person.breaks):
            first = max(rest.earliest_min, self._problem.opening_min)
            if first_gap_among(taken, first, rest.latest_min, rest.length_min) is not None:
                start = self._model.new_int_var(first, rest.latest_min, f"{name} break {index}")
                self._breaks[name, index] = start
                spans.append(self._model.new_fixed_size_interval_var(start, rest.length_min, f"{name} rests {index}"))
        return spans

    def _keep_breaks(self, name: str) -> None:
        for rest in self._start.breaks if self._start is not None else ():
            if rest.person == name:
                self._breaks[name, rest.index] = rest.start_min

    def _second_eyes(self) -> None:
        """Whoever may not have done another task does not do it."""
        for var in self._vars.values():
            for link in var.task.not_by:
                for other, literals in self._meant(var, link):
                    if var.free or other.free:
                        for person in var.people.keys() & other.people.keys():
                            both = [*var.people[person], *other.people[person]]
                            self._model.add(sum(both) <= 1).only_enforce_if(literals)

    def _places(self) -> None:
        """Let no place hold more than its slots, or anything while it is closed."""
        for place in self._problem.places:
            here = [var for var in self._vars.values() if var.task.place == place.id]
            if not any(var.free for var in here):
                continue
            spans = [self._span(var, var.done, var.task.place_tail_min) for var in here]
            demands = [var.task.slot_use for var in here]
            spans += [self._model.new_fixed_size_interval_var(a, b - a, "closed") for a, b in joined(place.closed)]
            demands += [place.slots] * (len(spans) - len(demands))
            if place.slots == 1:
                self._model.add_no_overlap(spans)
            else:
                self._model.add_cumulative(spans, demands, place.slots)

    def _zones(self) -> None:
        """Two tasks never need the same zone of a vehicle at once; a moving vehicle needs all of its own."""
        for vehicle in self._problem.vehicles:
            here: list[tuple[_Var, Any]] = []
            for var in self._vars.values():
                if var.task.zones:
                    for literal in [literal for name, literal in self._vehicles_of(var.task) if name == vehicle.id]:
                        done = var.done if var.task.departure is None else literal
                        here.append((var, self._span(var, done, var.task.zone_tail_min)))
            if not any(var.free for var, _ in here):
                continue
            for zone in {zone for var, _ in here for zone in var.task.zones}:
                spans = [span for var, span in here if zone in var.task.zones or ALL_ZONES in var.task.zones]
                self._model.add_no_overlap(spans)

    # ------------------------------------------------------------ levels

    def _lateness(self) -> Expr:
        """Weighted minutes of late hand-overs, and the cost of those put off."""
        terms: list[Expr] = []
        for departure in self._problem.departures:
            longest = max(0, self._problem.closing_min - departure.due)
            late = self._model.new_int_var(0, longest, f"{departure.id} late")
            self._follows.append((late, partial(self._minutes_late, departure.id)))
            for var in self._vars.values():
                for literals in self._counts_for(var, departure.id):
                    self._model.add(late >= var.end - departure.due).only_enforce_if([var.done, *literals])
            terms.append(departure.weight * late)
            if departure.postpone_cost is not None:
                terms.append(departure.postpone_cost * self._served[departure.id].negated())
        return sum(terms)

    def _minutes_late(self, departure: str, plan: Plan) -> int:
        return late_by_departure(self._problem, plan).get(departure, 0)

    def _counts_for(self, var: _Var, departure: str) -> Iterable[list[Literal]]:
        task = var.task
        if task.counts and task.departure == departure:
            yield []
        elif task.counts and task.vehicle is not None and (departure, task.vehicle) in self._serves:
            yield [self._serves[departure, task.vehicle]]

    def _swaps(self) -> Expr:
        """Cost of vehicles other than promised or booked."""
        costs = {d.id: d for d in self._problem.departures}
        return sum((costs[d].cost_of(v) or 0) * literal for (d, v), literal in self._serves.items())

    def _overtime(self) -> Expr:
        """Minutes after the ends of shifts."""
        terms = []
        for person in self._problem.people:
            over = self._model.new_int_var(0, max(0, self._problem.closing_min), f"{person.id} stays")
            self._follows.append((over, partial(self._minutes_over, person.id)))
            for var in self._vars.values():
                for literal in var.people.get(person.id, ()):
                    self._model.add(over >= var.end - person.shift[1]).only_enforce_if(literal)
            terms.append(over)
        return sum(terms)

    def _minutes_over(self, person: str, plan: Plan) -> int:
        return overtime_by_person(self._problem, plan)[person]

    def _moved(self) -> Expr:
        """Tasks that differ from the plan people hold."""
        terms = []
        for held in self._problem.held:
            var = self._vars.get(held.task)
            if var is None or not var.free:
                continue
            moved = self._model.new_bool_var(f"{held.task} moved")
            near = self._problem.held_tolerance_min
            same = [moved.negated(), var.done]
            self._model.add(var.start <= held.start_min + near).only_enforce_if(same)
            self._model.add(var.start >= held.start_min - near).only_enforce_if(same)
            for person, literals in var.people.items():
                self._model.add(sum(literals) == int(person in held.people)).only_enforce_if(same)
            if not set(held.people) <= var.people.keys():
                self._model.add_implication(var.done, moved)
            terms.append(moved)
        return sum(terms)

    # ------------------------------------------------------------ reading and solving

    def _free_vars(self) -> list[_Var]:
        return [var for var in self._vars.values() if var.free]

    def _span(self, var: _Var, literal: Literal, tail: int = 0) -> Any:
        if not var.free:
            return self._model.new_optional_fixed_size_interval_var(var.start, var.size + tail, literal, var.task.id)
        return self._model.new_optional_interval_var(var.start, var.size + tail, var.end + tail, literal, var.task.id)

    def _vehicles_of(self, task: Task) -> list[tuple[str, Literal]]:
        if task.departure is None:
            return [] if task.vehicle is None else [(task.vehicle, None)]
        suits = self._problem.departure_by_id[task.departure].vehicles
        return [(one.vehicle, self._serves[task.departure, one.vehicle]) for one in suits]

    def _meant(self, var: _Var, link: Any) -> Iterable[tuple[_Var, list[Literal]]]:
        """Yield the tasks a link speaks of, with the literals under which it does."""
        pairs: list[tuple[str | None, Literal]] = [(None, None)]
        if link.on_vehicle:
            pairs = [(name, literal) for name, literal in self._vehicles_of(var.task)]
        for vehicle, literal in pairs:
            for other in tasks_meant(self._problem, var.task, link, vehicle):
                if other.id in self._vars:
                    yield self._vars[other.id], [] if literal is None else [literal]

    def _hint(self) -> None:
        """Start the solver from the plan."""
        if self._start is None:
            return
        for (departure, vehicle), literal in self._serves.items():
            if departure in self._free.departures:
                self._model.add_hint(literal, self._start.vehicle_of[departure] == vehicle)
        for var in self._free_vars():
            planned = self._start.by_task.get(var.task.id)
            if planned is None:
                self._hint_undone(var)
                continue
            self._model.add_hint(var.start, planned.start_min)
            self._model.add_hint(var.end, planned.end_min)
            self._model.add_hint(var.size, planned.end_min - planned.start_min)
            self._hint_crew(var, planned)
        for follows, value in self._follows:
            self._model.add_hint(follows, value(self._start))
        self._hint_breaks(self._start.breaks)

    def _hint_breaks(self, breaks: Iterable[PlannedBreak]) -> None:
        for rest in breaks:
            start = self._breaks.get((rest.person, rest.index))
            if start is not None and not isinstance(start, int):
                self._model.add_hint(start, rest.start_min)

    def _hint_undone(self, var: _Var) -> None:
        first = earliest_start_min(self._problem, var.task, var.task.vehicle)
        self._model.add_hint(var.start, first)
        self._model.add_hint(var.end, first + 1)
        self._model.add_hint(var.size, 1)
        for literal in [*(var.modes if len(var.modes) > 1 else ()), *chain.from_iterable(var.people.values())]:
            self._model.add_hint(literal, False)

    def _hint_crew(self, var: _Var, planned: PlannedTask) -> None:
        if len(var.modes) > 1:
            for number, chosen in enumerate(var.modes):
                self._model.add_hint(chosen, number == planned.mode)
        for person, literals in var.people.items():
            able = [n for n, mode in enumerate(var.task.modes) if mode.crew and self._can(person, mode.skill)]
            for number, literal in zip(able, literals, strict=True):
                self._model.add_hint(literal, number == planned.mode and person in planned.people)

    def _can(self, person: str, skill: str) -> bool:
        return skill in self._problem.person_by_id[person].skills

    def hold(self, level: int, at_most: int) -> None:
        """Keep a level from getting worse than a value."""
        self._model.add(self._levels[level] <= at_most)

    def level_by_level(self, seconds: float, *, workers: int = 1, seed: int = 0) -> Levels:
        """Return the best plan found within the seconds: the first level first, each held while the next is solved.

        ``seconds`` are shared out as they are needed; what an early level leaves, the later ones may use.
        """
        plan: Plan | None = None
        bounds: list[int] = []
        proven, left = 0, seconds
        for level in range(LEVELS):
            found = self.solve(level, left, workers=workers, seed=seed)
            left -= found.seconds
            if found.plan is None:
                return Levels(plan, tuple(bounds), proven, impossible=found.impossible and level == 0)
            plan = found.plan
            bounds.append(found.bound)
            proven += found.proven and proven == level
            if left <= 0:
                break
            self.hold(level, objective(self._problem, plan)[level])
            self._start_from(plan)
        return Levels(plan, tuple(bounds), proven)

    def _start_from(self, plan: Plan) -> None:
        self._start = plan
        self._model.clear_hints()  # type: ignore[no-untyped-call]  # the solver ships this one method untyped
        self._hint()

    def solve(self, level: int, seconds: float, *, workers: int = 1, seed: int = 0, stop: int | None = None) -> Exact:
        """Return the best plan for one level within the seconds; stop early at ``stop`` or better.

        Of a whole day that does not start without lateness, the hand-overs alone are looked at first.
        """
        first_s = self._look_at_hand_overs(HAND_OVERS_SHARE * seconds, workers, seed) if level == 0 else 0.0
        self._model.minimize(self._levels[level])
        solver = cp_model.CpSolver()
        solver.parameters.max_time_in_seconds = max(0.01, seconds - first_s)
        solver.parameters.num_workers = workers
        solver.parameters.random_seed = seed
        watch = _Watch(stop) if stop is not None else None
        status = solver.solve(self._model, watch)
        found = status in {cp_model.OPTIMAL, cp_model.FEASIBLE}
        bound = round(solver.best_objective_bound) if status != cp_model.MODEL_INVALID else 0
        plan = self._read(solver.value, solver.boolean_value) if found else None
        impossible = status == cp_model.INFEASIBLE
        return Exact(plan, max(0, bound), status == cp_model.OPTIMAL, impossible, first_s + solver.wall_time)

    def _look_at_hand_overs(self, seconds: float, workers: int, seed: int) -> float:
        """Let lateness be no less than the hand-overs alone must cost; return the seconds that took."""
        start, is_part = self._start, all(task.departure is not None for task in self._problem.tasks)
        if start is None or is_part or not self._is_whole or objective(self._problem, start).lateness == 0:
            return 0.0
        found = _hand_overs(self._problem, start, seconds, workers, seed)
        if not found.impossible:
            self._model.add(self._levels[0] >= found.bound)
        return found.seconds

    def _read(self, value: Callable[[Any], int], true: Callable[[Any], bool]) -> Plan:
        tasks = []
        for var in self._vars.values():
            if true(var.done):
                people = [name for name, literals in var.people.items() if any(true(literal) for literal in literals)]
                mode = next((n for n, chosen in enumerate(var.modes) if true(chosen)), 0)
                start, end = value(var.start), value(var.end)
                tasks.append(PlannedTask(var.task.id, start, end, mode, tuple(sorted(people))))
        served: Mapping[str, str] = {d: v for (d, v), literal in self._serves.items() if true(literal)}
        return Plan(
            tasks=tuple(sorted(tasks, key=lambda planned: (planned.start_min, planned.task))),
            allotment=tuple((departure.id, served.get(departure.id)) for departure in self._problem.departures),
            breaks=tuple(PlannedBreak(p, n, value(start)) for (p, n), start in sorted(self._breaks.items())),
        )


def hand_over_bound(problem: Problem, plan: Plan, seconds: float, *, workers: int = 1, seed: int = 0) -> int:
    """Return a lateness that no plan can be better than: what the hand-overs must cost if all else were free.

    Parameters
    ----------
    plan
        A plan of the day, to start from.
    seconds
        At most so long; what is proven by then counts. Ten turnarounds take one to four seconds.
    """
    found = _hand_overs(problem, plan, seconds, workers, seed)
    return 0 if found.impossible else found.bound


def _hand_overs(problem: Problem, plan: Plan, seconds: float, workers: int, seed: int) -> Exact:
    part = hand_overs_alone(problem)
    return DayModel(part, plan_of_hand_overs(part, plan)).solve(0, seconds, workers=workers, seed=seed)


def _is_served(departure: str, plan: Plan) -> bool:
    return plan.vehicle_of[departure] is not None


def _leaves(vehicle: str, plan: Plan) -> bool:
    return vehicle in plan.departure_of


class _Watch(cp_model.CpSolverSolutionCallback):
    """Stops the solver once a solution is good enough."""

    def __init__(self, stop: int) -> None:
        super().__init__()
        self._stop = stop

    def on_solution_callback(self) -> None:
        """Look at a new solution."""
        if self.objective_value <= self._stop:
            self.stop_search()
