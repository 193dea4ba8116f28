"""Day plan: lateness as a share of the yard rule's by size and staffing, proof, planning again, a general peer, growth.

Each figure is the sum of lateness over seeded days of the search, divided by that of the dispatch rule on the same
days, both recomputed by the recount from the plan alone; every plan passes the checker. The clock of the shares
is the time this process spent computing on one core, so that a busy machine changes them little; the load is printed
beside them. Proof, planning again and the peer go by the wall, with two walks or workers side by side.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import os
import sys
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))

import pyjobshop
from pyjobshop.Solution import ScheduledTask

from keyhook.turnaround.anneal import Annealer, Limits
from keyhook.turnaround.checker import violations
from keyhook.turnaround.decoder import lay_out
from keyhook.turnaround.dispatch import dispatch
from keyhook.turnaround.events import Event, PersonAway, ReturnsAt
from keyhook.turnaround.generate import catalogue_minutes, generate_day
from keyhook.turnaround.plan import Plan, PlannedTask, earliest_start_min, tasks_to_do, vehicle_under, waits
from keyhook.turnaround.problem import Problem, Suits, minutes_at_pace
from keyhook.turnaround.recount import objective
from keyhook.turnaround.replan import changes, day_from_now
from keyhook.turnaround.solve import Progress, solve

BOOK = catalogue_minutes()
#: The minute from which days are planned again.
AGAIN_FROM = 11 * 60
#: Turnarounds, staffing, seconds, and the share that is aimed at.
AIMS = (
    (10, "normal", 1.0, None),
    (10, "tight", 1.0, None),
    (20, "normal", 1.0, 0.3),
    (20, "tight", 1.0, 0.3),
    (40, "normal", 2.0, 0.45),
    (40, "tight", 2.0, 0.45),
)
LONG_AIMS = (
    (40, "calm", 20.0, 0.15),
    (40, "normal", 20.0, 0.15),
    (40, "tight", 20.0, 0.15),
    (80, "normal", 20.0, 0.5),
    (80, "tight", 20.0, 0.5),
    (150, "normal", 20.0, 0.75),
    (150, "tight", 20.0, 0.75),
)


def day_of(size: int, staffing: str, seed: int) -> tuple[Problem, Plan]:
    """Return a seeded day and the plan of the rule."""
    problem = generate_day(size, staffing, seed, BOOK)  # type: ignore[arg-type]
    rule = dispatch(problem)
    assert isinstance(rule, Plan)
    return problem, rule


def checked_lateness(problem: Problem, plan: Plan) -> int:
    """Return the lateness of a plan, recounted; the plan has to keep every rule."""
    assert violations(problem, plan) == ()
    return objective(problem, plan).lateness


def share(size: int, staffing: str, seconds: float, seeds: int) -> dict[str, Any]:
    """Return the share of the rule's lateness that the annealer leaves, and its steps a second."""
    found, rule_sum, steps, each = 0, 0, 0.0, []
    for seed in range(seeds):
        problem, rule = day_of(size, staffing, seed)
        walker = Annealer(lay_out(problem), rule, seed)
        began = time.process_time()
        walker.walk(Limits(seconds=seconds, clock=time.process_time))
        steps += walker.taken / (time.process_time() - began)
        best = min(
            checked_lateness(problem, rule), checked_lateness(problem, walker.plan()) if walker.is_plan else 10**9
        )
        found, rule_sum = found + best, rule_sum + objective(problem, rule).lateness
        each.append(round(best / max(1, objective(problem, rule).lateness), 2))
    return {"share": round(found / max(1, rule_sum), 3), "by_day": each, "steps_per_s": round(steps / seeds)}


def proof(seeds: int, seconds: float) -> dict[str, Any]:
    """Return how many days of 10 turnarounds come out proven."""
    found = {}
    for staffing in ("calm", "normal", "tight"):
        status = []
        for seed in range(seeds):
            problem, _ = day_of(10, staffing, seed)
            solved = solve(problem, Limits(seconds=seconds, clock=time.perf_counter), seed=seed)
            assert violations(problem, solved.plan) == ()
            status.append(f"{solved.objective.lateness}>={solved.bound}{'*' if solved.status == 'proven' else ''}")
        found[staffing] = status
    return found


def again(size: int, long_s: float, seeds: int) -> dict[str, Any]:
    """Return how soon a plan stands after bad news, how far the plan after 3 s is from a long run, and what moved.

    The gap is the lateness after 3 s beyond that of the long run, summed over days and kinds of news, as a share of the
    lateness of the rule on the same days after the same news.
    """
    found: dict[str, Any] = {}
    gap, by_rule = 0, 0
    for seed in range(seeds):
        problem, _ = day_of(size, "normal", seed)
        held = solve(problem, Limits(seconds=8, clock=time.perf_counter), seed=1).plan
        for name, event in _news(problem, held).items():
            told = _again(problem, held, AGAIN_FROM, event, long_s)
            found[f"{name}, day {seed}"] = told
            gap += told["after_3_s"][0] - told[f"after_{long_s:g}_s"][0]
            by_rule += told["rule"]
    return {"gap_share": round(gap / max(1, by_rule), 3), **found}


def choices_when_short_of_hands(size: int, seeds: int) -> dict[str, Any]:
    """Return what may be chosen from when a tight day is planned again for 3 s: lateness and tasks moved of each."""
    found: dict[str, Any] = {}
    for seed in range(seeds):
        problem, _ = day_of(size, "tight", seed)
        held = solve(problem, Limits(seconds=8, clock=time.perf_counter), seed=1).plan
        for name, event in _news(problem, held).items():
            rest = day_from_now(problem, held, AGAIN_FROM, [event])
            plans = solve(rest, Limits(seconds=3, clock=time.perf_counter), seed=1).choices
            assert all(violations(rest, one.plan) == () for one in plans)
            found[f"{name}, day {seed}"] = [[one.name, one.objective.lateness, one.objective.moved] for one in plans]
    return found


def _news(problem: Problem, held: Plan) -> dict[str, Event]:
    late = next(v for v in problem.vehicles if v.arrives_min > 10 * 60 and v.id in held.departure_of)
    cleaner = next(person.id for person in problem.people if "clean" in person.skills)
    return {
        "a return an hour late": ReturnsAt(late.id, AGAIN_FROM + 60),
        "a cleaner leaves at noon": PersonAway(cleaner, (12 * 60, 24 * 60)),
    }


def _again(problem: Problem, held: Plan, now: int, event: Event, long_s: float) -> dict[str, Any]:
    rest = day_from_now(problem, held, now, [event])
    seen: list[Progress] = []
    quick = solve(rest, Limits(seconds=3, clock=time.perf_counter), seed=1, report=seen.append)
    slow = solve(rest, Limits(seconds=long_s, clock=time.perf_counter), seed=2)
    told = changes(rest, held, quick.plan)
    assert violations(rest, quick.plan) == ()
    rule = dispatch(rest)
    assert isinstance(rule, Plan)
    return {
        "first_s": round(seen[0].seconds, 2),
        "first": list(seen[0].objective),
        "after_3_s": list(quick.objective),
        f"after_{long_s:g}_s": list(slow.objective),
        "rule": objective(rest, rule).lateness,
        "open_tasks": len(rest.held),
        "choices": [[one.name, one.objective.lateness, one.objective.moved] for one in quick.choices],
        "told": {"later": len(told.later), "moved": len(told.moved), "handed": len(told.handed)},
    }


def expressible(problem: Problem) -> Problem:
    """Return the part of a day that the peer can express: who serves whom is fixed, no zones, breaks or second eyes."""
    tasks = [
        dataclasses.replace(task, zones=frozenset(), modes=task.modes[:1], not_by=(), place_tail_min=0, zone_tail_min=0)
        for task in problem.tasks
    ]
    departures = [
        dataclasses.replace(one, vehicles=(Suits(one.allotted or ""),), postpone_cost=None)
        for one in problem.departures
    ]
    people = [dataclasses.replace(person, breaks=()) for person in problem.people]
    return dataclasses.replace(problem, tasks=tuple(tasks), departures=tuple(departures), people=tuple(people))


def by_peer(problem: Problem, start: Plan, seconds: float) -> Plan | None:
    """Return the plan of PyJobShop for an expressible day: people are machines, places renewable resources.

    It is given the same start as the search, whole and feasible: the plan of the rule. Its solver's probing is off,
    to its advantage: at 40 turnarounds probing alone took 14 s, and no time was left to look even at the start.
    None when it has not come so far in its time.
    """
    allotment = {departure.id: departure.allotted for departure in problem.departures}
    model = pyjobshop.Model()
    jobs = {d.id: model.add_job(weight=d.weight, due_date=d.due) for d in problem.departures}
    serves = {vehicle: departure for departure, vehicle in allotment.items()}
    hands, end = {}, problem.closing_min + 1000
    for person in problem.people:
        last = min(person.shift[1] + person.overtime_max_min, problem.closing_min)
        hands[person.id] = model.add_machine(breaks=[(0, person.shift[0]), (last, end)])
    places = {place.id: model.add_renewable(place.slots) for place in problem.places}
    tasks, by_whom, given = {}, [], []
    for task in tasks_to_do(problem, allotment):
        job = jobs.get(task.departure or serves.get(task.vehicle or "", "")) if task.counts else None
        earliest = earliest_start_min(problem, task, vehicle_under(task, allotment))
        tasks[task.id] = model.add_task(job, earliest_start=earliest, latest_end=problem.closing_min)
        planned = start.by_task[task.id]
        for person in (person for person in problem.people if task.modes[0].skill in person.skills):
            used = [hands[person.id], *([places[task.place]] if task.place else [])]
            demands = [0, *([task.slot_use] if task.place else [])]
            minutes = minutes_at_pace(task.modes[0].duration_min, person.pace_factor)
            way = model.add_mode(tasks[task.id], used, minutes, demands)
            if planned.people == (person.id,):
                given.append(ScheduledTask(len(by_whom), way.resources, planned.start_min, planned.end_min))
            by_whom.append(person.id)
    for wait in waits(problem, allotment):
        model.add_end_before_start(tasks[wait.before], tasks[wait.after], wait.lag_min)
    model.set_objective(weight_total_tardiness=1)
    whole = pyjobshop.Solution(model.data(), given)
    assert len(given) == len(tasks)
    assert whole.objective == objective(problem, start).lateness
    found = model.solve(
        time_limit=seconds, display=False, num_workers=2, initial_solution=whole, cp_model_probing_level=0
    ).best
    if not found.tasks:
        return None
    made = [
        PlannedTask(name, one.start, one.end, 0, (by_whom[one.mode],))
        for name, one in zip(tasks, found.tasks, strict=True)
    ]
    return Plan(tuple(made), tuple(allotment.items()))


def peer(size: int, staffing: str, seconds: float, seeds: int) -> dict[str, Any]:
    """Return lateness of the search and of the peer in equal time by the wall, on what the peer can express.

    Both start from the plan of the rule, the plans of both pass the checker, and the recount says what they cost.
    """
    found = []
    for seed in range(seeds):
        problem = expressible(generate_day(size, staffing, seed, BOOK))  # type: ignore[arg-type]
        ours = solve(problem, Limits(seconds=seconds, clock=time.perf_counter), seed=seed).plan
        rule = dispatch(problem)
        assert isinstance(rule, Plan)
        plans = {"start": rule, "ours": ours, "peer": by_peer(problem, rule, seconds)}
        found.append({whose: plan and checked_lateness(problem, plan) for whose, plan in plans.items()})
    return {f"{seconds:g}_s": found}


def growth() -> dict[str, Any]:
    """Return steps a second by size: how the cost of one step grows."""
    found = {}
    for size in (10, 20, 40, 80, 150):
        problem, rule = day_of(size, "normal", 0)
        began = time.process_time()
        bench = lay_out(problem)
        laid = time.process_time() - began
        walker = Annealer(bench, rule, 1)
        began = time.process_time()
        walker.walk(Limits(seconds=1.0, clock=time.process_time))
        rate = walker.taken / (time.process_time() - began)
        found[str(size)] = f"{len(problem.tasks)} tasks, laid out in {laid:.2f} s, {rate:.0f} steps/s"
    return found


def warm() -> None:
    """Compile before anything is measured."""
    problem, rule = day_of(3, "normal", 9)
    Annealer(lay_out(problem), rule, 1).walk(Limits(step_count=400))
    solve(day_from_now(problem, rule, 10 * 60), Limits(step_count=400))


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--full", action="store_true", help="20 s runs, and more days each")
    given = parser.parse_args()
    warm()
    found: dict[str, Any] = {"load_before": round(os.getloadavg()[0], 1), "growth": growth()}
    for size, staffing, seconds, aim in AIMS + (LONG_AIMS if given.full else ()):
        seeds = 5 if seconds <= 2 else 2
        key = f"{size}_{staffing}_{seconds:g}s"
        found[key] = {**share(size, staffing, seconds, seeds), "aim": aim, "load": round(os.getloadavg()[0], 1)}
        if not given.json:
            print(f"{key:24} {found[key]}", flush=True)
    found["proof_10_in_10s"] = proof(4 if given.full else 1, 10.0)
    found["choices_40_tight"] = choices_when_short_of_hands(40, 2)
    found["again_40"] = again(40, 20.0 if given.full else 6.0, 3 if given.full else 1)
    for staffing in ("normal", "tight"):
        found[f"peer_40_{staffing}"] = peer(40, staffing, 20.0 if given.full else 10.0, 3 if given.full else 1)
    found["load_after"] = round(os.getloadavg()[0], 1)
    shown = {key: value for key, value in found.items() if given.json or "aim" not in str(value)}
    print(json.dumps(found) if given.json else "\n".join(f"{key:24} {value}" for key, value in shown.items()))


if __name__ == "__main__":
    main()
