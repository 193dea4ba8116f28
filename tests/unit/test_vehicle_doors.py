"""Walking: straight inside, round the body outside, through doors between."""

from __future__ import annotations

import math
from itertools import permutations
from pathlib import Path

import pytest

from keyhook.basis import Basis
from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.errors import UnknownName
from keyhook.vehicle.build_sheet import Door, Room, Station
from keyhook.vehicle.doors import (
    CORNER_M,
    INNER_DOOR_S,
    OUTER_DOOR_S,
    WALKING_INPUTS,
    WALKING_SPEED_M_S,
    walking_distance_m,
    walking_map,
    walking_time_s,
)

YARD = read_depot(read_folder(Path(__file__).resolve().parents[2] / "demo"), load_catalogue())


def _station(name, x_m, y_m, room=None, side="nearside"):
    return Station(id=name, name=name, side="inside" if room else side, x_m=x_m, y_m=y_m, room=room)


def _box(*, doors=(), stations=()):
    """A body of 6 by 2 m whose front is at x = -1, with a room in front and one behind."""
    size = YARD.sheet("V2").dimensions.model_copy(update={"length_m": 6.0, "width_m": 2.0, "front_overhang_m": 1.0})
    rooms = (
        Room(id="fore", name="fore", x_from_m=0, x_to_m=2, y_from_m=-1, y_to_m=1),
        Room(id="aft", name="aft", x_from_m=2, x_to_m=5, y_from_m=-1, y_to_m=1),
    )
    return YARD.sheet("V2").model_copy(
        update={"dimensions": size, "rooms": rooms, "doors": doors, "stations": stations}
    )


def test_on_one_side_one_walks_straight():
    # A right triangle of 3 and 4 metres.
    sheet = _box(stations=(_station("a", 0, -1), _station("b", 4, -4)))
    assert walking_distance_m(sheet, "a", "b") == pytest.approx(5)
    assert walking_time_s(sheet, "a", "b") == pytest.approx(5 / WALKING_SPEED_M_S)


def test_from_side_to_side_one_walks_round_the_nearer_end():
    # From the middle of the nearside wall to the middle of the offside wall, 2 m from the front and 4 m from the
    # rear: round the front corners, by Pythagoras, with CORNER_M of room left at each.
    sheet = _box(stations=(_station("a", 1, -1), _station("b", 1, 1, side="offside")))
    to_corner = math.hypot(2 + CORNER_M, CORNER_M)
    assert walking_distance_m(sheet, "a", "b") == pytest.approx(2 * to_corner + 2 + 2 * CORNER_M)


def test_through_doors_one_walks_from_door_to_door_and_they_take_time():
    doors = (
        Door(id="in", name="in", joins=("outside", "fore"), x_m=1, y_m=-1),
        Door(id="way", name="way", joins=("fore", "aft"), x_m=2, y_m=0),
    )
    sheet = _box(doors=doors, stations=(_station("a", 1, -2), _station("b", 4, 0, "aft")))
    walk = walking_map(sheet).walk("a", "b")
    assert walk.distance_m == pytest.approx(1 + math.sqrt(2) + 2)
    assert walk.doors == ("in", "way")
    assert walk.points == ((1, -2), (1, -1), (2, 0), (4, 0))
    assert walk.duration_s == pytest.approx(walk.distance_m / WALKING_SPEED_M_S + OUTER_DOOR_S + INNER_DOOR_S)


def test_a_station_that_no_door_reaches_has_no_way_and_says_so():
    sheet = _box(stations=(_station("a", 1, -2), _station("b", 4, 0, "aft")))
    with pytest.raises(UnknownName, match="a to b"):
        walking_distance_m(sheet, "a", "b")


def test_a_roof_station_is_seen_from_its_nearer_side():
    sheet = _box(stations=(_station("a", 3, -1.6), _station("up", 3, -0.5, side="roof")))
    assert walking_distance_m(sheet, "a", "up") == pytest.approx(0)


@pytest.mark.parametrize("sheet_id", sorted(YARD.sheets))
def test_walks_obey_the_laws_of_distance(sheet_id):
    # A metric: nothing to itself, the same both ways, no detour is shorter than the straight walk.
    sheet = YARD.sheet(sheet_id)
    walks = walking_map(sheet)
    stations = [station.id for station in sheet.stations]
    at = {station.id: (station.x_m, station.y_m) for station in sheet.stations}
    for a in stations:
        assert walks.walk(a, a).duration_s == 0
    for a, b in permutations(stations, 2):
        there, back = walks.walk(a, b), walks.walk(b, a)
        assert there.duration_s == pytest.approx(back.duration_s)
        assert there.distance_m >= math.dist(at[a], at[b]) - 1e-9
    for a, b, c in permutations(stations[::2], 3):
        assert walks.walk(a, c).duration_s <= walks.walk(a, b).duration_s + walks.walk(b, c).duration_s + 1e-9


@pytest.mark.parametrize("sheet_id", sorted(YARD.sheets))
def test_no_walk_leads_through_a_garage_or_a_wall(sheet_id):
    sheet = YARD.sheet(sheet_id)
    under = {room.id for room in sheet.rooms if room.under}
    shut = {door.id for door in sheet.doors if under & set(door.joins)}
    assert shut or sheet_id == "Q2"
    for walk in walking_map(sheet).walks.values():
        assert not shut & set(walk.doors)


def test_from_the_living_door_to_the_bed_one_goes_in_by_the_living_door():
    assert walking_map(YARD.sheet("W4")).walk("living_door_outside", "bed").doors[0] == "living_door"


def test_what_walking_rests_on_is_said():
    assert {entry.basis for entry in WALKING_INPUTS} == {Basis.ASSUMPTION}
