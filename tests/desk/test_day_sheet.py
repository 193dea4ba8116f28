"""The printed day sheet: what was promised, who does what, from the plan that people hold."""

from __future__ import annotations

import io

from pypdf import PdfReader

from keyhook.catalogue import load_catalogue
from keyhook.day_plan import stops_of
from keyhook_desk.yard.plan_reading import read_held
from keyhook_desk.yard.services import folder_of_desk

ADDRESS = "/papers/day/2026-07-10/"


def _text(answer) -> str:
    assert answer.headers["Content-Type"] == "application/pdf"
    return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)


def test_the_sheet_names_every_hand_over_and_everybody_who_works(friday, desk):
    text = _text(desk.get(ADDRESS))
    laid = read_held(friday)
    for departure, vehicle in laid.plan.allotment:
        if vehicle is not None:
            assert vehicle in text, departure
    for person in laid.problem.people:
        if any(person.id in one.people for one in laid.plan.tasks):
            assert person.name in text
    assert "Plan version 1" in text
    assert "may not leave without it" in text
    stops = stops_of(folder_of_desk(), friday.day, laid.plan, load_catalogue())
    assert "H12" in stops  # a trap of the demo: too heavy in any vehicle
    assert text.count("settle first") == len(stops)


def test_every_task_of_a_person_stands_on_the_sheet(friday, desk):
    text = _text(desk.get(ADDRESS)).replace("\n", " ")
    laid = read_held(friday)
    mine = [laid.problem.task_by_id[one.task].name for one in laid.plan.tasks if "hob" in one.people]
    assert mine
    missing = {name for name in mine if name.split()[0] not in text}
    assert missing == set()


def test_the_yard_may_print_it_and_a_stranger_may_not(friday, browser_of, yardhand, stranger):
    assert browser_of(yardhand).get(ADDRESS).status_code == 200
    assert stranger.get(ADDRESS).status_code == 302


def test_a_day_nobody_planned_says_what_to_do(desk):
    answer = desk.get(ADDRESS)
    assert answer.status_code == 409
    assert b"Plan the day first" in answer.content


def test_a_day_that_is_none_is_not_found(desk):
    assert desk.get("/papers/day/never/").status_code == 404


def test_the_board_leads_to_the_sheet(friday, desk):
    assert f'href="{ADDRESS}"'.encode() in desk.get("/day/2026-07-10/plan/").content
