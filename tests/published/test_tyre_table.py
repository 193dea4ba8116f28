"""The tyre tables of the catalogue against public copies in other units and against the law behind the numbers."""

from __future__ import annotations

import tomllib
from itertools import pairwise
from pathlib import Path

import pytest

from keyhook.catalogue import load_catalogue
from keyhook.units import KM_PER_MILE, pounds

HERE = Path(__file__).parent
CASES = tomllib.loads((HERE / "tyre_table.toml").read_text(encoding="utf-8"))
TABLE = load_catalogue().load_index_kg
SPEEDS = load_catalogue().speed_symbol_km_h


def _rows(case):
    return [(name, value) for name, value in CASES[case].items() if name == name.upper()]


def test_every_case_names_a_source_that_is_written_down():
    pages = (HERE.parents[1] / "docs" / "sources").glob("*.toml")
    known = {key for page in pages for key in tomllib.loads(page.read_text(encoding="utf-8"))}
    assert {case["source"] for case in CASES.values()} <= known


@pytest.mark.parametrize(("index", "pounds_a_tyre"), _rows("load_index_pounds"))
def test_the_load_index_is_the_published_one_in_pounds(index, pounds_a_tyre):
    assert abs(pounds(TABLE[int(index)]) - pounds_a_tyre) <= CASES["load_index_pounds"]["within_lb"]


@pytest.mark.parametrize(("index", "mass_kg"), _rows("load_index_kg"))
def test_the_load_index_is_the_published_one_in_kilograms(index, mass_kg):
    assert TABLE[int(index)] == mass_kg


def test_the_two_copies_together_hold_every_index_of_the_table():
    assert {int(index) for case in ("load_index_pounds", "load_index_kg") for index, _ in _rows(case)} == set(TABLE)


def test_the_table_follows_the_preferred_numbers_it_was_made_from():
    law = CASES["preferred_numbers"]
    for index, mass_kg in TABLE.items():
        by_law_kg = law["at_zero_kg"] * 10 ** (index / law["indices_a_decade"])
        assert mass_kg == pytest.approx(by_law_kg, rel=law["within_share"]), index


def test_a_higher_index_always_carries_more_and_none_is_left_out():
    for (index, mass_kg), (following, more_kg) in pairwise(sorted(TABLE.items())):
        assert following == index + 1
        assert more_kg > mass_kg


@pytest.mark.parametrize(("symbol", "mph"), _rows("speed_symbol_mph"))
def test_the_speed_symbol_is_the_published_one_in_miles_an_hour(symbol, mph):
    assert abs(SPEEDS[symbol] / KM_PER_MILE - mph) <= CASES["speed_symbol_mph"]["within_mph"]


def test_the_speed_symbols_are_the_published_ones_in_kilometres_an_hour():
    assert dict(_rows("speed_symbol_km_h")) == dict(SPEEDS)


def test_the_h_stands_between_u_and_v():
    assert SPEEDS["U"] < SPEEDS["H"] < SPEEDS["V"]
