"""The whole table of tyres and what follows from it for an axle, source beside each case."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from keyhook.catalogue import load_catalogue

HERE = Path(__file__).parent
CASES = {case["id"]: case for case in tomllib.loads((HERE / "tyres.toml").read_text(encoding="utf-8"))["case"]}


def _capacity_kg():
    return load_catalogue().load_index_kg


def test_every_case_names_a_source_that_is_written_down():
    pages = (HERE.parents[1] / "docs" / "sources").glob("*.toml")
    known = {key for page in pages for key in tomllib.loads(page.read_text(encoding="utf-8"))}
    assert {case["source"] for case in CASES.values()} <= known


def test_every_load_index_carries_the_published_kilograms_and_none_is_left_out():
    assert dict(_capacity_kg()) == {int(index): kg for index, kg in CASES["T01"]["expect"].items()}


def test_every_speed_symbol_stands_for_the_published_speed():
    assert dict(load_catalogue().speed_symbol_km_h) == CASES["T02"]["expect"]


@pytest.mark.parametrize("name", ["T04", "T05", "T06"])
def test_one_tyre_carries_what_its_index_says(name):
    assert _capacity_kg()[CASES[name]["given"]["index"]] == CASES[name]["expect"]


def test_four_twinned_tyres_carry_four_times_the_second_index():
    given = CASES["T08"]["given"]
    assert given["tyres"] * _capacity_kg()[given["index"]] == CASES["T08"]["expect"]


def test_the_least_index_for_an_axle_of_two_tyres_carries_it_exactly_and_the_one_below_does_not():
    given, index = CASES["T09"]["given"], CASES["T09"]["expect"]
    assert given["tyres"] * _capacity_kg()[index] == given["axle_kg"]
    assert given["tyres"] * _capacity_kg()[index - 1] < given["axle_kg"]
