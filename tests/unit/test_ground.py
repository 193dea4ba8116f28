"""Errors, money, units, basis and the phrase book."""

from __future__ import annotations

import ast
import tomllib
from decimal import Decimal
from pathlib import Path

import pytest

import keyhook
from keyhook import phrases
from keyhook.basis import Answer, Because, Figure, Finding, Level
from keyhook.errors import BadInput, BrokenFolder, KeyhookError, Problem, UnknownName
from keyhook.money import MINOR_DIGITS, Money
from keyhook.units import feet_inches_up, miles, pounds

PURE = Path(keyhook.__file__).parent


def test_an_error_says_what_was_wrong_the_value_and_what_to_do():
    error = BadInput("A mass cannot be negative", seen=-3, todo="Give the mass in kilograms")
    assert str(error) == "A mass cannot be negative (saw -3). Give the mass in kilograms"


def test_every_error_of_the_family_has_its_own_code():
    family = _subclasses(KeyhookError)
    codes = [member.code for member in family]
    assert len(codes) == len(set(codes)), codes


def test_a_broken_folder_lists_every_problem_in_file_order():
    second = Problem("b.toml", 2, "x", "wrong", "1", "Mend it.")
    first = Problem("a.toml", 9, "y", "wrong", "2", "Mend it.")
    lines = str(BrokenFolder([second, first])).splitlines()
    assert lines[1].strip().startswith("a.toml:9")
    assert lines[2].strip().startswith("b.toml:2")


@pytest.mark.parametrize(
    ("currency", "digits"),
    # ISO 4217 minor units; JPY has none, BHD three (source key iso-4217-minor-units).
    [("GBP", 2), ("EUR", 2), ("USD", 2), ("JPY", 0), ("BHD", 3)],
)
def test_minor_digits_are_those_of_iso_4217(currency, digits):
    assert MINOR_DIGITS[currency] == digits


def test_money_rounds_half_away_from_zero_once_and_refuses_floats():
    assert Money.of(Decimal("80.675"), "GBP") == Money("GBP", 8068)
    assert Money.of(Decimal("-0.005"), "GBP") == Money("GBP", -1)
    with pytest.raises(BadInput, match="float"):
        Money.of(0.1, "GBP")


def test_money_of_two_currencies_does_not_add():
    with pytest.raises(BadInput, match="GBP and EUR"):
        Money("GBP", 1) + Money("EUR", 1)


def test_money_prints_with_the_digits_of_its_currency():
    assert [str(Money("GBP", 8068)), str(Money("JPY", 500)), str(Money("BHD", 1234))] == [
        "GBP 80.68",
        "JPY 500",
        "BHD 1.234",
    ]


@pytest.mark.parametrize(
    ("height_m", "feet", "inches"),
    # Exact by the international foot of 0.3048 m: 3.048 m is 10 ft; 3.15 m is 10 ft 4.02 in, so 10 ft 5 in.
    [(3.048, 10, 0), (3.15, 10, 5), (2.62, 8, 8), (2.98, 9, 10)],
)
def test_a_height_is_rounded_up_to_the_next_inch(height_m, feet, inches):
    assert feet_inches_up(height_m) == (feet, inches)


def test_pounds_and_miles_follow_their_exact_definitions():
    assert pounds(0.45359237 * 7716) == 7716
    assert miles(1.609344) == pytest.approx(1)


def test_an_unknown_phrase_is_an_error_that_names_the_key():
    with pytest.raises(UnknownName, match=r"no\.such\.key"):
        phrases.say("no.such.key")


def test_a_language_without_a_book_falls_back_to_english():
    key = next(iter(phrases.phrase_book()))
    assert phrases.phrase_book("xx") == {}
    assert phrases.phrase_book()[key]


def test_every_key_stands_in_one_file_of_the_phrase_book_only():
    seen: dict[str, str] = {}
    for page in sorted((PURE / "phrases" / "en").glob("*.toml")):
        for topic in tomllib.loads(page.read_text(encoding="utf-8")):
            assert topic not in seen, f"{topic} stands in {seen.get(topic)} and {page.name}"
            seen[topic] = page.name


def test_the_level_of_an_answer_is_that_of_its_gravest_finding():
    figure = Figure("k", "K", 1.0, "kg", Because("given"))
    answer = Answer((Finding("a", Level.NOTE), Finding("b", Level.STOP)), {"k": figure})
    assert answer.level is Level.STOP
    assert Answer((), {}).level is None


def test_the_pure_library_has_no_clock_environment_or_hidden_chance():
    forbidden = {"now", "today", "utcnow", "getenv", "environ", "monotonic", "perf_counter"}
    found = [
        f"{path.relative_to(PURE)}:{node.lineno} {node.attr}"
        for path in PURE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Attribute) and node.attr in forbidden
    ]
    assert found == []


def _subclasses(root: type[KeyhookError]) -> list[type[KeyhookError]]:
    return [root, *(leaf for child in root.__subclasses__() for leaf in _subclasses(child))]
