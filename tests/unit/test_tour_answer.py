"""Will they know how? Whole answers over the demo: what is shown, what falls off and where it goes, planning again."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from keyhook.basis import Level
from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.dossier import hire_tour
from keyhook.errors import BadInput, NoPlan, UnknownName
from keyhook.phrases import say
from keyhook.tour import search as search_module
from keyhook.tour.answer import MESSAGE_HOLDS, answer_of, tour_answer
from keyhook.tour.checker import complaints
from keyhook.tour.compose import TourWishes, compose_tour, tags_of, worth
from keyhook.tour.replan import Progress, planned_again
from keyhook.tour.script import autocue
from keyhook.tour.select import Search
from keyhook.vehicle.build_sheet import Fitted, Quirk, Station

DEMO = Path(__file__).resolve().parents[2] / "demo"
SHORT = Search(limit_s=0.3)


@pytest.fixture(scope="module")
def catalogue():
    return load_catalogue()


@pytest.fixture(scope="module")
def depot(catalogue):
    return read_depot(read_folder(DEMO), catalogue)


@pytest.fixture(scope="module")
def family(depot):
    """H06: two adults and two children abroad, in T5."""
    hire = depot.hire("H06")
    return depot.sheet_of(hire), hire


@pytest.fixture(scope="module")
def answer(family, catalogue):
    return tour_answer(*family[:1], catalogue, family[1], TourWishes(available_min=40.0), search=SHORT)


def _said(answer, code):
    return [say(finding.code, finding.values) for finding in answer.findings if finding.code == f"tour.{code}"]


def test_the_tour_fits_holds_and_says_all_that_must_be_said(answer, family, catalogue):
    assert complaints(answer.composed.problem, answer.plan) == ()
    assert answer.end_min <= 40.0
    on_sheet = {fitted.fitting for fitted in family[0].fittings}
    musts = {
        point.id
        for fitting in on_sheet
        for point in catalogue.fittings[fitting].teach
        if point.must and point.moment in {"walk", "drive_off"} and {"always", *answer.composed.tags} & set(point.when)
    }
    assert len(musts) > 20
    assert musts <= set(answer.plan.points)


def test_nothing_is_shown_of_equipment_that_the_vehicle_has_not_got(answer, family, catalogue):
    own = {point.id for fitted in family[0].fittings for point in catalogue.fittings[fitted.fitting].teach}
    assert set(answer.plan.points) <= own


def test_what_falls_off_goes_into_messages_that_somebody_reads_and_the_rest_onto_cards(answer):
    off = [entry for entry in answer.elsewhere if entry.why == "no_time"]
    points = {point.id for point in answer.composed.problem.points}
    assert {entry.id for entry in off} == points - set(answer.plan.points)
    by_slot = {slot: [entry for entry in off if entry.slot == slot] for slot in ("first_stop", "first_night", "card")}
    assert sum(map(len, by_slot.values())) == len(off)
    theirs = [entry.slot for entry in answer.elsewhere if entry.why == "moment"]
    room = MESSAGE_HOLDS - theirs.count("first_night")
    assert len(by_slot["first_stop"]) <= MESSAGE_HOLDS - theirs.count("first_stop")
    assert len(by_slot["first_night"]) == room > 0
    walking = [entry for entry in off if answer.composed.known[entry.id].moment == "walk"]
    dearest = sorted(walking, key=lambda entry: -entry.value_cost)[:room]
    assert {entry.value_cost for entry in by_slot["first_night"]} == {entry.value_cost for entry in dearest}
    said = _said(answer, "falls_off")
    assert len(said) == 1
    assert said[0].startswith(f"Not in the tour for want of time: {len(off)}.")
    assert f"cards in the pack ({len(by_slot['card'])})" in said[0]


def test_five_more_minutes_are_told_by_what_they_would_add_and_save(answer, family, catalogue):
    added = set(answer.more.added)
    assert added
    assert not added & set(answer.plan.points)
    longer = tour_answer(family[0], catalogue, family[1], TourWishes(available_min=45.0), search=Search(limit_s=2.0))
    gain = longer.plan.value_cost - answer.plan.value_cost
    assert answer.more.gain_cost == pytest.approx(gain, rel=0.1)
    said = _said(answer, "five_more")[0]
    assert said.startswith(f"Five more minutes would save {answer.more.gain_cost:.0f} GBP more")
    assert answer.composed.known[answer.more.added[0]].text in said


def test_more_minutes_than_needed_would_add_nothing_and_it_says_so(family, catalogue):
    answer = tour_answer(family[0], catalogue, family[1], TourWishes(available_min=300.0), search=SHORT)
    assert len(answer.plan.points) == len(answer.composed.problem.points)
    assert answer.plan.proven
    assert _said(answer, "five_more_nothing")
    assert not _said(answer, "falls_off")


def test_what_must_be_said_alone_over_the_time_is_said_with_by_how_much(family, catalogue):
    short = tour_answer(family[0], catalogue, family[1], TourWishes(available_min=20.0), search=SHORT)
    long = tour_answer(family[0], catalogue, family[1], TourWishes(available_min=90.0), search=SHORT)
    assert short.mandatory_min == pytest.approx(long.mandatory_min, abs=0.05)
    assert short.over_min == pytest.approx(long.mandatory_min - 20.0, abs=0.05)
    assert all(line.mandatory or line.id in _needed(short) for line in short.lines)
    (said,) = _said(short, "mandatory_over")
    assert f"allow {short.over_min:.1f} minutes more" in said
    assert short.level is Level.WARN
    fits = tour_answer(
        family[0], catalogue, family[1], TourWishes(available_min=short.mandatory_min + 0.1), search=SHORT
    )
    assert fits.over_min == 0


def _needed(answer):
    before, found = answer.composed.problem.needed_before(), set()
    waiting = [line.id for line in answer.lines if line.mandatory]
    while waiting:
        name = waiting.pop()
        found.add(name)
        waiting += before[name]
    return found


def test_zero_minutes_plan_what_must_be_said_and_nothing_else(family, catalogue):
    answer = tour_answer(family[0], catalogue, family[1], TourWishes(available_min=0.0), search=SHORT)
    assert answer.over_min == pytest.approx(answer.mandatory_min)
    assert "and there are 0:" in _said(answer, "mandatory_over")[0]
    assert {line.id for line in answer.lines} == _needed(answer)


def test_a_value_is_miss_times_bite_times_cost_times_what_telling_spares(catalogue):
    """By hand, with the scales of the catalogue: severity 3 costs 120, telling leaves 0.3, a message 0.55."""
    point = (
        catalogue.fittings["hookup"]
        .teach[0]
        .model_copy(update={"severity": 3, "kind": "damage", "miss_share": 0.4, "bite_share": 0.05})
    )
    loss, value, because = worth(point, catalogue)
    assert loss == pytest.approx(2.4)  # 0.4 x 0.05 x 120
    assert value == pytest.approx(1.68)  # of it 1 - 0.3
    assert {given.name: given.value for given in because.inputs}["what the harm costs"] == 120
    assert worth(point, catalogue, confirmed=True)[1] == pytest.approx(0.6)  # of 2.4: 0.55 - 0.3
    assert worth(point, catalogue, learnt_factor=2.0)[1] == pytest.approx(3.36)
    with pytest.raises(BadInput, match="learnt factor"):
        worth(point, catalogue, learnt_factor=-1.0)


def test_injury_is_weighed_as_injury(catalogue):
    point = (
        catalogue.fittings["hookup"]
        .teach[0]
        .model_copy(update={"severity": 5, "kind": "safety", "miss_share": 0.1, "bite_share": 0.001})
    )
    assert worth(point, catalogue)[0] == pytest.approx(6.0)  # 0.1 x 0.001 x 60,000


def test_party_trip_and_vehicle_raise_tags_that_nobody_ticked(depot):
    baby = depot.hire("H16").model_copy(update={"tags": ()})
    sheet = depot.sheet_of(baby)
    assert {"infant", "children", "hookup"} <= tags_of(sheet, baby)
    grown_up = baby.model_copy(update={"party": baby.party[:2]})
    assert not {"infant", "children"} & tags_of(sheet, grown_up)
    assert "over35" in tags_of(depot.built("T5-01"), baby)
    assert "over35" not in tags_of(sheet, baby)


def test_what_the_hirer_confirmed_saves_less_on_the_tour(family, catalogue):
    plain = compose_tour(*family[:1], catalogue, family[1])
    point = max(plain.problem.points, key=lambda point: point.value_cost)
    told = compose_tour(family[0], catalogue, family[1], TourWishes(confirmed=[point.id]))
    # (0.55 - 0.3) / (1 - 0.3) of what it was worth before
    assert told.problem.by_id()[point.id].value_cost == pytest.approx(point.value_cost * 0.25 / 0.70)


def test_a_quirk_of_the_vehicle_is_always_said_where_its_fitting_is(family, catalogue):
    quirks = (Quirk(text="The step hums", fitting="hab_door"), Quirk(text="Ours alone", tell_hirer=False))
    answer = tour_answer(family[0], catalogue, family[1], TourWishes(available_min=40.0, quirks=quirks), search=SHORT)
    (line,) = [line for line in answer.lines if line.text == "The step hums"]
    door = next(fitted for fitted in family[0].fittings if fitted.fitting == "hab_door")
    assert line.mandatory
    assert line.find_it == door.find_it
    assert not [line for line in answer.lines if line.text == "Ours alone"]


def test_three_questions_are_asked_back_of_the_dearest_points_shown(answer):
    losses = {line.id: answer.composed.known[line.id].loss_cost for line in answer.lines}
    asked = [question.point for question in answer.questions]
    assert len(asked) == 3
    assert set(asked) <= set(losses)
    assert losses[asked[0]] == max(losses.values())
    assert len({answer.composed.known[name].title for name in asked}) == 3


def test_every_point_a_tour_can_show_has_its_question(catalogue):
    missing = [
        point.id
        for fitting in catalogue.fittings.values()
        for point in fitting.teach
        if point.moment in {"walk", "drive_off"} and not point.ask
    ]
    assert missing == []


def test_an_unknown_fitting_is_named(family, catalogue):
    sheet, hire = family
    strange = sheet.fittings[0].model_copy(update={"fitting": "flux_oven"})
    broken = sheet.model_copy(update={"fittings": (*sheet.fittings[1:], strange)})
    with pytest.raises(UnknownName, match="flux_oven"):
        compose_tour(broken, catalogue, hire)


def test_a_station_without_a_place_is_named_with_its_fittings(family, catalogue):
    sheet, hire = family
    lost = Fitted.model_validate({**sheet.fittings[0].model_dump(), "station": "attic"})
    broken = sheet.model_copy(update={"fittings": (lost, *sheet.fittings[1:])})
    with pytest.raises(UnknownName, match=r"station of .* has no place on the sheet T5 \(saw attic\)"):
        compose_tour(broken, catalogue, hire)


def test_a_station_that_no_door_leads_to_is_named(family, catalogue):
    sheet, hire = family
    there = {fitted.station for fitted in sheet.fittings}
    inside = next(s for s in sheet.stations if s.side == "inside" and s.id in there and s.id != "driver_seat")
    closed = Station.model_validate({**inside.model_dump(), "room": "nowhere"})
    stations = tuple(closed if one.id == inside.id else one for one in sheet.stations)
    with pytest.raises(UnknownName) as caught:
        compose_tour(sheet.model_copy(update={"stations": stations}), catalogue, hire)
    assert inside.name in str(caught.value)


def test_points_of_the_catalogue_that_wait_in_a_circle_are_named(family, catalogue):
    sheet, hire = family
    fitting = next(
        catalogue.fittings[f.fitting] for f in sheet.fittings if len(catalogue.fittings[f.fitting].teach) > 1
    )
    first, second, *rest = fitting.teach
    circle = (
        first.model_copy(update={"after": (second.id,), "when": ("always",), "moment": "walk"}),
        second.model_copy(update={"after": (first.id,), "when": ("always",), "moment": "walk"}),
        *rest,
    )
    knotted = replace(
        catalogue, fittings={**catalogue.fittings, fitting.id: fitting.model_copy(update={"teach": circle})}
    )
    with pytest.raises(NoPlan, match=f"{first.id} after {second.id}") as caught:
        compose_tour(sheet, knotted, hire)
    assert f"{second.id} after {first.id}" in str(caught.value)


def test_planned_again_what_was_done_stays_done_and_a_slow_party_is_seen(answer, catalogue):
    done = answer.plan.points[:10]
    last = next(line for line in answer.lines if line.id == done[-1])
    usual_s = last.start_s + last.talk_s
    rest = planned_again(
        answer.composed, catalogue, Progress(elapsed_s=1.5 * usual_s, at_station="", done=done), search=SHORT
    )
    assert not set(done) & set(rest.plan.points)
    assert complaints(rest.composed.problem, rest.plan) == ()
    pace = rest.composed.problem.pace_factor
    assert 1.2 < pace < 1.5
    (said,) = _said(rest, "replanned")
    assert f"this party takes {100 * (pace - 1):.0f} % longer than planned" in said
    assert "points done: 10" in said
    assert len(rest.plan.points) + 10 < len(answer.plan.points)


def test_a_must_that_was_passed_over_comes_back_and_it_says_so(answer, catalogue):
    must = next(line.id for line in answer.lines if line.mandatory)
    may = next(line.id for line in answer.lines if line.id not in _needed(answer))
    rest = planned_again(answer.composed, catalogue, Progress(elapsed_s=60.0, skipped=(must, may)), search=SHORT)
    assert must in rest.plan.points
    assert may not in rest.plan.points
    said, title = _said(rest, "come_back")[0], answer.composed.known[must].title
    assert "(1)" in said
    assert said.endswith(f": {title}.")
    assert {entry.why for entry in rest.elsewhere if entry.id == may} == {"skipped"}


@pytest.mark.parametrize(
    ("progress", "said"),
    [
        (Progress(done=("nothing_like_it",)), "nothing_like_it"),
        (Progress(at_station="attic"), "attic"),
        (Progress(elapsed_s=-5.0), "-5"),
        (Progress(elapsed_s=10.0, paused_s=20.0), "20 of 10"),
    ],
)
def test_progress_that_cannot_be_is_one_sentence(answer, catalogue, progress, said):
    with pytest.raises((BadInput, UnknownName), match=said):
        planned_again(answer.composed, catalogue, progress, search=SHORT)


def test_the_script_adds_up(answer, catalogue):
    """Each time in the script is the one before plus talk and walk, added up here from catalogue and door graph."""
    problem = answer.composed.problem
    lines = re.findall(r"^  (\d+):(\d\d)  ", autocue(answer), re.MULTILINE)
    times = [60 * int(minutes) + int(seconds) for minutes, seconds in lines]
    seconds = {point.id: point.duration_s for fitting in catalogue.fittings.values() for point in fitting.teach}
    clock, stand, expected = 0.0, problem.start_station, []
    for stop in answer.stops:
        clock += problem.walking_s[stand, stop.station]
        stand = stop.station
        for line in stop.lines:
            expected.append(clock)
            clock += seconds[line.id] * problem.talk_factor
    assert times == [pytest.approx(at, abs=0.5) for at in expected]
    clock += problem.walking_s[stand, problem.end_station]
    assert answer.plan.end_s == pytest.approx(clock)
    end = re.search(r"^\[(\d+):(\d\d)\] End of the tour", autocue(answer), re.MULTILINE)
    assert end
    assert 60 * int(end[1]) + int(end[2]) == pytest.approx(clock, abs=0.5)
    assert answer.figures["talk_min"].value + answer.figures["walk_min"].value == pytest.approx(clock / 60)


def test_every_stop_stands_in_the_script_with_its_number(answer):
    heads = re.findall(r"^\[\d+:\d\d\] (\d+)\. (.+)$", autocue(answer), re.MULTILINE)
    assert heads == [(str(number), stop.name) for number, stop in enumerate(answer.stops, start=1)]


def test_without_the_solver_there_is_a_tour_and_it_says_how_it_was_made(family, catalogue, monkeypatch):
    monkeypatch.setattr(search_module, "SOLVER_THERE", False)
    composed = compose_tour(family[0], catalogue, family[1], TourWishes(available_min=40.0))
    answer = answer_of(composed, catalogue)
    assert complaints(composed.problem, answer.plan) == ()
    assert answer.plan.how == "greedy"
    assert _said(answer, "by_rule")
    assert answer.end_min <= 40.0


def test_every_figure_says_why(answer):
    for figure in answer.figures.values():
        assert figure.because.formula
        assert figure.label
    assert all(line.because.inputs or line.value_cost == 0 for line in answer.lines)


@pytest.mark.parametrize("name", ["H03", "H12", "H19", "H25"])
def test_the_tour_of_a_hire_of_the_demo_is_verified_and_beats_the_fixed_talk(depot, catalogue, name):
    found = hire_tour(depot, name, catalogue)
    answer = found.answer
    assert complaints(answer.composed.problem, answer.plan) == ()
    assert answer.figures["against_fixed_talk"].value >= 1.0
    assert answer.figures["left_cost"].value >= 0


def test_a_hire_in_another_vehicle_gets_the_tour_of_that_vehicle(depot, catalogue):
    found = hire_tour(depot, "H06", catalogue, TourWishes(available_min=40.0), vehicle="V2-03")
    assert found.vehicle == "V2-03"
    assert found.sheet.id == "V2"
    assert {stop.station for stop in found.answer.stops} <= {station.id for station in found.sheet.stations}
