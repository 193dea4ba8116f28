"""Add a fitting to a sheet and every answer changes; take it off and nothing is said of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.errors import UnknownName
from keyhook.hire.party import party_facts
from keyhook.vehicle.build_sheet import Fitted
from keyhook.vehicle.composition import (
    PartyFacts,
    charges,
    inspections,
    kit_for,
    loads,
    symptoms,
    teach_points,
    turn_checks,
    uses,
)

CATALOGUE = load_catalogue()
YARD = read_depot(read_folder(Path(__file__).resolve().parents[2] / "demo"), CATALOGUE)
ANSWERS = [teach_points, turn_checks, symptoms, inspections, loads, charges]
COUPLE = PartyFacts(persons=2, days=7)


def _without(sheet, fitting):
    return sheet.model_copy(update={"fittings": tuple(f for f in sheet.fittings if f.fitting != fitting)})


def _count(lines, item):
    return {line.item.id: line.count for line in lines}.get(item, 0)


@pytest.mark.parametrize("answer", ANSWERS, ids=lambda answer: answer.__name__)
def test_adding_a_fitting_adds_to_every_answer_and_changes_nothing_else(answer):
    # Q2 has no air conditioner in the demo; the catalogue knows it with all its parts.
    before = YARD.sheet("Q2")
    fitted = Fitted(fitting="roof_aircon", station="bed", find_it=99)
    after = before.model_copy(update={"fittings": (*before.fittings, fitted)})
    old, new = answer(before, CATALOGUE), answer(after, CATALOGUE)
    added = new[len(old) :]
    assert new[: len(old)] == old
    knows = {"charges": CATALOGUE.fittings["roof_aircon"].charges}.get(answer.__name__, ("something",))
    assert bool(added) == bool(knows)
    assert all((entry.fitting, entry.station, entry.find_it) == ("roof_aircon", "bed", 99) for entry in added)


@pytest.mark.parametrize("sheet_id", sorted(YARD.sheets))
@pytest.mark.parametrize("answer", [*ANSWERS, uses], ids=lambda answer: answer.__name__)
def test_nothing_is_said_of_equipment_that_is_not_fitted(answer, sheet_id):
    sheet = YARD.sheet(sheet_id)
    numbers = {fitted.fitting: fitted.find_it for fitted in sheet.fittings}
    for entry in answer(sheet, CATALOGUE):
        assert numbers[entry.fitting] == entry.find_it


def test_a_fitting_brings_its_kit_and_takes_it_away():
    crank = ("awning_crank", "tie_down", "peg_set")
    sheet = YARD.sheet("W4")
    with_awning, without = kit_for(sheet, CATALOGUE, COUPLE), kit_for(_without(sheet, "awning"), CATALOGUE, COUPLE)
    assert [_count(with_awning, item) for item in crank] == [1, 1, 1]
    assert [_count(without, item) for item in crank] == [0, 0, 0]


def test_no_hook_up_lead_goes_out_with_a_vehicle_that_has_no_inlet():
    sheet = _without(YARD.sheet("W4"), "hookup")
    assert _count(kit_for(sheet, CATALOGUE, COUPLE, tags=("abroad",)), "hookup_lead") == 0
    assert _count(kit_for(sheet, CATALOGUE, COUPLE, tags=("abroad",)), "hookup_adapter") == 0


def test_a_piece_that_belongs_to_no_fitting_goes_with_every_vehicle():
    bare = YARD.sheet("W4").model_copy(update={"fittings": ()})
    assert _count(kit_for(bare, CATALOGUE, COUPLE), "plate") == 2
    assert _count(kit_for(bare, CATALOGUE, COUPLE), "key_set") == 0


def test_kit_follows_the_party_the_options_and_the_trip():
    # Counts by hand from the rules of the kit list: a chair a person, a vest a belt, three straps a bike, a protector a
    # berth; 0.22 doses a person-day is 1.54 in a week for one, at least 2, and 21.56 in a fortnight for seven, so 22.
    sheet = YARD.sheet("O6")
    party = PartyFacts(persons=7, days=14, bikes=3, toddlers=1, booster_children=2, infants=1)
    lines = kit_for(sheet, CATALOGUE, party, ("outdoor_set", "child_seat", "booster"), ("bikes",))
    counts = {line.item.id: line.count for line in lines}
    assert (counts["camp_chair"], counts["camp_table"], counts["vest"], counts["bike_straps"]) == (7, 1, 6, 9)
    assert (counts["child_seat_toddler"], counts["child_seat_infant"], counts["booster"]) == (1, 1, 2)
    assert (counts["mattress_cover"], counts["toilet_fluid"]) == (6, 22)
    assert _count(kit_for(sheet, CATALOGUE, PartyFacts(persons=1, days=7)), "toilet_fluid") == 2
    assert _count(lines, "bedding") == 0


def test_as_many_cylinders_go_as_the_locker_holds():
    assert _count(kit_for(YARD.sheet("O6"), CATALOGUE, COUPLE), "gas_cylinder") == 2
    assert _count(kit_for(YARD.sheet("V2"), CATALOGUE, COUPLE), "gas_cylinder") == 1
    assert _count(kit_for(YARD.sheet("W4"), CATALOGUE, COUPLE), "gas_cylinder") == 0


def test_two_high_beds_have_two_nets():
    # O6 has bunks and an overcab bed: a net and a ladder each.
    lines = kit_for(YARD.sheet("O6"), CATALOGUE, COUPLE)
    assert (_count(lines, "cargo_net"), _count(lines, "ladder")) == (2, 2)


def test_stock_that_stays_in_the_yard_is_not_packed():
    assert _count(kit_for(YARD.sheet("W4"), CATALOGUE, COUPLE), "window_cleaner_acrylic") == 0


def test_kit_says_why_it_goes_and_where_it_belongs():
    line = next(line for line in kit_for(YARD.sheet("W4"), CATALOGUE, COUPLE) if line.item.id == "awning_crank")
    awning = next(fitted for fitted in YARD.sheet("W4").fittings if fitted.fitting == "awning")
    assert (line.because, line.fitting, line.find_it) == ("fitting:awning", "awning", awning.find_it)
    assert line.mass_kg == line.item.mass_kg


def test_seats_for_children_are_counted_by_age_and_height():
    # H08: 5 and 3 years old: a booster and a child seat. H16: 4 years and 8 months: a booster and a carrier.
    # H13 goes abroad, where 150 cm is asked for: 10 years (138 cm) and 7 (122 cm) on boosters, 13 no more.
    seats = {name: party_facts(YARD.hire(name)) for name in ("H08", "H16", "H13", "H10")}
    assert [(f.infants, f.toddlers, f.booster_children) for f in seats.values()] == [
        (0, 1, 1),
        (1, 0, 1),
        (0, 1, 2),
        (0, 0, 2),
    ]
    assert (seats["H13"].persons, seats["H13"].days, seats["H13"].bikes) == (6, 14, 4)


def test_a_fitting_that_the_catalogue_does_not_know_is_an_error():
    sheet = YARD.sheet("W4")
    strange = sheet.model_copy(update={"fittings": (Fitted(fitting="sauna", station="bed", find_it=1),)})
    with pytest.raises(UnknownName, match="sauna"):
        teach_points(strange, CATALOGUE)
