"""The records of a depot: exact amounts, windows, seasons, schemas, and one day of the yard."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from decimal import Decimal
from pathlib import Path

import pytest
from pydantic import TypeAdapter, ValidationError

from keyhook.catalogue import load_catalogue
from keyhook.depot.amount import Amount
from keyhook.depot.day import departures_on, returns_on, staff_on
from keyhook.depot.depot import Staff
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.depot.schema import KINDS, json_schema
from keyhook.depot.toml_text import toml_text
from keyhook.depot.window import Window
from keyhook.errors import UnknownName
from keyhook.money import Money

ROOT = Path(__file__).resolve().parents[2]
DEMO = read_folder(ROOT / "demo")
TRAPS = tomllib.loads((ROOT / "tests" / "demo_traps.toml").read_text(encoding="utf-8"))
FRIDAY = dt.date(2026, 7, 10)
amount = TypeAdapter(Amount)


@pytest.fixture(scope="module")
def yard():
    return read_depot(DEMO, load_catalogue())


@pytest.mark.parametrize(("written", "meant"), [(19, "19"), ("19.50", "19.50"), ("0.28", "0.28"), (0, "0")])
def test_an_amount_keeps_the_digits_it_was_written_with(written, meant):
    assert str(amount.validate_python(written)) == meant


@pytest.mark.parametrize("written", [19.5, True, "-3", "1e3", "nineteen", "19.5000", "", None])
def test_an_amount_is_never_a_float_nor_anything_else(written):
    with pytest.raises(ValidationError, match="exact amount"):
        amount.validate_python(written)


def test_the_tariff_prices_in_exact_minor_units(yard):
    # 0.7 kg of gas beyond the included 5.5 kg at 3.20 a kilogram is 2.24 (by hand, tests/demo_traps.toml).
    gas, back = yard.tariff.gas, yard.returns["H06"]
    over_kg = Decimal(str(back.gas_used_kg)) - gas.included_kg
    assert str(over_kg) == str(TRAPS["H06"]["gas_over_kg"])
    assert yard.tariff.money(over_kg * gas.per_kg) == Money("GBP", 224)


@pytest.mark.parametrize(
    ("day", "season"),
    [
        ("2026-12-31", "low"),
        ("2026-01-01", "low"),
        ("2026-03-31", "low"),
        ("2026-04-01", "mid"),
        ("2026-07-10", "high"),
        ("2026-09-05", "high"),
        ("2026-09-06", "late"),
        ("2024-02-29", "low"),
        ("2026-11-01", "low"),
    ],
)
def test_a_season_may_run_over_the_turn_of_the_year(yard, day, season):
    assert yard.tariff.season_of(dt.date.fromisoformat(day)).id == season


def test_a_window_reads_and_writes_as_people_write_it():
    window = Window.of("08:30-10:30")
    assert (window.length_min, str(window)) == (120, "08:30-10:30")
    assert window.holds(dt.time(10, 30))
    assert not window.holds(dt.time(10, 31))


@pytest.mark.parametrize("written", ["18:00-08:00", "08:00", "8-18", "25:00-26:00", "08:00-08:00"])
def test_a_window_that_is_none_says_how_to_write_one(written):
    with pytest.raises(ValidationError, match="08:00-18:00"):
        Window.of(written)


def test_staff_take_one_break_and_know_their_pace(yard):
    # The yard's own account: 67.5 clock hours, 61.5 after breaks, of eight people; three more help on Fridays,
    # 8, 6 and 8 hours, the second without a break: 89.5 and 82.
    clock_min = sum(person.shift.length_min for person in yard.staff)
    assert clock_min / 60 == 89.5
    assert (clock_min - sum(person.break_min for person in yard.staff)) / 60 == 82
    assert {person.pace_factor for person in yard.staff} == {0.9, 1.0, 1.3, 1.5}


def test_the_friday_board_is_as_the_desk_keeps_it(yard):
    # The board of the demo yard: who comes in, and the minutes until the same vehicle goes out again.
    returns = returns_on(yard, FRIDAY)
    assert [entry.hire.id for entry in returns] == ["H01", "H02", "H03", "H04", "H05", "H06", "H07", "H08", "H09"]
    for entry in returns:
        assert entry.late_min == TRAPS[entry.hire.id]["late_min"], entry.hire.id
        if "turn_min" in TRAPS[entry.hire.id]:
            assert entry.turn_min == TRAPS[entry.hire.id]["turn_min"], entry.hire.id
    departures = departures_on(yard, FRIDAY)
    assert [entry.hire.id for entry in departures] == [f"H{number}" for number in range(10, 20)]
    assert [entry.before.id if entry.before else None for entry in departures] == [
        "H01", "H02", None, "H03", "H04", None, "H05", "H06", None, "H09",
    ]  # fmt: skip


def test_a_vehicle_without_a_next_hire_has_no_turn(yard):
    last = next(entry for entry in returns_on(yard, FRIDAY) if entry.hire.id == "H08")
    assert (last.next_hire, last.turn_min) == (None, None)


def test_a_return_on_the_closed_day_is_marked(yard):
    # 12 July 2026 is a Sunday, on which the yard is closed.
    assert [(entry.hire.id, entry.in_hours) for entry in returns_on(yard, dt.date(2026, 7, 12))] == [("H21", False)]
    assert all(entry.in_hours for entry in [*returns_on(yard, FRIDAY), *departures_on(yard, FRIDAY)])


def test_the_friday_help_comes_on_fridays_and_nobody_on_sundays(yard):
    days = {day: [person.id for person in staff_on(yard, FRIDAY + dt.timedelta(days=day))] for day in (0, 1, 2)}
    assert set(days[0]) - set(days[1]) == {"brim", "fenn", "nettie", "perkin"}
    assert days[2] == []


def test_days_are_counted_on_the_depots_clock(yard):
    # 23:30 UTC on 9 July is 00:30 on 10 July in London (British Summer Time, UTC + 1).
    late = dt.datetime(2026, 7, 9, 23, 30, tzinfo=dt.UTC)
    hire = yard.hire("H12").model_copy(update={"collect_at": late})
    moved = _with(yard, hire)
    assert hire.id in [entry.hire.id for entry in departures_on(moved, FRIDAY)]
    assert hire.id not in [entry.hire.id for entry in departures_on(moved, dt.date(2026, 7, 9))]


def test_minutes_of_a_turn_are_those_that_pass_in_the_night_of_the_clock_change(yard):
    # 25 October 2026, London: clocks go back at 02:00. From 01:30 summer time to 02:45 winter time 2 h 15 min pass.
    summer, winter = dt.timezone(dt.timedelta(hours=1)), dt.UTC
    back = yard.hire("H08").model_copy(update={"return_at": dt.datetime(2026, 10, 25, 1, 30, tzinfo=summer)})
    out = yard.hire("H22").model_copy(
        update={"vehicle": back.vehicle, "collect_at": dt.datetime(2026, 10, 25, 2, 45, tzinfo=winter)}
    )
    out = out.model_copy(update={"return_at": out.collect_at + dt.timedelta(days=1)})
    moved = _with(_with(yard, back), out)
    moved.returns.pop("H08")
    (entry,) = returns_on(moved, dt.date(2026, 10, 25))
    assert (entry.next_hire.id, entry.turn_min) == ("H22", 135)


def test_cancelled_hires_are_on_no_board(yard):
    hire = yard.hire("H12").model_copy(update={"status": "cancelled"})
    assert "H12" not in [entry.hire.id for entry in departures_on(_with(yard, hire), FRIDAY)]


def test_a_name_that_nobody_carries_lists_those_that_are(yard):
    with pytest.raises(UnknownName, match="W4-02"):
        yard.vehicle("W4-99")


def test_the_sheet_of_a_hire_is_its_vehicles_own(yard):
    assert yard.sheet_of(yard.hire("H10")).tickets == yard.vehicle("W4-02").tickets
    wish = yard.hire("H10").model_copy(update={"vehicle": None})
    assert yard.sheet_of(wish) == yard.sheet("W4")
    assert yard.sheet_of(wish.model_copy(update={"wanted_sheet": None})) is None


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_of_record_has_a_schema_that_its_demo_files_fit(kind):
    schema = json_schema(kind)
    files = {"sheet": "sheets/", "hire": "hires/", "staff": "staff.toml", "vehicle": "vehicles.toml"}
    texts = [text for name, text in DEMO.items() if name.startswith(files.get(kind, f"{kind}.toml"))]
    assert texts
    for text in texts:
        assert _misfits(tomllib.loads(text), schema, schema.get("$defs", {})) == []


def test_a_schema_refuses_what_the_reader_refuses():
    schema = json_schema("staff")
    table = tomllib.loads(DEMO["staff.toml"])
    table["staff"][0] |= {"pace": 1.0, "shift": "early"}
    misfits = _misfits(table, schema, schema["$defs"])
    assert "staff[0]: no such field pace" in misfits
    assert any(text.startswith("staff[0].shift: early") for text in misfits)
    with pytest.raises(ValidationError):
        Staff.model_validate(table["staff"][0])


def test_a_schema_that_nobody_has_says_which_there_are():
    with pytest.raises(UnknownName, match="vehicle"):
        json_schema("bicycle")


def test_long_lists_stand_one_entry_to_a_line_and_deep_ones_under_headings():
    text = toml_text({"b": [{"x": 1}, {"x": 2.5}], "a": {"c": [{"d": {"e": "f"}}]}, "none": None, "when": FRIDAY})
    assert text.splitlines() == [
        "b = [", "    { x = 1 },", "    { x = 2.5 },", "]", "when = 2026-07-10", "", "[a]", "", "[[a.c]]", "",
        "[a.c.d]", 'e = "f"',
    ]  # fmt: skip


def _with(yard, hire):
    """Return the yard with one hire in place of the one of its id, its mappings free to change."""
    return type(yard)(
        depot=yard.depot, staff=yard.staff, sheets=yard.sheets, vehicles=yard.vehicles, tariff=yard.tariff,
        hires={**yard.hires, hire.id: hire}, returns=dict(yard.returns), calls=yard.calls,
    )  # fmt: skip


def _misfits(value, schema, defs, path=""):
    """A plain reading of the keywords of JSON Schema 2020-12 that our schemas use; independent of the models."""
    if "$ref" in schema:
        return _misfits(value, defs[schema["$ref"].rsplit("/", 1)[-1]], defs, path)
    if "anyOf" in schema:
        options = [_misfits(value, option, defs, path) for option in schema["anyOf"]]
        return [] if [] in options else options[0]
    found = [] if _right_type(value, schema.get("type")) else [f"{path}: {value} is no {schema['type']}"]
    if "enum" in schema and value not in schema["enum"]:
        found.append(f"{path}: {value} is none of the words")
    if "pattern" in schema and isinstance(value, str) and not re.search(schema["pattern"], value):
        found.append(f"{path}: {value} has another form")
    if isinstance(value, dict):
        found += _object(value, schema, defs, path)
    if isinstance(value, list):
        each = schema.get("prefixItems", [schema.get("items", {})] * len(value))
        for number, (entry, inner) in enumerate(zip(value, each, strict=True)):
            found += _misfits(entry, inner, defs, f"{path}[{number}]")
    return found


def _object(value, schema, defs, path):
    named, dot = schema.get("properties", {}), "." if path else ""
    found = [f"{path}: {name} is missing" for name in schema.get("required", []) if name not in value]
    for name, entry in value.items():
        if name in named:
            found += _misfits(entry, named[name], defs, f"{path}{dot}{name}")
        elif schema.get("additionalProperties") is False:
            found.append(f"{path}: no such field {name}")
        elif isinstance(schema.get("additionalProperties"), dict):
            found += _misfits(entry, schema["additionalProperties"], defs, f"{path}{dot}{name}")
    return found


def _right_type(value, kind):
    kinds = {
        "object": dict, "array": list, "boolean": bool, "integer": int, "null": type(None), "number": (int, float),
        "string": (str, dt.date, dt.datetime, dt.time),
    }  # fmt: skip
    if kind is None:
        return True
    return isinstance(value, kinds[kind]) and (kind == "boolean" or not isinstance(value, bool))
