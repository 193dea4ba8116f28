"""A sheet changed in the hand is judged like one in a file."""

from __future__ import annotations

from pathlib import Path

import pytest

from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.vehicle.build_sheet import Door, Room, as_built
from keyhook.vehicle.plan_view import Rectangle, berth_plan, body_of
from keyhook.vehicle.soundness import sheet_flaws, unknown

CATALOGUE = load_catalogue()
YARD = read_depot(read_folder(Path(__file__).resolve().parents[2] / "demo"), CATALOGUE)
W4 = YARD.sheet("W4")


def _codes(sheet):
    return [(flaw.code, flaw.loc[0]) for flaw in sheet_flaws(sheet, CATALOGUE)]


@pytest.mark.parametrize("vehicle_id", sorted(YARD.vehicles))
def test_the_demo_vehicles_are_sound_as_built(vehicle_id):
    assert sheet_flaws(YARD.built(vehicle_id), CATALOGUE) == []


def test_a_room_without_a_door_is_told():
    doors = tuple(door for door in W4.doors if door.id != "washroom_door")
    assert ("no-way-in", "rooms") in _codes(W4.model_copy(update={"doors": doors}))


def test_a_living_door_on_the_wrong_side_is_told():
    assert ("not-sound", "doors") in _codes(W4.model_copy(update={"living_door_side": "offside"}))


def test_a_door_in_the_middle_of_a_room_is_told():
    middle = Door(id="odd", name="odd", joins=("lounge", "kitchen"), x_m=2.0, y_m=0.0)
    assert ("cannot-lie-there", "doors") in _codes(W4.model_copy(update={"doors": (*W4.doors, middle)}))


def test_a_room_under_another_may_cover_its_floor_and_must_name_it():
    rooms = tuple(room.model_copy(update={"under": None}) for room in W4.rooms)
    assert ("cannot-lie-there", "rooms") in _codes(W4.model_copy(update={"rooms": rooms}))
    cellar = Room(id="cellar", name="cellar", x_from_m=1, x_to_m=2, y_from_m=-1, y_to_m=1, under="attic")
    assert ("cannot-lie-there", "rooms") in _codes(W4.model_copy(update={"rooms": (*W4.rooms, cellar)}))


def test_rooms_that_only_touch_share_no_floor():
    one, other = Rectangle(0, 1, 0, 1), Rectangle(1, 2, 0, 1)
    assert one.shared_area_m2(other) == 0
    assert one.shared_area_m2(Rectangle(0.5, 2, 0.5, 2)) == pytest.approx(0.25)


def test_a_turned_bed_lies_across():
    bed = next(berth for berth in YARD.sheet("V2").berths if berth.id == "rear_cross")
    plan = berth_plan(bed)
    assert plan.y_to_m - plan.y_from_m == pytest.approx(bed.length_m)
    assert plan.within(body_of(YARD.sheet("V2")))


def test_a_name_that_is_near_a_known_one_is_offered():
    assert unknown((), "store", "garrage", ["garage", "kitchen"]).todo == "Did you mean garage?"
    assert unknown((), "store", "xyz", ["garage", "kitchen"]).todo == "Use one of: garage, kitchen"
    assert "none is known" in unknown((), "store", "xyz", []).todo


def test_a_vehicle_brings_its_own_tickets_and_tyre_dates():
    own = as_built(W4, YARD.vehicle("W4-02"))
    assert [ticket.id for ticket in own.tickets] == ["W4-02-2025-11", "W4-02-2026-03", "W4-02-2026-05"]
    assert {tyre.date_code for tyre in own.tyres} == {"5022"}
    assert as_built(W4, YARD.vehicle("W4-06")).tickets == W4.tickets
