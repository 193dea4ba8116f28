"""Vehicles of a kept plan carried over to the hires: in one go, by the rules of hires, seen by two, taken back."""

from __future__ import annotations

import datetime as dt
import itertools
import json
import re

import pytest
from django.core.exceptions import PermissionDenied

from keyhook.hire.hire import Load
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.fleet.sheets import built_of
from keyhook_desk.hires.giving import Gift
from keyhook_desk.hires.models import HireRow, VehiclesGiven
from keyhook_desk.hires.services import give_vehicles, hire_of, save_hire, take_vehicles_back
from keyhook_desk.web.errors import DoubleHire, EditedMeanwhile
from keyhook_desk.web.models import HistoryLine
from keyhook_desk.yard import plan_vehicles
from keyhook_desk.yard.gate_services import tick_gate
from keyhook_desk.yard.gates import ticked_in_its_vehicle
from keyhook_desk.yard.models import HeldPlan
from keyhook_desk.yard.plan_reading import held, read_held

DAY = dt.date(2026, 7, 10)
BOARD = "/day/2026-07-10/plan/"
CHANGE = f"{BOARD}change/"
BUTTON = "Give the hires these vehicles"
_COUNT = itertools.count(1)


def text_of(response):
    return re.sub(r"\s+", " ", response.content.decode())


def has(name):
    row = HireRow.objects.select_related("vehicle").get(name=name)
    return row.vehicle.name if row.vehicle else None


def allot(row, **vehicles):
    """The kept plan as if it gave these hires these vehicles, and every other hire the one it has."""
    served = {name: has(name) for name, vehicle in row.document["plan"]["allotment"] if vehicle is not None} | vehicles
    document = {**row.document, "plan": {**row.document["plan"], "allotment": list(map(list, served.items()))}}
    later = row.made_at + dt.timedelta(microseconds=next(_COUNT))  # another moment: it is read anew
    HeldPlan.objects.filter(pk=row.pk).update(document=document, made_at=later)
    return held(row.day)


def alike(row):
    """Two hires of the day that may have each other's vehicle, as the plan itself knows it."""
    may = {one.id: {suits.vehicle for suits in one.vehicles} for one in read_held(row).problem.departures}
    pairs = ((one, two) for one in sorted(may) for two in sorted(may) if one < two)
    return next((a, b) for a, b in pairs if has(b) in may[a] and has(a) in may[b] and has(a) and has(b))


def leaving():
    return HireRow.objects.filter(name__in=[f"H{n}" for n in range(10, 20)]).select_related("vehicle")


@pytest.fixture
def exchanged(friday):
    """A kept plan in which two hires have each other's vehicle."""
    one, two = alike(friday)
    row = allot(friday, **{one: has(two), two: has(one)})
    return row, one, two


def seen_of(row):
    return {one.hire: one.version for one in plan_vehicles.otherwise(read_held(row))}


def test_two_hires_exchange_their_vehicles_in_one_go(exchanged, own):
    row, one, two = exchanged
    before = has(one), has(two)
    hire = hire_of(HireRow.objects.get(name=one)).model_copy(update={"vehicle": before[1]})
    with pytest.raises(DoubleHire):  # by hand, one after the other, the database refuses it
        save_hire(actor=own, hire=hire, seen_version=1)
    given = plan_vehicles.give(day=DAY, seen_version=1, seen=seen_of(row), by=own)
    assert set(given.hires) == {one, two}
    assert (has(one), has(two)) == before[::-1]
    assert [HireRow.objects.get(name=name).document["vehicle"] for name in (one, two)] == [*before[::-1]]
    assert plan_vehicles.otherwise(read_held(row)) == ()


def test_each_hire_keeps_a_line_that_says_what_it_had(exchanged, own):
    row, one, two = exchanged
    old, new = has(one), has(two)
    plan_vehicles.give(day=DAY, seen_version=1, seen=seen_of(row), by=own)
    line = HistoryLine.objects.filter(kind="hire", name=one).first()
    assert (line.by, line.action) == (own, "edit")
    assert f"{new} instead of {old}, as the plan of 10 Jul has it" in line.said
    assert line.after_hash == HireRow.objects.get(name=one).digest
    assert HistoryLine.objects.filter(kind="hire", name=two).first().by == own


def test_the_board_says_it_gives_it_and_takes_it_back(exchanged, desk):
    _, one, two = exchanged
    before = has(one), has(two)
    documents = [HireRow.objects.get(name=name).document for name in (one, two)]
    page = text_of(desk.get(BOARD))
    assert "This plan gives 2 hires another vehicle" in page
    assert BUTTON in page
    seen = re.findall(r'name="seen" value="([^"]+)"', page)
    assert {text.split(":")[0] for text in seen} == {one, two}
    done = text_of(desk.post(CHANGE, {"act": "give", "version": 1, "seen": seen}, follow=True))
    assert f"Done: {min(one, two)}, {max(one, two)} now have the vehicle of the plan." in done
    assert BUTTON not in done
    assert (has(one), has(two)) == before[::-1]
    number = re.search(r'name="given" value="(\d+)"', done)[1]
    back = text_of(desk.post(CHANGE, {"act": "take_back", "given": number}, follow=True))
    assert "Taken back:" in back
    assert BUTTON in back
    assert [HireRow.objects.get(name=name).document for name in (one, two)] == documents
    again = text_of(desk.post(CHANGE, {"act": "take_back", "given": number}, follow=True))
    assert "Somebody has taken this back already" in again


def test_the_second_of_two_is_told_and_nothing_is_lost(exchanged, desk, browser_of, colleague):
    _, one, two = exchanged
    seen = re.findall(r'name="seen" value="([^"]+)"', text_of(desk.get(BOARD)))
    desk.post(CHANGE, {"act": "give", "version": 1, "seen": seen})
    after = has(one), has(two)
    lines = HistoryLine.objects.count()
    answer = text_of(browser_of(colleague).post(CHANGE, {"act": "give", "version": 1, "seen": seen}, follow=True))
    assert f"Fenwick has saved hire {one} since you looked at it; nothing of yours was written" in answer
    assert (has(one), has(two)) == after
    assert HistoryLine.objects.count() == lines


def test_a_hire_saved_by_another_one_meanwhile_stops_it_all(exchanged, own, colleague):
    row, one, two = exchanged
    seen, before = seen_of(row), (has(one), has(two))
    hire = hire_of(HireRow.objects.get(name=two))
    save_hire(actor=colleague, hire=hire.model_copy(update={"note": "rang at nine"}), seen_version=1)
    with pytest.raises(EditedMeanwhile, match=f"Orla has saved hire {two}"):
        plan_vehicles.give(day=DAY, seen_version=1, seen=seen, by=own)
    assert (has(one), has(two)) == before
    assert HireRow.objects.get(name=two).document["note"] == "rang at nine"
    assert not VehiclesGiven.objects.exists()


def test_a_plan_that_has_changed_gives_nothing(exchanged, own):
    row, one, _ = exchanged
    before = has(one)
    with pytest.raises(EditedMeanwhile, match="changed meanwhile by Fenwick; no hire was given"):
        plan_vehicles.give(day=DAY, seen_version=7, seen=seen_of(row), by=own)
    assert has(one) == before


def test_what_was_saved_since_is_not_taken_back_over_it(exchanged, own, colleague):
    row, one, two = exchanged
    plan_vehicles.give(day=DAY, seen_version=1, seen=seen_of(row), by=own)
    number, after = plan_vehicles.given_last(DAY).number, (has(one), has(two))
    hire = hire_of(HireRow.objects.get(name=one))
    save_hire(actor=colleague, hire=hire.model_copy(update={"note": "wants a map"}), seen_version=2)
    assert plan_vehicles.given_last(DAY) is None
    with pytest.raises(EditedMeanwhile, match=f"Orla has saved hire {one}"):
        take_vehicles_back(actor=own, given_id=number)
    assert (has(one), has(two)) == after


def test_a_vehicle_with_a_hire_of_other_days_is_not_given_and_the_page_says_whose_it_is(friday, desk):
    one, two = alike(friday)
    holder = HireRow.objects.get(name=two)
    page_row = allot(friday, **{one: has(two)})  # two keeps its own, so the vehicle is not free
    assert page_row.version == 1
    before = has(one)
    page = text_of(desk.get(BOARD))
    assert "This plan gives a hire another vehicle" in page
    assert f"{has(two)} is already given to another hire at that time (saw {two} {holder.lead}" in page.replace(
        "&#x27;", "'"
    )
    assert BUTTON not in page
    seen = f"{one}:{HireRow.objects.get(name=one).version}"
    answer = text_of(desk.post(CHANGE, {"act": "give", "version": 1, "seen": seen}, follow=True))
    assert f"{one} keeps its vehicle." in answer
    assert "Nothing was changed." in answer
    assert has(one) == before


def test_gates_done_in_the_old_vehicle_are_open_in_the_new_one_and_stand_again_when_taken_back(
    exchanged, own, yardhand
):
    row, one, _ = exchanged
    tick_gate(actor=yardhand, hire=HireRow.objects.get(name=one), task="fin_quality", done=True)
    given = plan_vehicles.give(day=DAY, seen_version=1, seen=seen_of(row), by=own)
    assert one in given.hires
    assert ticked_in_its_vehicle(HireRow.objects.get(name=one)) == frozenset()
    take_vehicles_back(actor=own, given_id=plan_vehicles.given_last(DAY).number)
    assert ticked_in_its_vehicle(HireRow.objects.get(name=one)) == {"fin_quality"}


def test_what_is_kept_to_take_it_back_says_where_things_were_and_not_what_they_are(exchanged, own):
    row, one, _ = exchanged
    hire = hire_of(HireRow.objects.get(name=one))
    brings = (Load(store=hire.loads[0].store, mass_kg=3, what="Aunt Quillby's ashes"), *hire.loads[1:])
    party = tuple(person.model_copy(update={"name": "Quillby"}) for person in hire.party)
    save_hire(actor=own, hire=hire.model_copy(update={"loads": brings, "party": party}), seen_version=1)
    plan_vehicles.give(day=DAY, seen_version=1, seen=seen_of(row), by=own)
    kept = VehiclesGiven.objects.get()
    assert "uillby" not in json.dumps(kept.moves)
    take_vehicles_back(actor=own, given_id=kept.pk)
    assert hire_of(HireRow.objects.get(name=one)).loads == brings


def test_what_cannot_be_done_holds_up_only_those_that_wait_for_it(exchanged, own):
    row, one, two = exchanged
    may = {d.id: {suits.vehicle for suits in d.vehicles} for d in read_held(row).problem.departures}
    third = next(hire for hire in leaving() if hire.name not in {one, two} and has(hire.name) in may[hire.name])
    save_hire(actor=own, hire=hire_of(third).model_copy(update={"vehicle": None}), seen_version=third.version)
    row = allot(row, **{one: has(two), two: has(one), third.name: third.vehicle.name})
    gone = hire_of(HireRow.objects.get(name=one)).model_copy(update={"status": "out"})
    save_hire(actor=own, hire=gone, seen_version=1)
    before = has(one), has(two)
    given = plan_vehicles.give(day=DAY, seen_version=1, seen=seen_of(row), by=own)
    assert given.hires == (third.name,)
    assert has(third.name) == third.vehicle.name
    assert given.refused[one] == "It is out, so its vehicle stays as it was."
    assert f"is already given to another hire at that time (saw {one} " in given.refused[two]
    assert (has(one), has(two)) == before


def test_a_vehicle_that_does_not_carry_the_hire_is_not_given(friday, own):
    big = max(leaving(), key=lambda row: len(row.document["party"]))
    belts = len(big.document["party"])
    small = next(
        row for row in VehicleRow.objects.select_related("sheet")
        if sum(1 for seat in built_of(row).seats if seat.belt != "none") < belts
    )  # fmt: skip
    gift = Gift(big.name, big.version, small.name)
    given = give_vehicles(actor=own, day=DAY, gifts=[gift])
    assert given.hires == ()
    assert f"{small.name} does not carry it:" in given.refused[big.name]


def test_a_hire_that_is_out_keeps_its_vehicle(exchanged, own):
    row, one, _two = exchanged
    out = hire_of(HireRow.objects.get(name=one)).model_copy(update={"status": "out"})
    save_hire(actor=own, hire=out, seen_version=1)
    given = plan_vehicles.give(day=DAY, seen_version=1, seen=seen_of(row), by=own)
    assert given.hires == ()
    assert "It is out" in given.refused[one]


def test_who_may_not_change_hires_changes_none(exchanged, yardhand, technician, browser_of):
    row, one, _ = exchanged
    before, seen = has(one), seen_of(row)
    for person in (yardhand, technician):
        with pytest.raises(PermissionDenied, match="Ask a manager"):
            plan_vehicles.give(day=DAY, seen_version=1, seen=seen, by=person)
        with pytest.raises(PermissionDenied, match="Ask a manager"):
            take_vehicles_back(actor=person, given_id=1)
        page = text_of(browser_of(person).get(BOARD))
        assert BUTTON not in page
        assert "The desk carries this over to the hires" in page
        assert browser_of(person).post(CHANGE, {"act": "give", "version": 1, "seen": f"{one}:1"}).status_code == 403
    assert has(one) == before


def test_a_board_that_is_open_learns_that_the_hires_have_changed(exchanged, desk, own):
    row, *_ = exchanged
    token = re.search(r"live/\?seen=([^&]+)&amp;", desk.get(BOARD).content.decode())[1]
    assert desk.get(f"{BOARD}live/?seen={token}").status_code == 204
    plan_vehicles.give(day=DAY, seen_version=1, seen=seen_of(row), by=own)
    assert "Carried over to the hires by Fenwick" in text_of(desk.get(f"{BOARD}live/?seen={token}"))
