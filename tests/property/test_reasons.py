"""Why a task begins then, judged by the checker: what is bound cannot begin a minute earlier, what is free can."""

from __future__ import annotations

import dataclasses
from itertools import combinations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from keyhook.turnaround.anneal import Limits, anneal
from keyhook.turnaround.checker import violations
from keyhook.turnaround.dispatch import dispatch
from keyhook.turnaround.generate import generate_day
from keyhook.turnaround.plan import Plan
from keyhook.turnaround.problem import crew_minutes
from keyhook.turnaround.reasons import all_reasons, chain_to, why_then

SLOW = settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def _moved(problem, plan, planned, start, people):
    mode = problem.task_by_id[planned.task].modes[planned.mode]
    minutes = crew_minutes(mode, tuple(problem.person_by_id[name].pace_factor for name in people))
    changed = dataclasses.replace(planned, start_min=start, end_min=start + minutes, people=tuple(sorted(people)))
    return dataclasses.replace(plan, tasks=tuple(changed if one is planned else one for one in plan.tasks))


def _crews(problem, planned):
    mode = problem.task_by_id[planned.task].modes[planned.mode]
    able = [person.id for person in problem.people if mode.skill in person.skills] if mode.crew else []
    return list(combinations(able, mode.crew))


def _can_begin_at(problem, plan, planned, start):
    moved = [_moved(problem, plan, planned, start, crew) for crew in _crews(problem, planned)]
    soon = [other for other in moved if other.by_task[planned.task].end_min <= planned.end_min]
    return any(not violations(problem, other) for other in soon)


@SLOW
@given(seed=st.integers(0, 10_000), staffing=st.sampled_from(["calm", "normal", "tight"]), searched=st.booleans())
def test_what_is_bound_cannot_begin_a_minute_earlier_and_what_is_free_can(seed, staffing, searched):
    problem = generate_day(2, staffing, seed)
    plan = dispatch(problem)
    if not isinstance(plan, Plan):
        return
    if searched:
        plan = anneal(problem, plan, Limits(step_count=50), seed=seed)
    for name, reasons in all_reasons(problem, plan).items():
        planned = plan.by_task[name]
        assert reasons
        if reasons[0].code == "free":
            assert reasons[0].minute < planned.start_min
            assert _can_begin_at(problem, plan, planned, reasons[0].minute)
        else:
            assert not _can_begin_at(problem, plan, planned, planned.start_min - 1), (name, reasons)


@SLOW
@given(seed=st.integers(0, 10_000))
def test_a_chain_leads_back_from_the_leaving_to_something_that_waits_for_nobody(seed):
    problem = generate_day(3, "tight", seed)
    plan = dispatch(problem)
    if not isinstance(plan, Plan):
        return
    for name, vehicle in plan.allotment:
        chain = chain_to(problem, plan, name)
        assert bool(chain) == (vehicle is not None)
        starts = [plan.by_task[task].start_min for task, _ in chain]
        assert starts == sorted(starts, reverse=True)
        if chain:
            assert chain[-1][1].code not in {"after", "lag"}


def test_a_task_that_the_plan_does_not_do_has_no_reason():
    problem = generate_day(2, "calm", 1)
    plan = dispatch(problem)
    with pytest.raises(KeyError):
        why_then(problem, plan, "nothing")
