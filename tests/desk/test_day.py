"""The Day page: hires of the local day at the depot, whatever clock the server lives by."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.utils import timezone

from keyhook.errors import BadInput
from keyhook_desk import clock
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.selectors import bounds
from keyhook_desk.hires.services import add_hire, hire_of, save_hire
from keyhook_desk.web.models import HistoryLine
from keyhook_desk.yard.gate_services import tick_gate

#: The changeover Friday by hand, out of the demo's hire files.
OUT_ON_10_JULY = ["H10", "H11", "H12", "H13", "H14", "H15", "H16", "H17", "H18", "H19"]
BACK_ON_10_JULY = ["H01", "H02", "H03", "H04", "H05", "H06", "H07", "H08", "H09"]


def shown(text, heading):
    part = text[text.index(f'id="{heading}"') :]
    return re.findall(r'href="/hires/(H\d+)/"', part[: part.index("</ol>")])


def test_the_friday_shows_who_leaves_and_who_comes_back_in_order_of_time(desk):
    text = desk.get("/day/2026-07-10/").content.decode()
    out, back = shown(text, "out"), shown(text, "in")
    assert sorted(out) == OUT_ON_10_JULY
    assert sorted(back) == BACK_ON_10_JULY
    times = [row.collect_at for row in (HireRow.objects.get(name=name) for name in out)]
    assert times == sorted(times)


def test_today_is_the_depots_day_and_not_the_servers(desk):
    # 08:00 at the depot is already the evening of the day in the server's zone (UTC+14), and 23:30 the next day there.
    assert desk.get("/")["Location"] == "/day/2026-07-10/"
    assert timezone.localdate(clock.now()) == dt.date(2026, 7, 10)


@pytest.mark.parametrize(
    ("moment", "day"),
    [("2026-07-10T23:59:00+01:00", "2026-07-10"), ("2026-07-11T00:01:00+01:00", "2026-07-11"),
     ("2026-07-10T23:30:00+00:00", "2026-07-11"), ("2026-12-31T23:59:00+00:00", "2026-12-31")],
)  # fmt: skip
def test_the_day_turns_at_the_depots_midnight(desk, settings, moment, day):
    settings.NOW = dt.datetime.fromisoformat(moment)
    assert desk.get("/")["Location"] == f"/day/{day}/"


@pytest.mark.parametrize(
    ("day", "hours"),
    # British clocks go forward on the last Sunday of March, back on that of October (Summer Time Order 2002).
    [(dt.date(2026, 3, 29), 23), (dt.date(2026, 10, 25), 25), (dt.date(2026, 7, 10), 24)],
)
def test_a_day_has_the_hours_that_the_clocks_give_it(day, hours):
    first, after = (moment.astimezone(dt.UTC) for moment in bounds(day, "Europe/London"))
    assert (after - first) == dt.timedelta(hours=hours)


@pytest.mark.parametrize(("clock_time", "on_the_day"), [("00:10", True), ("23:50", True), ("-00:10", False)])
def test_hires_near_midnight_fall_on_the_local_day(desk, own, h25, clock_time, on_the_day):
    hire = hire_of(h25)
    day = dt.datetime.fromisoformat("2026-08-02T00:00:00+01:00")
    hours, minutes = clock_time.removeprefix("-").split(":")
    offset = dt.timedelta(hours=int(hours), minutes=int(minutes)) * (-1 if clock_time.startswith("-") else 1)
    row = add_hire(actor=own, hire=hire.model_copy(update={
        "vehicle": None, "wanted_sheet": "W4", "collect_at": day + offset, "return_at": day + dt.timedelta(days=5),
    }))  # fmt: skip
    assert (f"/hires/{row.name}/" in desk.get("/day/2026-08-02/").content.decode()) is on_the_day


def test_every_departure_says_its_verdict_in_words(desk):
    text = desk.get("/day/2026-07-10/").content.decode()
    words = re.findall(r'class="status (\w+)".*?</span>([^<]+)</span>', text)
    assert len(words) == len(OUT_ON_10_JULY)
    assert all(said.strip() for _, said in words)


def test_a_cancelled_hire_is_not_expected(desk, own, depot):
    from keyhook_desk.hires.services import save_hire  # noqa: PLC0415

    row = HireRow.objects.get(name="H12")
    save_hire(actor=own, hire=hire_of(row).model_copy(update={"status": "cancelled"}), seen_version=row.version)
    assert 'href="/hires/H12/"' not in desk.get("/day/2026-07-10/").content.decode()


def test_a_departure_without_a_vehicle_says_so(desk, own, h25):
    hire = hire_of(h25).model_copy(update={
        "vehicle": None, "wanted_sheet": None, "collect_at": dt.datetime(2026, 8, 3, 14, tzinfo=dt.UTC),
        "return_at": dt.datetime(2026, 8, 9, tzinfo=dt.UTC),
    })  # fmt: skip
    add_hire(actor=own, hire=hire)
    assert "No vehicle yet" in desk.get("/day/2026-08-03/").content.decode()


def test_ticking_a_gate_is_counted_on_the_board(desk, own):
    row = HireRow.objects.get(name="H12")
    gates = re.findall(r'name="task" value="(\w+)"', desk.get("/hires/H12/").content.decode())
    before = desk.get("/day/2026-07-10/").content.decode().count("gates open")
    for task in gates:
        tick_gate(actor=own, hire=row, task=task, done=True)
    text = desk.get("/day/2026-07-10/").content.decode()
    assert text.count("gates open") == before - 1
    assert "all gates done" in text


def test_a_gate_is_ticked_and_opened_again_from_the_page(desk):
    row = HireRow.objects.get(name="H12")
    task = re.search(r'name="task" value="(\w+)"', desk.get("/hires/H12/").content.decode())[1]
    vehicle = row.vehicle.name
    response = desk.post("/hires/H12/gate/", {"task": task, "vehicle": vehicle, "done": "yes"})
    assert response["Location"] == "/hires/H12/#gates"
    assert [tick.task for tick in row.gates.all()] == [task]
    desk.post("/hires/H12/gate/", {"task": task, "vehicle": vehicle, "done": "no"})
    assert row.gates.count() == 0


@pytest.fixture
def proved(own):
    """H12, whose last look was ticked in W4-06 before somebody at the desk gave it W4-07."""
    row = HireRow.objects.get(name="H12")
    assert row.vehicle.name == "W4-06"
    tick_gate(actor=own, hire=row, task="fin_quality", done=True)
    give_by_hand(own, "W4-07")
    return row


def give_by_hand(own, vehicle):
    row = HireRow.objects.get(name="H12")
    hire = hire_of(row).model_copy(update={"vehicle": vehicle, "loads": ()})
    return save_hire(actor=own, hire=hire, seen_version=row.version)


def open_gates(desk):
    return desk.get("/hires/H12/").content.decode().count('aria-pressed="false"')


def test_a_gate_proved_in_one_vehicle_is_open_in_another(proved, desk):
    text = desk.get("/hires/H12/").content.decode()
    assert 'aria-pressed="true"' not in text
    assert "Done in W4-06 before, and not counted for W4-07: Second pair of eyes." in text
    line = next(one for one in desk.get("/day/2026-07-10/").context["departures"] if one.row.name == "H12")
    assert line.gates_open == open_gates(desk) == len(line.facts.gates)


def test_what_was_proved_stands_again_when_the_vehicle_comes_back(proved, desk, own):
    still = open_gates(desk)
    give_by_hand(own, "W4-06")
    assert open_gates(desk) == still - 1
    assert proved.gates.get().vehicle.name == "W4-06"
    lines = [line.said for line in HistoryLine.objects.filter(kind="hire", name="H12", action="gate")]
    assert lines == ["Second pair of eyes in W4-06: done"]


def test_a_gate_is_proved_in_each_vehicle_by_itself(proved, own, desk):
    proved.refresh_from_db()
    tick_gate(actor=own, hire=proved, task="fin_quality", done=True)
    tick_gate(actor=own, hire=proved, task="fin_quality", done=True)
    assert sorted(tick.vehicle.name for tick in proved.gates.all()) == ["W4-06", "W4-07"]
    tick_gate(actor=own, hire=proved, task="fin_quality", done=False)
    assert [tick.vehicle.name for tick in proved.gates.all()] == ["W4-06"]


def test_a_tick_on_a_page_of_the_vehicle_before_is_not_written(proved, desk):
    response = desk.post("/hires/H12/gate/", {"task": "pack_child", "vehicle": "W4-06", "done": "yes"})
    assert response.status_code == 409
    assert "H12 has the vehicle W4-07 now; nothing was ticked (saw W4-06)" in response.content.decode()
    assert proved.gates.count() == 1


def test_without_a_vehicle_no_gate_is_ticked(proved, own, desk):
    give_by_hand(own, None)
    with pytest.raises(BadInput, match="no vehicle yet"):
        tick_gate(actor=own, hire=proved, task="fin_quality", done=True)
    assert "Done in W4-06 before, and not counted: Second pair of eyes." in desk.get("/hires/H12/").content.decode()


def test_a_gate_that_is_none_is_refused_in_words(desk):
    response = desk.post("/hires/H12/gate/", {"task": "make_tea", "done": "yes"})
    assert response.status_code == 400
    assert "There is no such gate (saw make_tea)" in response.content.decode()


@pytest.mark.parametrize("address", ["/day/yesterday/", "/day/2026-02-30/", "/day/0000-00-00/"])
def test_a_day_that_is_none_leads_to_today(desk, address):
    assert desk.get(address)["Location"] == "/"


@pytest.mark.parametrize("address", ["/day/0001-01-01/", "/day/9999-12-31/"])
def test_the_first_and_the_last_day_of_all_do_not_break_it(desk, address):
    assert desk.get(address)["Location"] == "/"
