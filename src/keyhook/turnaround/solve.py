"""The best plan of a day in the time there is: the rule, the annealer and the exact model under one roof.

Numbered steps:

1. The plan that stands before any search: the one people hold, as far as it still can be kept, else that of
   the rule of the yard.
2. The annealer improves it; on a small day only for the first part of the time.
3. The exact model takes the rest: a small day whole, level by level with the earlier levels held; of a large
   day the latest hand-overs, a window at a time.

Every plan passes the checker and is recounted before anybody sees it or it becomes the best so far. Whatever
the solver does, the last verified plan stays. Time comes in through a clock that the caller gives; a walk that
counts steps leaves the exact model out and gives the same plan on every machine.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeAlias

from keyhook.errors import NoPlan
from keyhook.turnaround.anneal import Annealer, Limits
from keyhook.turnaround.bound import lateness_bound
from keyhook.turnaround.checker import violations
from keyhook.turnaround.decoder import held_mode, lay_out
from keyhook.turnaround.dispatch import Stuck, dispatch, first_allotment
from keyhook.turnaround.plan import Objective, Plan, PlannedTask
from keyhook.turnaround.problem import Problem
from keyhook.turnaround.recount import late_by_departure, objective
from keyhook.turnaround.rules import verify_problem
from keyhook.turnaround.tradeoff import Choice, Front, choices

if TYPE_CHECKING:
    from keyhook.turnaround.exact import DayModel, Free

Status: TypeAlias = Literal["proven", "within", "no bound known"]
LEVELS = len(Objective._fields)
#: Up to so many open tasks a day is small: the exact model takes it whole.
SMALL_TASKS = 260
#: Share of the time the annealer has on a small day and on a large one.
SMALL_SHARE, LARGE_SHARE = 0.6, 0.9
#: So many walks side by side, from one start and with seeds that follow one another, when the limit is in seconds.
WALKERS = 2
#: Share of its time the first walk stays near the plan people hold before it is let loose; the others never do.
NEAR_SHARE = 0.2
#: The others begin with the plan of the rule when it has less than this share of the lateness of what still stands.
RULE_SHARE = 0.8
#: Departures in a window of a large day, and seconds the solver has for one window at most.
WINDOW, WINDOW_S = 3, 2.0
#: Seconds between two checked reports while the annealer walks.
LOOK_S = 0.5


@dataclass(frozen=True, slots=True)
class Progress:
    """What can be told while the search goes on: the best verified plan, its cost, the bound of level one."""

    plan: Plan
    objective: Objective
    bound: int
    seconds: float
    steps: int


@dataclass(frozen=True, slots=True)
class Solved:
    """The best verified plan.

    Parameters
    ----------
    bound
        No plan has less lateness (level one) than this.
    status
        Of level one: ``proven`` when the plan reaches the bound, ``within`` when the bound lies above 0 and
        below the plan, ``no bound known`` when nothing better than 0 is known.
    seconds, steps
        What the search took; 0 seconds when no clock was given.
    proven_levels
        So many leading levels are proven: a plan with four cannot be beaten.
    choices
        When people hold a plan: verified plans that move fewer tasks and cost more, the fewest moved first, and
        ``plan`` as the last; empty when there is none worth it.
    """

    plan: Plan
    objective: Objective
    bound: int
    status: Status
    seconds: float
    steps: int
    proven_levels: int = 0
    choices: tuple[Choice, ...] = ()


Report: TypeAlias = Callable[[Progress], None]
Heard: TypeAlias = Callable[[Objective], None]


def solve(
    problem: Problem, limits: Limits, seed: int = 0, start: Plan | None = None, report: Report | None = None
) -> Solved:
    """Return the best plan found within the limits.

    Parameters
    ----------
    problem
        The day. When people hold a plan of it (``problem.held``) the search begins there.
    limits
        Steps, or seconds with a clock.
    seed
        The same seed with the same steps gives the same plan.
    start
        A plan to begin from; it is used when it keeps every rule.
    report
        Told each better plan, verified.

    Raises
    ------
    BadInput
        The day itself is wrong.
    NoPlan
        No plan was found; the error names what does not fit.
    """
    verify_problem(problem)
    search = _Search(problem, limits, seed, report)
    search.begin(start)
    search.walk()
    search.prove()
    return search.answer()


class _Search:
    """One search: the best verified plan so far, the bound, and the time."""

    def __init__(self, problem: Problem, limits: Limits, seed: int, report: Report | None) -> None:
        self._problem, self._limits, self._seed, self._report = problem, limits, seed, report
        self._began = self._now()
        self._best: tuple[Objective, Plan] | None = None
        self._bound = lateness_bound(problem) or 0
        self._proven, self._steps = 0, 0
        self._bench = lay_out(problem)
        self._noted: deque[Plan] = deque()
        self._fronts: list[Front] = []

    def _now(self) -> float:
        return self._limits.clock() if self._limits.clock is not None else 0.0

    @property
    def _seconds(self) -> float:
        return self._now() - self._began

    @property
    def _left(self) -> float:
        """Seconds that are left; none when the walk counts steps."""
        if self._limits.step_count is not None or self._limits.seconds is None:
            return 0.0
        return max(0.0, self._limits.seconds - self._seconds)

    @property
    def _is_small(self) -> bool:
        return sum(1 for task in self._problem.tasks if task.fixed is None) <= SMALL_TASKS

    # ------------------------------------------------------------ the best so far

    def offer(self, plan: Plan | None) -> bool:
        """Take a plan as the best so far when it keeps every rule and costs less by the recount."""
        if plan is None:
            return False
        cost = objective(self._problem, plan)
        if (self._best is not None and cost >= self._best[0]) or violations(self._problem, plan):
            return False
        self._best = (cost, plan)
        if self._report is not None:
            self._report(Progress(plan, cost, self._bound, self._seconds, self._steps))
        return True

    def answer(self) -> Solved:
        """Return what was found."""
        if self._best is None:
            stuck = dispatch(self._problem)
            names = ", ".join(stuck.tasks[:4]) if isinstance(stuck, Stuck) else "no plan kept every rule"
            todo = "Put a departure off, add hands, or keep people longer"
            raise NoPlan("The day does not fit into its hours", seen=names, todo=todo)
        cost, plan = self._best
        if cost.lateness <= self._bound:
            self._proven = max(1, self._proven)
        status: Status = "proven" if self._proven else "within" if self._bound > 0 else "no bound known"
        offered = choices(self._problem, plan, self._fronts) if self._problem.held else ()
        return Solved(plan, cost, self._bound, status, self._seconds, self._steps, self._proven, offered)

    @property
    def _is_perfect(self) -> bool:
        return self._best is not None and not any(self._best[0])

    # ------------------------------------------------------------ the three parts

    def begin(self, start: Plan | None) -> None:
        """Look at the plans there are before any search."""
        self.offer(start)
        if self._problem.held:
            walker = Annealer(self._bench, plan_held(self._problem), self._seed, keep_held=True)
            self.offer(walker.plan() if walker.is_plan else None)
            self._followed(walker)
        if self._best is None or not self._problem.held:
            rule = dispatch(self._problem)
            self.offer(rule if isinstance(rule, Plan) else None)

    def walk(self) -> None:
        """Anneal from the best plan so far; from the bare allotment when there is none."""
        if self._is_perfect:
            self._proven = LEVELS
            return
        if not self._problem.departures:  # the steps of a walk are about hand-overs
            return
        first = self._best[1] if self._best is not None else Plan((), tuple(first_allotment(self._problem).items()))
        again, count = bool(self._problem.held), 1 if self._limits.step_count is not None else WALKERS
        starts = [first, *([self._start_beside(first)] * (count - 1))]
        walkers = [
            Annealer(self._bench, start, self._seed + k, keep_held=again and k == 0) for k, start in enumerate(starts)
        ]
        if not walkers[0].settled:
            return
        limits = self._limits_of_walk()
        with ThreadPoolExecutor(WALKERS) as pool:  # whoever is told stays in the thread that asked
            beside = [
                pool.submit(walker.walk, limits, self._followed(walker, self._note_of(walker)))
                for walker in walkers[1:]
            ]
            self._walk_first(walkers[0], limits, again=again)
            for walk in beside:
                walk.result()
        for walker in walkers:
            self._take(walker)

    def _start_beside(self, first: Plan) -> Plan:
        """Return where the other walks begin: with the plan of the rule when too little still stands."""
        if not self._problem.held:
            return first
        rule = dispatch(self._problem)
        if not isinstance(rule, Plan):
            return first
        late, late_by_rule = (objective(self._problem, plan).lateness for plan in (first, rule))
        return rule if late_by_rule < RULE_SHARE * late else first

    def _walk_first(self, walker: Annealer, limits: Limits, *, again: bool) -> None:
        """Walk and tell; when people hold a plan, near to it first."""
        look = self._followed(walker, self._look_at(walker))
        if again:
            walker.walk(limits.share(NEAR_SHARE), look)
            limits = limits.share(1.0 - NEAR_SHARE)
            if walker.objective.lateness > 0:
                walker.loose()
        walker.walk(limits, look)

    def _limits_of_walk(self) -> Limits:
        if self._limits.step_count is not None:
            return self._limits
        share = SMALL_SHARE if self._is_small else 1.0 if self._problem.held else LARGE_SHARE
        return replace(self._limits, seconds=max(1e-3, self._left * share))

    def _take(self, walker: Annealer) -> None:
        self._steps = max(self._steps, walker.taken)
        self.offer(walker.plan() if walker.is_plan else None)

    def _followed(self, walker: Annealer, also: Heard | None = None) -> Heard | None:
        """Return what a walk calls: it notes what the walk goes through when people hold a plan, and calls ``also``."""
        if not self._problem.held:
            return also
        front = Front()
        self._fronts.append(front)

        def note(found: Objective) -> None:
            if walker.is_plan and front.takes(found):
                front.note(found, walker.written_later())
            if also is not None:
                also(found)

        if walker.is_plan:
            front.note(walker.objective, walker.written_later())
        return note

    def _look_at(self, walker: Annealer) -> Heard | None:
        """Return what the first walk calls: it offers what the walks found, at most every so often."""
        if self._report is None:
            return None
        said, next_look = walker.objective, self._seconds + LOOK_S

        def look(found: Objective) -> None:
            nonlocal said, next_look
            if self._seconds < next_look:
                return
            next_look = self._seconds + LOOK_S
            while self._noted:
                self.offer(self._noted.popleft())
            if found < said:
                said = found
                self._take(walker)

        return look

    def _note_of(self, walker: Annealer) -> Heard | None:
        """Return what a walk beside the first calls: it puts down what it found, for the first one to offer."""
        if self._report is None:
            return None
        said, next_note = walker.objective, self._seconds + LOOK_S

        def note(found: Objective) -> None:
            nonlocal said, next_note
            if self._seconds >= next_note and found < said and walker.is_plan:
                said, next_note = found, self._seconds + LOOK_S
                self._noted.append(walker.plan())

        return note

    def prove(self) -> None:
        """Give what time is left to the exact model; whatever happens there, the last verified plan stays."""
        if self._left <= 0 or self._best is None or self._is_perfect:
            return
        try:
            if self._is_small:
                self._prove_levels()
            else:
                self._improve_windows()
        except Exception:  # noqa: BLE001, S110  # a fault of the solver must not cost anybody their plan
            pass

    def _model(self, free: Free | None = None) -> DayModel:
        from keyhook.turnaround.exact import DayModel  # noqa: PLC0415  # the solver takes a second to load

        assert self._best is not None, "the model starts from a plan"
        return DayModel(self._problem, self._best[1], free)

    def _prove_levels(self) -> None:
        """Solve the whole day level by level, each with the earlier ones held."""
        model = self._model()
        for level in range(LEVELS):
            assert self._best is not None, "the model started from a plan"
            if self._left <= 0:
                return
            model.hold(level, self._best[0][level])
            found = model.solve(level, self._left, workers=2, seed=self._seed)
            self.offer(found.plan)
            if level == 0:
                self._bound = max(self._bound, min(found.bound, self._best[0].lateness))
            if found.proven and self._proven == level:
                self._proven = level + 1
            if found.plan is not None and level + 1 < LEVELS:
                model.hold(level, self._best[0][level])

    def _improve_windows(self) -> None:
        """Free the late hand-overs a few at a time, with those around them, and solve what is free."""
        from keyhook.turnaround.exact import Free  # noqa: PLC0415  # as above

        number, tried = 0, 0
        while self._left > 0 and self._best is not None and tried < len(self._problem.departures):
            cost, plan = self._best
            if cost.lateness == 0:
                return
            names = _window(self._problem, plan, number)
            free = Free(_tasks_of(self._problem, plan, names), frozenset(names))
            model = self._model(free)
            model.hold(0, cost.lateness)
            found = model.solve(0, min(WINDOW_S, self._left), workers=2, seed=self._seed)
            tried = 0 if self.offer(found.plan) else tried + 1
            number += 1


def plan_held(problem: Problem) -> Plan:
    """Return what people hold as the beginning of a search: order, people and vehicles, not verified."""
    tasks = []
    for held in sorted(problem.held, key=lambda one: (one.start_min, one.task)):
        task = problem.task_by_id.get(held.task)
        if task is not None:
            mode = held_mode(problem, task, held.people, 0)
            tasks.append(PlannedTask(held.task, held.start_min, held.start_min + 1, mode, held.people))
    return Plan(tuple(tasks), tuple(first_allotment(problem).items()))


def _window(problem: Problem, plan: Plan, number: int) -> list[str]:
    """Return the departure whose turn it is, latest first, and those promised around the same time."""
    late = late_by_departure(problem, plan)
    weight = {departure.id: departure.weight for departure in problem.departures}
    worst = sorted((name for name in late if late[name] > 0), key=lambda name: (-late[name] * weight[name], name))
    if not worst:
        return [departure.id for departure in problem.departures[:WINDOW]]
    mid = problem.departure_by_id[worst[number % len(worst)]]
    near = sorted(problem.departures, key=lambda one: (abs(one.due - mid.due), one.id))
    return [mid.id, *(one.id for one in near if one.id != mid.id)][:WINDOW]


def _tasks_of(problem: Problem, plan: Plan, departures: list[str]) -> frozenset[str]:
    """Return the open tasks of departures and of the vehicles that serve them or could be had instead."""
    theirs = {vehicle for vehicle in (plan.vehicle_of.get(name) for name in departures) if vehicle is not None}
    wanted = (task for task in problem.tasks if task.departure in departures or task.vehicle in theirs)
    return frozenset(task.id for task in wanted if task.fixed is None)
