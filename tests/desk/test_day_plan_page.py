"""The Day board on the desk: what it shows, the forms that work without a script, news in words, live marks."""

from __future__ import annotations

import datetime as dt
import re
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from keyhook.turnaround.documents import plan_of
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.services import hire_of, save_hire
from keyhook_desk.web.errors import EditedMeanwhile
from keyhook_desk.yard import plan_runs, plan_services
from keyhook_desk.yard.models import Proposal, WorkMark
from keyhook_desk.yard.plan_reading import clock_of, held, read_held

DAY = dt.date(2026, 7, 10)
BOARD = "/day/2026-07-10/plan/"
CHANGE = f"{BOARD}change/"


def searched():
    row = Proposal.objects.get(day=DAY, answer="")
    plan_runs.work(row.pk, steps=200, beats=False)
    row.refresh_from_db()
    return row


@pytest.fixture
def kept(friday):
    return friday


def text_of(response):
    return re.sub(r"\s+", " ", response.content.decode())


def test_a_day_without_plan_is_one_tap_from_one(desk, depot):
    assert "Plan this day" in text_of(desk.get(BOARD))
    desk.post(CHANGE, {"act": "lay_out"})
    assert "Working out what fits whom" in text_of(desk.get(BOARD))
    searched()
    page = text_of(desk.get(BOARD))
    assert "The first plan" in page
    assert "Nobody holds it until it is kept" in page
    row = Proposal.objects.get(day=DAY)
    answer = desk.post(CHANGE, {"act": "accept", "proposal": row.pk, "version": 0}, follow=True)
    assert "Kept. Everybody" in text_of(answer)
    assert held(DAY).version == 1


@pytest.mark.parametrize("by", ["person", "vehicle"])
def test_the_board_has_every_task_of_the_plan_and_says_it_in_words(desk, kept, by):
    page = desk.get(f"{BOARD}?by={by}").content.decode()
    laid = read_held(kept)
    on_it = re.findall(r'class="bar[^"]*" id="[^"]+" href="[^"]+" data-task="([^"]+)"', page)
    assert set(on_it) == {one.task for one in laid.plan.tasks}
    if by == "vehicle":
        assert len(on_it) == len(laid.plan.tasks)
        assert "promised 14:00" in page
        assert page.count("back 0") + page.count("back 1") >= 9  # nine come back on the Friday
    else:
        assert all(person.name in page for person in laid.problem.people)


def test_every_hand_over_shows_its_chance_and_the_promise_that_holds(desk, kept):
    page = text_of(desk.get(BOARD))
    served = [name for name, vehicle in read_held(kept).plan.allotment if vehicle is not None]
    assert len(served) >= 8
    assert len(re.findall(r"A promise of \d\d:\d\d holds nine times in ten", page)) == len(served)
    assert len(re.findall(r'<p class="chance"><b>\d+<small>%</small></b>', page)) == len(served)
    assert page.count("put off</span>") == 10 - len(served)


def test_promises_go_across_the_lines_of_people_with_their_risk_by_shape_and_figure(desk, kept):
    page = desk.get(BOARD).content.decode()
    shown = re.findall(r'class="first promised (\w+)"[^>]*>(\S+) (.) (\d+) %<', page)
    laid = read_held(kept)
    assert shown
    assert {vehicle for _, vehicle, _, _ in shown} <= set(laid.plan.vehicle_of.values())
    for verdict, vehicle, shape, percent in shown:
        chance = laid.figures["departures"][laid.plan.departure_of[vehicle]]["on_time"]
        assert int(percent) == round(100 * chance)
        least = {("fits", "●"): 90, ("tight", "▲"): 60, ("over", "■"): 0}
        assert (verdict, shape) == next(key for key, from_percent in least.items() if int(percent) >= from_percent)
    across = page.count('class="promise ') // (page.count("<tr data-person") + 1)
    assert across == sum(1 for _, vehicle in laid.plan.allotment if vehicle)
    by_vehicle = desk.get(f"{BOARD}?by=vehicle").content.decode()
    flags = re.findall(r'class="flagged promise \w+[^>]*>(promised [^<]+)<', by_vehicle)
    assert len(flags) == across
    assert all(re.fullmatch(r"promised \d\d:\d\d, [●▲■] \d+ %", flag) for flag in flags)


def test_a_hand_over_whose_vehicle_may_not_leave_like_this_says_so_beside_its_chance(desk, kept, own):
    page = text_of(desk.get(BOARD))
    vehicle = read_held(kept).plan.vehicle_of["H12"]
    assert vehicle == "W4-06"  # no vehicle of the yard is right for H12, so it keeps its own
    assert "The rear axle is 76 kg over" in page
    assert ">Settle H12</a>" in page
    row = HireRow.objects.get(name="H12")
    light = hire_of(row).model_copy(update={"loads": (), "bikes": ()})
    save_hire(actor=own, hire=light, seen_version=row.version)
    assert ">Settle H12</a>" not in text_of(desk.get(BOARD))


def test_times_are_those_of_the_depots_clock(desk, kept):
    laid, clock = read_held(kept), clock_of(DAY)
    one = laid.plan.tasks[0]
    page = text_of(desk.get(f"{BOARD}task/?task={one.task}"))
    assert f"{clock.moment(one.start_min):%H:%M}\u2013{clock.moment(one.end_min):%H:%M}" in page
    assert "Why then?" in page


def test_a_move_is_shown_before_it_is_kept_and_changes_nothing_by_looking(desk, kept):
    laid = read_held(kept)
    hand_over = next(one for one in laid.plan.tasks if laid.problem.task_by_id[one.task].needs_hirer and one.people)
    page = text_of(desk.get(f"{BOARD}?task={hand_over.task}&start=08:05"))
    assert "would begin before its vehicle, its hirer or the depot is ready" in page
    assert "Plan the rest around it" in page
    assert held(DAY).version == 1


def test_a_move_without_script_is_two_forms(desk, kept):
    laid, clock = read_held(kept), clock_of(DAY)
    last = max((one for one in laid.plan.tasks if one.people), key=lambda one: one.end_min)
    start = f"{clock.moment(last.start_min + 5):%H:%M}"
    sent = {"task": last.task, "start": start, "person": last.people[0]}
    shown = text_of(desk.get(f"{BOARD}?task={last.task}&start={start}&person={last.people[0]}"))
    if "Keep it there" in shown:
        desk.post(CHANGE, {"act": "move", "version": 1, **sent})
        assert read_held(held(DAY)).plan.by_task[last.task].start_min == last.start_min + 5
    else:
        desk.post(CHANGE, {"act": "around", "version": 1, **sent})
        assert Proposal.objects.get(day=DAY, answer="").task["pins"]["wish"]["task"] == last.task


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"kind": "return", "vehicle": "W4-02", "late": "40"}, "W4-02 comes back at 09:20"),
        ({"kind": "return", "vehicle": "W4-02", "at": "11:15"}, "W4-02 comes back at 11:15"),
        ({"kind": "person", "person": "tolly"}, "Tolly is away from 08:00"),
        ({"kind": "person", "person": "hob", "from": "10:00", "until": "11:00"}, "Hob is away from 10:00 until 11:00"),
        ({"kind": "damage", "vehicle": "W4-02", "minutes": "60"}, "Damage found on W4-02: 60 min in the workshop"),
        ({"kind": "out", "vehicle": "W4-02"}, "W4-02 cannot go out today"),
        ({"kind": "party", "departure": "H10", "at": "13:30"}, "The party of H10 is there at 13:30"),
        ({"kind": "closed", "place": "wash_bay", "from": "10:00", "until": "11:00"}, "wash bay closed from 10:00"),
    ],
)
def test_news_opens_a_proposal_that_says_what_was_told(desk, kept, fields, says):
    answer = text_of(desk.post(CHANGE, {"act": "news", **fields}, follow=True))
    assert says in answer
    assert Proposal.objects.get(day=DAY, answer="").reason.startswith(says)


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"kind": "return", "vehicle": "W4-02", "late": "forty"}, "not a number of minutes (saw forty)"),
        ({"kind": "return", "vehicle": "", "late": "40"}, "The vehicle is not told"),
        ({"kind": "return", "vehicle": "W4-02", "at": "25:00"}, "is not a time (saw 25:00)"),
        (
            {"kind": "person", "person": "hob", "from": "11:00", "until": "10:00"},
            "The end is not after the start (saw 11:00 to 10:00)",
        ),
        ({"kind": "return", "vehicle": "W4-02", "late": "5000"}, "is from 1 to 840 minutes (saw 5000)"),
        ({"kind": "walk_in", "hire": "H99"}, "There is no hire of this number (saw H99)"),
        ({"kind": "walk_in", "hire": "H01"}, "does not leave on this day (saw H01)"),
        ({"kind": "rain"}, "There is no such news (saw rain)"),
    ],
)
def test_news_that_cannot_be_is_answered_in_a_sentence(desk, kept, fields, says):
    assert says in text_of(desk.post(CHANGE, {"act": "news", **fields}, follow=True))
    assert not Proposal.objects.filter(day=DAY, answer="").exists()


def test_the_second_who_plans_is_told_who_was_planning_what(browser_of, colleague, desk, kept):
    desk.post(CHANGE, {"act": "news", "kind": "person", "person": "tolly"})
    other = browser_of(colleague)
    said = text_of(other.post(CHANGE, {"act": "news", "kind": "out", "vehicle": "W4-02"}, follow=True))
    assert "What Fenwick told (Tolly is away from 08:00) is taken along" in said


def test_a_new_plan_says_what_changes_and_can_be_refused(desk, kept):
    desk.post(CHANGE, {"act": "news", "kind": "return", "vehicle": "W4-02", "at": "12:30"})
    row = searched()
    assert row.state == "ready", row.said
    page = text_of(desk.get(f"{BOARD}proposal/"))
    assert "leaves" in page or "gets" in page or "tasks begin at another time" in page
    desk.post(CHANGE, {"act": "refuse", "proposal": row.pk})
    assert held(DAY).version == 1


def test_a_new_plan_says_whose_list_changes_most_and_what_was_told_before(desk, kept):
    desk.post(CHANGE, {"act": "news", "kind": "person", "person": "hob"})
    desk.post(CHANGE, {"act": "news", "kind": "return", "vehicle": "W4-02", "at": "12:30"})
    row = searched()
    assert row.state == "ready", row.said
    page = text_of(desk.get(f"{BOARD}proposal/"))
    assert "With what was told before: Hob is away from" in page
    told = re.search(r"Whose list changes most: ([^<]+)\.", page)[1]
    counts = [int(one.rsplit(" ", 1)[1]) for one in told.split(", ")]
    assert counts == sorted(counts, reverse=True)
    old, new = read_held(kept).plan, plan_of(row.document["plan"])
    names = {person.name.split()[0]: person.id for person in read_held(kept).problem.people}
    for one in told.split(", "):
        name, count = one.rsplit(" ", 1)
        mine = {a.task for plan in (old, new) for a in plan.tasks if names[name] in a.people}
        assert 0 < int(count) <= len(mine)


def test_the_page_asks_again_and_is_answered_only_when_something_changed(desk, kept, yardhand):
    page = desk.get(BOARD).content.decode()
    live = re.search(r'hx-get="(/day/2026-07-10/plan/live/\?seen=[^"]+)"', page)[1].replace("&amp;", "&")
    assert desk.get(live).status_code == 204
    task = read_held(kept).plan.tasks[0].task
    plan_services.mark(
        uid=uuid.uuid4(), day=DAY, task=task, kind="problem", person="hob",
        at=dt.datetime.fromisoformat("2026-07-10T08:00:00+01:00"), by=yardhand, note="No water at the drain point",
    )  # fmt: skip
    fresh = desk.get(live)
    assert fresh.status_code == 200
    assert "No water at the drain point" in text_of(fresh)


@pytest.mark.parametrize(("address", "most"), [(BOARD, 15), (f"{BOARD}?by=vehicle", 15), (f"{BOARD}proposal/", 6)])
def test_looking_at_the_board_writes_nothing_and_stays_within_its_queries(desk, kept, address, most):
    desk.get(address)
    with CaptureQueriesContext(connection) as seen:
        assert desk.get(address).status_code == 200
    assert all(query["sql"].lstrip().upper().startswith(("SELECT", "BEGIN", "PRAGMA")) for query in seen)
    assert len(seen) <= most, [query["sql"][:90] for query in seen]


def test_what_the_desk_marks_twice_is_written_once(desk, kept):
    sent = {"uid": str(uuid.uuid4()), "task": read_held(kept).plan.tasks[0].task, "kind": "started"}
    for _ in range(2):
        desk.post(f"{BOARD}mark/", sent)
    assert WorkMark.objects.count() == 1


def test_the_yard_sees_the_plan_and_has_no_way_to_change_it(browser_of, yardhand, kept):
    browser = browser_of(yardhand)
    page = text_of(browser.get(BOARD))
    assert "Hand-overs" in page
    assert 'value="news"' not in page
    assert 'value="lay_out"' not in page
    assert browser.post(CHANGE, {"act": "lay_out"}).status_code == 403


def test_a_page_that_is_out_of_date_changes_nothing(desk, kept, own):
    task = read_held(kept).plan.tasks[-1].task
    desk.post(CHANGE, {"act": "pin", "version": 1, "what": task, "pinned": "yes"})
    said = text_of(desk.post(CHANGE, {"act": "pin", "version": 1, "what": task, "pinned": "no"}, follow=True))
    assert "changed meanwhile by Fenwick" in said
    with pytest.raises(EditedMeanwhile):
        plan_services.undo(day=DAY, seen_version=1, by=own)


@pytest.mark.parametrize("address", ["/day/2026-13-45/plan/", "/day/1066-10-14/plan/"])
def test_a_day_that_is_none_leads_to_today(desk, depot, address):
    assert desk.get(address).status_code == 302


def test_a_quiet_day_says_so_and_leads_to_what_stands(desk, depot):
    page = text_of(desk.get("/day/2026-12-25/plan/"))
    assert "Nobody comes or goes on this day." in page
    assert "/day/2026-12-25/around/" in page


def test_vehicles_that_go_straight_out_again_are_ranked_by_their_room(desk, depot):
    page = text_of(desk.get("/day/2026-07-10/around/"))
    part = page[page.index('id="turns"') : page.index('id="early"')]
    names = re.findall(r'href="/vehicles/([A-Z0-9-]+)/"', part)
    # by hand from the hire files: these come back on the Friday and leave again the same day
    assert {"W4-02", "V2-03", "O6-02"} <= set(names)
    assert re.search(r"W4-02</a> <p>back <b>08:\d\d</b> <small>H01</small>, out <b>Fri 10 Jul 14:00</b>", part)


def test_what_was_done_the_evening_before_is_left_out_of_the_day(desk, friday, own, settings):
    page = desk.get("/day/2026-07-10/around/").content.decode()
    task = re.search(r'name="task" value="([^"]+)"', page)[1]
    settings.NOW = dt.datetime.fromisoformat("2026-07-09T17:30:00+01:00")
    desk.post(f"{BOARD}mark/", {"uid": str(uuid.uuid4()), "task": task, "kind": "done", "back": "around"})
    assert "done" in text_of(desk.get("/day/2026-07-10/around/"))
    settings.NOW = dt.datetime.fromisoformat("2026-07-10T08:00:00+01:00")
    desk.post(CHANGE, {"act": "again"})
    row = searched()
    assert row.state == "ready", row.said
    planned = {one["task"]: one for one in row.document["plan"]["tasks"]}
    assert planned[task]["end_min"] <= 8 * 60


def test_what_should_be_over_and_nobody_marked_is_said_to_be_unmarked(desk, kept, yardhand, settings):
    settings.NOW = dt.datetime.fromisoformat("2026-07-10T12:00:00+01:00")
    laid = read_held(kept)
    over = [one for one in laid.plan.tasks if one.end_min <= 12 * 60]
    done = over[0]
    plan_services.mark(
        uid=uuid.uuid4(), day=DAY, task=done.task, kind="done", person="hob",
        at=dt.datetime.fromisoformat("2026-07-10T09:00:00+01:00"), by=yardhand,
    )  # fmt: skip
    page = desk.get(f"{BOARD}?by=vehicle").content.decode()
    assert re.search(rf'class="bar done"[^>]*data-task="{re.escape(done.task)}"', page)
    assert len(re.findall(r'class="bar unmarked"', page)) == len(over) - 1
