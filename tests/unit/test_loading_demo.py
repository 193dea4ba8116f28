"""The traps of the demo depot, as a careful hand-over person answers them (common practice; loads from the sheets)."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest

from keyhook.basis import Input, Level
from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.dossier import depot_day, hire_loading, hire_swaps
from keyhook.loading.answer import common_ticket, loading_answer
from keyhook.loading.chance import load_spread, overload_chance
from keyhook.loading.items import Item, filling_items
from keyhook.loading.packing import lightening_task, lightest_change, steps
from keyhook.loading.settings import LoadingSettings
from keyhook.phrases import say

DEMO = Path(__file__).resolve().parents[2] / "demo"


@pytest.fixture(scope="module")
def depot():
    return read_depot(read_folder(DEMO), load_catalogue())


def _found(depot, hire):
    return hire_loading(depot, hire, load_catalogue())


def _codes(found, level=None):
    return {finding.code for finding in found.answer.findings if level in (None, finding.level)}


@pytest.mark.parametrize(
    ("hire", "total_kg", "rear_kg"),
    # Sums by hand of the depot's own sheet and what was told; 5 kg either way covers gas burnt and cassette carried.
    [("H10", 3388, 1843), ("H12", 3633, 2077), ("H15", 3582, None), ("H17", 4395, None), ("H20", 3462, 2015)],
)
def test_loads_are_the_sums_of_the_sheet(depot, hire, total_kg, rear_kg):
    worst = _found(depot, hire).answer.worst
    assert worst.loads.total_kg == pytest.approx(total_kg, abs=5)
    if rear_kg:
        assert worst.loads.rear_kg == pytest.approx(rear_kg, abs=5)


def test_the_family_of_h10_fits_but_not_with_a_full_fresh_tank(depot):
    found = _found(depot, "H10")
    assert found.answer.verdict == "fits"
    assert "loading.over_when_filled" in _codes(found, Level.WARN)


def test_h12_is_over_on_total_rear_axle_and_rack_and_cannot_keep_its_bikes(depot):
    found = _found(depot, "H12")
    assert {"loading.total_over", "loading.rear_over", "loading.rack_over"} <= _codes(found, Level.STOP)
    said = [say(step.code, step.values) for step in steps(found.change, found.sheet, found.answer)]
    assert any("3 of the bikes" in sentence for sentence in said)


def test_h13_learns_of_seats_and_of_a_crossing_booked_too_small(depot):
    found = _found(depot, "H13")
    assert {"loading.crossing_height", "loading.crossing_length", "loading.seat_order"} <= _codes(found)
    seats = {place.person: place.proposed for place in found.answer.seating.places}
    assert seats[3] == "cab"  # the ten-year-old needs a three-point belt for a booster under the 150 cm rule
    assert {seats[4], seats[5]} == {"row2_a", "row2_b"}


def test_the_named_driver_of_h14_may_not_drive_it_and_the_partner_must(depot):
    found = _found(depot, "H14")
    assert {line.person: line.answer.may for line in found.answer.drivers} == {0: "no", 1: "yes"}
    assert "loading.other_driver" in _codes(found, Level.STOP)


def test_the_chairs_of_h15_take_the_garage_over_its_plate(depot):
    assert "loading.store_over" in _codes(_found(depot, "H15"), Level.STOP)


def test_the_infant_of_h16_already_sits_where_a_support_leg_can_stand(depot):
    found = _found(depot, "H16")
    assert found.answer.seating.possible
    assert "loading.wrong_seat" not in _codes(found)


def test_the_sixteen_year_old_of_h17_is_moved_off_the_sideways_seat(depot):
    found = _found(depot, "H17")
    seats = {place.person: place.proposed for place in found.answer.seating.places}
    assert seats[2] != "side"
    assert seats[1] == "side" or seats[0] == "side"


def test_h20_is_over_on_the_rear_axle_alone_and_moving_things_forward_cures_it(depot):
    found = _found(depot, "H20")
    stops = _codes(found, Level.STOP)
    assert "loading.rear_over" in stops
    assert "loading.total_over" not in stops
    assert found.change.moves
    assert not found.change.left


def test_a_ticket_with_a_hidden_driver_is_found_and_left_out(depot):
    found = _found(depot, "H10")
    outliers = [fit for fit in found.answer.calibration.fits if fit.outlier]
    assert [fit.ticket.id for fit in outliers] == ["W4-02-2025-11"]
    assert outliers[0].residual_sd > 5


def test_where_tyres_carry_less_than_the_plate_they_are_the_limit(depot):
    found = _found(depot, "H18")
    assert found.answer.limits.rear_binds == "tyres"
    assert found.answer.limits.rear_kg == 1900  # two tyres of load index 106, 950 kg each


def test_the_swap_table_puts_a_vehicle_that_carries_h12_first_and_names_what_stands_against_others(depot):
    lines = hire_swaps(depot, "H12", load_catalogue())
    assert len(lines) == 17
    assert [line.stops for line in lines] == sorted(line.stops for line in lines)
    assert next(line for line in lines if line.vehicle == "W4-06").stops >= 3


def test_the_changeover_friday_has_nine_back_and_ten_out(depot):
    found = depot_day(depot, dt.date(2026, 7, 10), load_catalogue())
    assert (len(found.returns), len(found.departures)) == (9, 10)


@pytest.mark.parametrize("hire", [f"H{n}" for n in range(10, 26)])
def test_every_figure_says_why_and_every_finding_has_a_sentence(depot, hire):
    answer = _found(depot, hire).answer
    for figure in answer.figures.values():
        assert figure.because.formula
        assert figure.key in answer.figures
    for finding in answer.findings:
        assert "{" not in say(finding.code, finding.values)
        assert set(finding.figures) <= set(answer.figures)


def test_every_loading_carries_the_caution(depot):
    assert "loading.caution" in _codes(_found(depot, "H10"))


def test_a_dog_counts_like_anybody_aboard(depot):
    found = _found(depot, "H18")
    dogs = [item for item in found.answer.items if item.key.startswith("pet.")]
    assert [item.mass_kg for item in dogs] == [28]


def test_where_nobody_told_what_they_bring_the_usual_bags_and_food_are_reckoned(depot):
    """Common practice: 22 kg of bags a person for a fortnight, 5 kg of food each to start with."""
    hire = depot.hire("H13").model_copy(update={"loads": ()})
    answer = loading_answer(depot.built("O6-02"), hire, load_catalogue())
    usual = [item for item in answer.items if item.key.startswith("untold.")]
    assert sum(item.mass_kg for item in usual) == 6 * 22 + 6 * 5
    assert "loading.no_loads_told" in {finding.code for finding in answer.findings}


def test_a_hire_that_fits_by_weight_and_has_the_wrong_driver_is_not_called_fitting(depot):
    answer = _found(depot, "H14").answer
    assert (answer.verdict, answer.overall) == ("fits", "stopped")


def test_a_store_over_its_limit_alone_is_answered_with_a_move(depot):
    """Two people with 140 kg and the chairs in a garage plated for 150 kg: the axles hold, the plate does not."""
    hire = depot.hire("H10")
    loads = tuple(load.model_copy(update={"mass_kg": 140}) if load.store == "garage" else load for load in hire.loads)
    sheet = depot.built("W4-02")
    light = hire.model_copy(update={"loads": loads, "party": hire.party[:2], "options": ("outdoor_set",)})
    answer = loading_answer(sheet, light, load_catalogue())
    assert answer.verdict == "fits"
    assert answer.wants_repacking
    change = lightest_change(sheet, answer)
    assert change.moves
    assert not change.left


def test_the_steps_say_what_binds(depot):
    found = _found(depot, "H12")
    said = [say(step.code, step.values) for step in steps(found.change, found.sheet, found.answer)]
    assert any(sentence.startswith("What binds: total while") for sentence in said)


@pytest.mark.parametrize("hire", ["H12", "H13", "H15", "H17", "H20", "H23"])
@pytest.mark.parametrize("z_sd", [1.0, 1.645])
def test_room_kept_for_the_spread_keeps_the_chance_of_each_limit_that_was_asked_for(depot, hire, z_sd):
    """Normal table: one standard deviation leaves 15.87 %, 1.645 leave 5 % on each limit; never more."""
    settings = LoadingSettings(z_sd=z_sd)
    sheet = depot.built(depot.hire(hire).vehicle)
    answer = loading_answer(sheet, depot.hire(hire), load_catalogue(), settings=settings)
    change = lightest_change(sheet, answer, settings)
    if not change.possible:
        assert change.short_by_kg > 0
        return
    for state in answer.planned:
        liquids = filling_items(sheet, state.state.filling, common_ticket(answer.calibration), settings)
        aboard = [
            item for item in (*answer.items, *liquids) if item.group not in {"bags", "bikes"} and item.key != "rack"
        ]
        aboard = [item for item in aboard if item.key != "tank.fresh"] + _kept(sheet, answer, change, state, settings)
        spread = load_spread(answer.calibration.base, answer.calibration.variance, aboard, sheet.wheelbase_m, settings)
        limits = answer.limits
        chance = overload_chance(spread, front_kg=limits.front_kg, rear_kg=limits.rear_kg, total_kg=limits.total_kg)
        worst = max(chance.front_probability, chance.rear_probability, chance.total_probability)
        assert worst <= {1.0: 0.1587, 1.645: 0.05}[z_sd] + 2e-3, state.state.key


def _kept(sheet, answer, change, state, settings):
    """Return things, bikes, rack and water as they ride after the change, each with its share of the spread."""
    task = lightening_task(sheet, answer, settings)
    stores = {store.id: store.x_m for store in sheet.stores}
    gone, to = {thing.key for thing in change.left}, {thing.key: where for thing, _, where in change.moves}
    items = {item.key: item for item in answer.items}
    kept = []
    for thing in task.things:
        if thing.key in gone:
            continue
        whole = items[thing.key if thing.key in items else thing.key.rsplit(".", 1)[0]]
        share = thing.mass_kg / whole.mass_kg if whole.mass_kg else 0
        x_m = stores[to[thing.key]] if thing.key in to else thing.x_m
        kept.append(replace(whole, mass_kg=thing.mass_kg, sd_kg=whole.sd_kg * share, x_m=x_m))
    fresh = sheet.tank("fresh")
    if state.state.filling.fresh_l == answer.fresh_l and fresh:
        origin = Input("water", change.water_l, "l")
        sd_kg = change.water_l * settings.liquids.own_sd_share
        kept.append(Item("tank.fresh", "fresh", "liquids", change.water_l, fresh.x_m, sd_kg, origin))
    return kept
