"""The command line: answers, why, JSON, and one sentence when something is wrong."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from keyhook.cli.commands import calculators

DEMO = Path(__file__).resolve().parents[2] / "demo"


def _run(*words):
    return CliRunner().invoke(calculators, list(words))


def test_loading_says_verdict_findings_and_the_least_change():
    said = _run("loading", "H12")
    assert said.exit_code == 0
    assert "Too heavy" in said.stdout
    assert "STOP" in said.stdout
    assert "The least change that makes it legal" in said.stdout


def test_why_prints_inputs_formula_basis_and_source():
    said = _run("loading", "H10", "--why").stdout
    assert "weighed front + sum of m (1 - x / L)" in said
    assert "source: statics-textbook" in said
    assert "weighbridge tickets" in said


def test_json_is_one_document_with_figures_and_findings():
    document = json.loads(_run("loading", "H12", "--json").stdout)
    assert document["answer"]["verdict"] == "over"
    assert document["answer"]["figures"]["rear_load"]["because"]["inputs"]
    assert all(finding["text"] for finding in document["answer"]["findings"])


def test_another_vehicle_can_be_asked_for():
    assert "A4-03" in _run("loading", "H12", "--vehicle", "A4-03").stdout
    lines = json.loads(_run("loading", "H12", "--swap", "--json").stdout)
    assert len(lines) == 17


@pytest.mark.parametrize(
    ("words", "seen"),
    [
        (("loading", "H99"), "H99"),
        (("loading", "H10", "--vehicle", "Z9"), "Z9"),
        (("loading", "H10", "--depot", "/nowhere"), "/nowhere"),
        (("draw", "Z9"), "Z9"),
    ],
)
def test_a_wrong_name_is_one_sentence_and_exit_code_two(words, seen):
    said = _run(*words)
    assert said.exit_code == 2
    assert seen in said.stderr
    assert "Traceback" not in said.output


def test_the_day_lists_returns_and_departures_with_what_stops_them():
    said = _run("day", "2026-07-10").stdout
    assert "Back (9)" in said
    assert "Out (10)" in said
    assert "STOP" in said


def test_without_a_day_the_busiest_one_is_shown():
    assert "10 July 2026" in _run("day").stdout


def test_a_nonsense_day_says_how_to_write_one():
    said = _run("day", "tomorrow")
    assert said.exit_code == 2
    assert "2026-07-10" in said.stderr


def test_check_names_every_problem_of_a_broken_folder(tmp_path):
    for file in DEMO.rglob("*.toml"):
        copy = tmp_path / file.relative_to(DEMO)
        copy.parent.mkdir(parents=True, exist_ok=True)
        copy.write_text(file.read_text(encoding="utf-8"), encoding="utf-8")
    sheet = tmp_path / "sheets" / "W4.toml"
    sheet.write_text(sheet.read_text(encoding="utf-8").replace("mam_kg = 3500", "mam_kg = -1"), encoding="utf-8")
    hire = tmp_path / "hires" / "H10.toml"
    hire.write_text(
        hire.read_text(encoding="utf-8").replace('vehicle = "W4-02"', 'vehicle = "W9-99"'), encoding="utf-8"
    )
    said = _run("check", str(tmp_path))
    assert said.exit_code == 2
    assert "sheets/W4.toml" in said.stderr
    assert "-1" in said.stderr


def test_a_sound_folder_says_so():
    assert "No problem found" in _run("check", str(DEMO)).stdout


@pytest.mark.parametrize("kind", ["sheet", "hire", "vehicle", "fitting"])
def test_schemas_are_json_schema(kind):
    assert json.loads(_run("schema", kind).stdout)["properties"]


def test_a_drawing_stands_alone():
    svg = _run("draw", "W4-02", "--show", "3").stdout
    assert svg.startswith("<svg")
    assert "class=" not in svg


def test_a_fitting_tells_what_is_known_of_it():
    assert "teach MUST" in _run("fittings", "gas_locker").stdout
    assert _run("fittings", "nonsense").exit_code == 2


def test_a_day_is_planned_the_same_way_for_the_same_seed_and_says_how_surely_each_promise_holds():
    one = _run("day", "2026-07-10", "--plan", "--steps", "400", "--seed", "3")
    assert one.exit_code == 0
    assert "Plan for Friday 10 July 2026" in one.stdout
    assert "on time with" in one.stdout
    assert "Pansy Dribblecombe" in one.stdout
    assert _run("day", "2026-07-10", "--plan", "--steps", "400", "--seed", "3").stdout == one.stdout


def test_a_planned_day_as_json_carries_plan_objective_and_chances():
    document = json.loads(_run("day", "2026-07-10", "--plan", "--steps", "400", "--json").stdout)
    assert document["objective"][0] <= document["rule"][0]
    assert {chance["departure"] for chance in document["chances"]["departures"]}
    assert len(document["plan"]["allotment"]) == 10


def test_a_day_says_who_rang_who_has_nothing_to_do_and_what_is_odd_about_it():
    assert "out again 16:00, rang: back at 11:15" in _run("day", "2026-07-10").stdout
    calm = _run("day", "2027-02-12", "--plan", "--steps", "50").stdout
    assert "(0)" not in calm
    assert "Nothing in it for Juniper Sprocketby" in calm
    assert "Nobody works on Sunday 12 July" in _run("day", "2026-07-12", "--plan").stdout


def test_the_evening_before_says_why_when_asked():
    words = ("day", "2027-02-12", "--evening", "--steps", "50")
    assert "Early is what needs neither the hirer" in _run(*words, "--why").stdout
    assert "Early is what" not in _run(*words).stdout


def test_a_language_says_how_much_of_it_there_is_and_prints_what_is_left():
    said = _run("texts", "de")
    assert said.exit_code == 0
    assert "not yet read by a native speaker" in said.stdout
    counted = json.loads(_run("texts", "de", "--json").stdout)
    assert counted["missing"] + counted["stale"] == _run("texts", "de", "--left").stdout.count('text = ""')
    assert _run("texts", "en").exit_code == 2
