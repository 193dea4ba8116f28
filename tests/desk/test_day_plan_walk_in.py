"""Somebody walks in: every vehicle that may serve is tried, free ones too, and what was tried is said."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re

import pytest

from keyhook.turnaround.documents import day_of
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.services import add_hire, hire_of, save_hire
from keyhook_desk.yard import plan_runs
from keyhook_desk.yard.models import Proposal
from keyhook_desk.yard.plan_page import change_lines
from keyhook_desk.yard.plan_reading import Laid, clock_of, held, read, read_held

DAY = dt.date(2026, 7, 10)
CHANGE = "/day/2026-07-10/plan/change/"


def text_of(response):
    return re.sub(r"\s+", " ", response.content.decode())


def walks_in(desk, name):
    return text_of(desk.post(CHANGE, {"act": "news", "kind": "walk_in", "hire": name}, follow=True))


@pytest.fixture
def walk_in(friday, own):
    """A party like the one of H10 that has no vehicle yet and comes at six."""
    like = hire_of(HireRow.objects.get(name="H10"))
    at = dt.datetime.fromisoformat("2026-07-10T17:00:00+01:00")
    return add_hire(actor=own, hire=like.model_copy(update={"vehicle": None, "collect_at": at})).name


@pytest.fixture
def back_early(friday, own):
    """W4-03 came back a day ago, a week before its time: nobody's plan speaks of it."""
    hire = hire_of(HireRow.objects.get(name="H20"))
    at = dt.datetime.fromisoformat("2026-07-09T16:00:00+01:00")
    save_hire(actor=own, hire=hire.model_copy(update={"return_at": at, "status": "returned"}), seen_version=1)
    assert "W4-03" not in read_held(friday).problem.vehicle_by_id
    return "W4-03"


def test_vehicles_of_the_plan_are_tried(desk, walk_in):
    said = walks_in(desk, walk_in)
    row = Proposal.objects.get(day=DAY, answer="")
    tried = [suits["vehicle"] for suits in row.events[0]["departure"]["vehicles"]]
    assert "W4-07" in tried  # by hand: four belts and more, no licence of class C1 needed, with nobody until 2027
    assert "W4-03" not in tried  # with H20 until the 16th
    assert f"Walk-in {walk_in}, leaving at 17:00; tried: {', '.join(tried)}." in said
    assert "free at the depot" not in said


def test_a_vehicle_that_stands_free_joins_the_day_with_what_is_to_do_on_it(desk, walk_in, back_early):
    said = walks_in(desk, walk_in)
    assert "free at the depot: W4-03" in said
    row = Proposal.objects.get(day=DAY, answer="")
    day = day_of(row.task["problem"])
    assert "W4-03" in day.vehicle_by_id
    todo = {task.kind for task in day.tasks if task.vehicle == "W4-03"}
    assert {"clean_kitchen", "clean_bath"} <= todo, "it came back yesterday, so it is made ready first"
    plan_runs.work(row.pk, steps=300, beats=False)
    row.refresh_from_db()
    assert row.state == "ready", row.said
    new = read(row.document)
    vehicle = new.plan.vehicle_of[walk_in]
    assert vehicle is not None
    (line,) = [line for line in change_lines(read_held(held(DAY)), new, clock_of(DAY)) if walk_in in line]
    assert line == f"{walk_in} can be served, in {vehicle}."
    desk.post(CHANGE, {"act": "accept", "proposal": row.pk, "version": 1})
    assert held(DAY).version == 2


def test_when_no_vehicle_can_serve_each_is_named_with_its_reason(desk, friday, own):
    like = hire_of(HireRow.objects.get(name="H10"))
    crowd = like.model_copy(update={"vehicle": None, "party": like.party * 3})
    name = add_hire(actor=own, hire=crowd).name
    said = walks_in(desk, name)
    assert f"No vehicle of the yard can serve that hire (saw {name})" in said
    assert not Proposal.objects.filter(day=DAY, answer="").exists()
    part = said[said.index("No vehicle of the yard") :]
    for vehicle in ("A4-02", "O6-01", "Q2-04", "T5-01", "V2-05", "W4-03", "W4-07"):
        assert vehicle in part[: part.index("</li>")]
    assert "12 people" in part


def test_a_walk_in_for_whom_there_is_no_room_says_what_was_tried(desk, walk_in, friday):
    walks_in(desk, walk_in)
    day = day_of(Proposal.objects.get(day=DAY, answer="").task["problem"])
    old = read_held(friday)
    off = dataclasses.replace(old.plan, allotment=(*old.plan.allotment, (walk_in, None)))
    new = Laid(day, off, {"lacks": {walk_in: "It lacks a cleaner."}})
    (line,) = [line for line in change_lines(old, new, clock_of(DAY)) if walk_in in line]
    assert line.startswith(f"{walk_in} finds no room today. Tried: ")
    assert "W4-07" in line
    assert line.endswith("It lacks a cleaner.")
