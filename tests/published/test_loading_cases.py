"""Masses, axles, licences, speed, belts, tyres and liquids against published and derived cases, source beside each."""

from __future__ import annotations

import datetime as dt
import tomllib
from pathlib import Path

import pytest

from keyhook.catalogue import load_catalogue
from keyhook.errors import BadInput
from keyhook.hire.hire import Licence, Person
from keyhook.loading.licence import Driven, may_drive
from keyhook.loading.rules_of_the_road import least_pay_mass_kg, speed_limits
from keyhook.loading.seating import restraint_for, who_answers, why_not
from keyhook.loading.settings import DIESEL_KG_L, EXHAUST_FLUID_KG_L
from keyhook.loading.statics import axle_loads, axle_loads_of
from keyhook.loading.tyres import LEAST_TREAD_MM, axle_capacity_kg, least_index, made_in
from keyhook.vehicle.build_sheet import Seat

HERE = Path(__file__).parent
CASES = tomllib.loads((HERE / "loading.toml").read_text(encoding="utf-8"))["case"]
G_OF_THE_BOOK = 9.81


def _of(*topics):
    return [pytest.param(case, id=case["id"]) for case in CASES if case["topic"] in topics]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["id"])
def test_every_case_names_a_source_that_is_written_down(case):
    pages = (HERE.parents[1] / "docs" / "sources").glob("*.toml")
    known = {key for page in pages for key in tomllib.loads(page.read_text(encoding="utf-8"))}
    assert case["source"] in known


@pytest.mark.parametrize("case", _of("mass"))
def test_the_least_pay_mass_is_the_published_one(case):
    given = case["given"]
    assert least_pay_mass_kg(given["n"], given["length_m"]) == pytest.approx(case["expect"], abs=case["within"])


@pytest.mark.parametrize("case", _of("axle"))
def test_axle_loads_are_those_of_the_textbook(case):
    given, expect, within = case["given"], case["expect"], case["within"]
    if "items_kg_m" in given:
        found = axle_loads_of(given["items_kg_m"], given["wheelbase_m"])
        assert found.front_kg == pytest.approx(expect["front_kg"], abs=within)
        assert found.rear_kg == pytest.approx(expect["rear_kg"], abs=within)
    elif "behind_rear_m" in given:
        found = axle_loads(given["mass_kg"], given["wheelbase_m"] + given["behind_rear_m"], given["wheelbase_m"])
        if isinstance(expect, dict):
            assert found.front_kg == pytest.approx(expect["front"], abs=within)
            assert found.rear_kg == pytest.approx(expect["rear"], abs=within)
        else:
            assert found.front_kg == pytest.approx(expect, abs=within)
    else:  # the force at each front wheel of the pickup with both crates
        crates = next(other for other in CASES if other["id"] == "A02")["given"]
        front_kg = axle_loads_of(crates["items_kg_m"], crates["wheelbase_m"]).front_kg
        force_kn = front_kg * G_OF_THE_BOOK / given["wheels"] / 1000
        assert force_kn == pytest.approx(expect, abs=within)


@pytest.mark.parametrize("case", _of("licence"))
def test_the_licence_answer_is_the_one_of_the_law(case):
    given = case["given"]
    day = dt.date.fromisoformat(given.get("today", "2026-06-01"))
    categories = ["B_automatic" if given.get("auto_only") else "B"]
    if "c1_test" in given:
        categories.append("C1")
    if given.get("category") == "unknown":
        categories = []
    licence = Licence(
        person=0,
        categories=categories,
        born_on=given.get("born"),
        car_test_on=given.get("car_test"),
        c1_restored_at_70=given.get("retained_c1", False),
    )
    driven = Driven(
        mam_kg=given["mam"],
        passenger_seats=given.get("seats", 3),
        manual=given.get("gearbox") != "automatic",
        electric=given.get("zev", False),
        trailer_mam_kg=given.get("trailer", 0),
    )
    expect = "check" if case["expect"].startswith("cannot decide") else case["expect"]
    assert may_drive(licence, driven, day).may == expect


@pytest.mark.parametrize("case", _of("speed"))
def test_speed_limits_are_those_of_the_act(case):
    given = case["given"]
    found = speed_limits(given["unladen_kg"], given["length_m"], trailer=given["trailer"])
    assert [found.built_up_mph, found.single_mph, found.dual_mph, found.motorway_mph] == case["expect"]


@pytest.mark.parametrize("case", _of("belt"))
def test_belts_and_restraints_are_those_of_the_regulations(case):
    given, expect = case["given"], case["expect"]
    if given.get("seat") == "side":
        side = Seat(id="side", x_m=2.0, y_m=0.5, belt="lap", facing="sideways")
        person = Person(age_years=given["age"], height_cm=given["height_cm"])
        assert why_not(person, side, 135) == "sideways_child"
        return
    restraint = restraint_for(given["age"], given["height_cm"], 135)
    assert ("child restraint" if restraint != "none" else "adult belt") in expect
    assert {"driver": "driver's duty", "own": "own duty"}[who_answers(given["age"])] in expect


@pytest.mark.parametrize("case", _of("tyre"))
def test_tyres_are_read_as_the_tables_say(case):
    given, expect, table = case["given"], case["expect"], load_catalogue().load_index_kg
    if "li" in given:
        assert axle_capacity_kg(given["li"], 1, table) == expect
    elif "dual" in given:
        assert axle_capacity_kg(given["dual"], given["tyres"], table) == expect
    elif "axle_kg" in given:
        assert least_index(given["axle_kg"], 2, table) == expect
    elif "code" in given:
        with pytest.raises(BadInput, match=given["code"]):
            made_in(given["code"])
    else:
        assert expect == LEAST_TREAD_MM


@pytest.mark.parametrize(("code", "year", "week"), [("3208", 2008, 32), ("2501", 2001, 25), ("0712", 2012, 7)])
def test_a_date_code_is_week_and_year(code, year, week):
    """Examples of 64 FR 36807 and handbook reprints (source key tyre-date-code)."""
    assert made_in(code).isocalendar()[:2] == (year, week)


@pytest.mark.parametrize("case", _of("fuel"))
def test_exhaust_fluid_weighs_what_the_standard_says(case):
    low, high = case["expect"]
    assert low <= case["given"]["L"] * EXHAUST_FLUID_KG_L <= high


def test_diesel_weighs_within_the_span_of_its_standard():
    """EN 590: 820 to 845 kg/m3 at 15 C (source key en-590)."""
    assert 0.820 <= DIESEL_KG_L <= 0.845


@pytest.mark.parametrize(
    ("mass_kg", "x_m", "wheelbase_m", "front_kg", "rear_kg"),
    # Hand cases of plain statics: bikes behind the axle, water before it, a ball load, a load on the tandem's middle.
    [
        (60, 5.2, 4.0, -18, 78),
        (100, 2.8, 4.0, 30, 70),
        (75, 6.3, 4.0, -43.125, 118.125),
        (60, 6.0, 4.4, -21.818, 81.818),
    ],
)
def test_hand_cases_of_statics(mass_kg, x_m, wheelbase_m, front_kg, rear_kg):
    found = axle_loads(mass_kg, x_m, wheelbase_m)
    assert (found.front_kg, found.rear_kg) == (pytest.approx(front_kg, abs=5e-4), pytest.approx(rear_kg, abs=5e-4))
