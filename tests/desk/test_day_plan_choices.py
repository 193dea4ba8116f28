"""A day planned again offers the choice between fewer tasks moved and less lateness; whichever is kept is sound."""

from __future__ import annotations

import datetime as dt
import re

import pytest

from keyhook.errors import UnknownName
from keyhook.turnaround.checker import violations
from keyhook.turnaround.events import PersonAway, ReturnsAt
from keyhook.turnaround.plan import Objective
from keyhook.turnaround.recount import objective
from keyhook.turnaround.tradeoff import called
from keyhook_desk.web.models import HistoryLine
from keyhook_desk.yard import plan_runs, plan_services
from keyhook_desk.yard.models import Proposal
from keyhook_desk.yard.plan_reading import PROPOSED, chosen_of, held, read, read_held

DAY = dt.date(2026, 7, 10)
BOARD = "/day/2026-07-10/plan/"
CHANGE = f"{BOARD}change/"
NAMES = ["fewest_moved", "in_between", "least_late"]
_SEARCHED: dict[str, object] = {}


@pytest.fixture
def proposal(friday, own):
    """The Friday planned again after a cleaner has left and a return is late; searched for once."""
    events = [PersonAway("wilf", (600, 1440)), ReturnsAt("W4-06", 780)]
    row = plan_services.propose(day=DAY, events=events, by=own, reason="Wilf has gone home")
    if _SEARCHED:
        Proposal.objects.filter(pk=row.pk).update(state="ready", **_SEARCHED)
    else:
        plan_runs.work(row.pk, steps=6000, beats=False)
    row.refresh_from_db()
    assert row.state == "ready", row.said
    _SEARCHED.update(document=row.document, best=row.best, bound=row.bound, seconds=row.seconds)
    return row


def plan_of(row, name):
    return read(chosen_of(row.document, name))


def text_of(response):
    return re.sub(r"\s+", " ", response.content.decode())


def accept(desk, row, choice):
    sent = {"act": "accept", "proposal": row.pk, "version": 1, "choice": choice}
    return desk.post(CHANGE, sent, follow=True)


def test_every_plan_offered_keeps_the_rules_and_none_outdoes_another(proposal):
    plans = [read(chosen_of(proposal.document, name)) for name in NAMES]
    assert [violations(one.problem, one.plan) for one in plans] == [(), (), ()]
    costs = [objective(one.problem, one.plan) for one in plans]
    assert [list(cost) for cost in costs] == [list(one.figures["objective"]) for one in plans]
    assert costs[0].moved < costs[1].moved < costs[2].moved
    assert costs[0].lateness > costs[1].lateness > costs[2].lateness
    assert plans[2].plan == read(proposal.document).plan


def test_the_page_shows_each_with_its_figures_and_the_proposed_one_chosen(desk, proposal):
    page = text_of(desk.get(BOARD))
    shown = re.findall(r'<input type="radio" name="choice" value="(\w+)" form="answer"( checked)?>', page)
    assert shown == [("fewest_moved", ""), ("in_between", ""), ("least_late", " checked")]
    for name in NAMES:
        cost = read(chosen_of(proposal.document, name)).figures["objective"]
        assert f"<dt>weighted minutes late</dt><dd>{cost[0]}<" in page
        assert f"tasks moved</dt><dd>{cost[3]}<" in page
        safe = sum(
            1 for one in plan_of(proposal, name).figures["departures"].values() if round(100 * one["on_time"]) >= 90
        )
        served = sum(1 for vehicle in plan_of(proposal, name).plan.vehicle_of.values() if vehicle)
        assert f"{safe} of {served} hand-overs surely on time." in page
    assert page.count("Whose list changes most:") >= 3
    assert "Keep the one chosen" in page


def test_the_board_shows_the_one_that_is_looked_at_and_its_links_stay_with_it(desk, proposal):
    page = text_of(desk.get(f"{BOARD}?show=proposal&choice=fewest_moved"))
    assert "The board shows the new plan (fewest tasks moved), which nobody holds yet." in page
    assert '?by=vehicle&amp;show=proposal&amp;choice=fewest_moved"' in page
    assert 'value="fewest_moved" form="answer" checked' in page
    plan = read(chosen_of(proposal.document, "fewest_moved")).plan
    starts = dict(re.findall(r'data-task="([^"]+)" data-start="(\d+)"', page))
    assert starts
    assert starts == {one.task: str(one.start_min) for one in plan.tasks}


@pytest.mark.parametrize("choice", [*NAMES, ""])
def test_whichever_is_kept_is_the_plan_people_hold(desk, proposal, choice):
    wanted = read(chosen_of(proposal.document, choice)).plan
    assert "Kept. Everybody" in text_of(accept(desk, proposal, choice))
    row = held(DAY)
    assert row.version == 2
    assert read_held(row).plan == wanted
    assert "others" not in row.document
    said = HistoryLine.objects.filter(kind="day", action="accept").order_by("-pk")[0].said
    named = {"fewest_moved": " (fewest tasks moved)", "in_between": " (in between)"}.get(choice, "")
    assert said == f"version 2: Wilf has gone home{named}"


def test_a_plan_that_was_not_offered_is_refused_in_words_and_nothing_is_kept(desk, own, proposal):
    assert "This proposal has no such plan (saw cheapest)" in text_of(accept(desk, proposal, "cheapest"))
    with pytest.raises(UnknownName):
        plan_services.accept(proposal_id=proposal.pk, seen_version=1, by=own, choice="cheapest")
    assert held(DAY).version == 1
    assert Proposal.objects.get(pk=proposal.pk).answer == ""


def test_the_chances_of_a_plan_beside_are_worked_out_whole_once_it_is_held(desk, proposal, settings):
    accept(desk, proposal, "in_between")
    row = held(DAY)
    assert "departures" not in row.document["figures"]
    plan_runs.work_chances(row.pk, row.version)
    assert set(held(DAY).document["figures"]["departures"]) == {
        name for name, vehicle in read_held(row).plan.allotment if vehicle
    }
    assert "bottlenecks" in held(DAY).document["figures"]


def test_the_board_of_a_proposal_is_sent_again_only_when_something_changed(desk, proposal):
    page = desk.get(f"{BOARD}?show=proposal&choice=in_between").content.decode()
    again = re.search(r'hx-get="(/day/2026-07-10/plan/live/[^"]+show=proposal[^"]+)"', page)[1].replace("&amp;", "&")
    assert desk.get(again).status_code == 204
    Proposal.objects.filter(pk=proposal.pk).update(seconds=99)
    assert desk.get(again).status_code == 200


def test_undo_goes_back_from_a_plan_that_was_chosen(desk, own, proposal, friday):
    before = read_held(friday).plan
    accept(desk, proposal, "fewest_moved")
    plan_services.undo(day=DAY, seen_version=2, by=own)
    assert read_held(held(DAY)).plan == before


def test_who_may_only_look_sees_the_figures_and_no_form(browser_of, technician, proposal):
    page = text_of(browser_of(technician).get(BOARD))
    assert "Fewest tasks moved" in page
    assert 'name="choice"' not in page


def test_a_first_plan_offers_no_choice(desk, own, depot):
    row = plan_services.lay_out(day=DAY, by=own)
    plan_runs.work(row.pk, steps=200, beats=False)
    row.refresh_from_db()
    assert row.document["others"] == []
    assert "Or with fewer tasks moved" not in text_of(desk.get(BOARD))


@pytest.mark.parametrize(
    ("proposed", "words"),
    [((3, 9, 9, 40), "least_late"), ((5, 1, 9, 40), "fewest_swaps"), ((5, 2, 0, 40), "least_overtime")],
)
def test_the_plan_proposed_is_called_by_what_it_has_least_of(proposed, words):
    costs = {"fewest_moved": Objective(5, 2, 8, 4), PROPOSED: Objective(*proposed)}
    assert [called(name, costs) for name in costs] == ["fewest_moved", words]
