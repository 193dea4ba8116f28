"""The tour on the command line: answers, why, JSON, script, film, the rest of a tour, and recordings."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from keyhook.cli.commands import calculators

DEMO = Path(__file__).resolve().parents[2] / "demo"
RECORDING = str(DEMO / "recordings" / "worried_t5.srt")


def _run(*words):
    return CliRunner().invoke(calculators, list(words))


def test_tour_says_order_times_what_falls_off_and_what_to_ask_back():
    said = _run("tour", "H06", "--minutes", "35")
    assert said.exit_code == 0
    for part in (
        "H06 Gwendolyn Marshpepper in T5-01: will they know how?",
        "[must be said]",
        "for want of time",
        "Five more minutes would save",
        "Not on the tour, message at about 19:00 on day one",
        "(does not fit into the tour)",
        "Before you hand over the key",
    ):
        assert part in said.stdout


def test_why_says_where_each_value_comes_from():
    said = _run("tour", "H06", "--minutes", "35", "--why").stdout
    assert "= miss x bite x cost x learnt x (wrong before - still wrong after)" in said
    assert "get it wrong when not told" in said
    assert "talk factor" in said


def test_json_is_one_document():
    document = json.loads(_run("tour", "H06", "--minutes", "35", "--json").stdout)
    assert document["vehicle"] == "T5-01"
    assert document["end_min"] <= 35
    assert document["stops"][0]["lines"][0]["because"]["inputs"]
    assert {entry["slot"] for entry in document["elsewhere"]} >= {"first_night", "card"}
    assert all(finding["text"] for finding in document["findings"])


def test_minutes_that_do_not_suffice_say_by_how_much():
    said = _run("tour", "H06", "--minutes", "10").stdout
    assert "WARN  What must be said takes" in said
    assert "minutes more" in said


def test_a_slow_party_is_shown_less():
    usual, slow = (
        json.loads(_run("tour", "H06", "--minutes", "60", *more, "--json").stdout) for more in ((), ("--slow", "1.4"))
    )
    assert sum(len(stop["lines"]) for stop in slow["stops"]) < sum(len(stop["lines"]) for stop in usual["stops"])


def test_the_rest_of_a_tour_is_planned_from_where_it_stands():
    said = _run("tour", "H06", "--minutes", "40", "--done", "st_look,st_one", "--skipped", "hd_exit", "--elapsed", "5")
    assert said.exit_code == 0
    assert "Planned again after 5 min: 35 min left, points done: 2" in said.stdout
    assert "Passed over, but it must be said (1)" in said.stdout


def test_script_and_film_are_printed_alone():
    assert _run("tour", "H06", "--script").stdout.startswith("Tour: ")
    assert _run("tour", "H06", "--vtt", "chapters").stdout.startswith("WEBVTT\n\n1\n00:00:00.000 --> ")
    assert _run("tour", "H06", "--vtt", "subtitles").stdout.count("-->") > 40


def test_a_build_sheet_is_filmed_once_for_a_party_that_is_named_and_can_be_chosen():
    said = _run("tour", "--sheet", "Q2", "--script")
    assert said.exit_code == 0
    spoken = " ".join(said.stdout.split())
    assert "typical party (first time in a motorhome, nights on hook-up) in 20 minutes" in spoken
    assert "What we shall ask you when you come" in spoken
    frost = _run("tour", "--sheet", "Q2", "--tag", "frost,children", "--minutes", "12", "--vtt", "chapters").stdout
    assert frost.startswith("WEBVTT - Puddlefoot, filmed for a typical party (children, frost) in 12 minutes")


def test_a_film_is_of_the_sheet_whichever_of_its_vehicles_is_named_and_says_no_quirk():
    of_sheet, of_vehicle = (
        json.loads(_run("tour", *named, "--minutes", "200", "--json").stdout)
        for named in (("--sheet", "Q2"), ("--vehicle", "Q2-01"))
    )
    assert of_vehicle["sheet"] == of_sheet["sheet"] == "Q2"
    assert of_vehicle["stops"] == of_sheet["stops"]
    hired = json.loads(_run("tour", "H03", "--vehicle", "Q2-01", "--minutes", "200", "--json").stdout)
    quirks = [line["id"] for stop in hired["stops"] for line in stop["lines"] if line["id"].startswith("quirk")]
    filmed = {line["id"] for stop in of_vehicle["stops"] for line in stop["lines"]}
    assert quirks
    assert not filmed & set(quirks)


def test_a_film_is_heard_to_say_all_that_must_be_said(tmp_path):
    """The listener of recorded tours shares no code with the planner."""
    film = tmp_path / "film.vtt"
    film.write_text(_run("tour", "--sheet", "V2", "--vtt", "subtitles").stdout, encoding="utf-8")
    heard = _run("tour-check", str(film), "--sheet", "V2")
    assert "Everything that must be said was heard" in heard.stdout


def test_a_recording_is_checked_with_times_chances_gaps_and_stations():
    said = _run("tour-check", RECORDING, "--sheet", "T5")
    assert said.exit_code == 0
    for part in (
        "Recorded tour of T5, 14 minutes",
        "WARN  Must be said and was not heard",
        "something is said about equipment that this vehicle does not have: Diesel-fired heater",
        "Minutes by station",
        "This listens for words, not for understanding",
    ):
        assert part in said.stdout
    assert "closeness of meaning" in _run("tour-check", RECORDING, "--vehicle", "T5-01", "--why").stdout


def test_a_checked_recording_is_one_document():
    document = json.loads(_run("tour-check", RECORDING, "--hire", "H06", "--json").stdout)
    assert document["sheet"] == "T5"
    check = document["check"]
    assert all(0 <= point["chance"] <= 1 for point in check["covered"])
    assert check["stations"][0]["name"]


@pytest.mark.parametrize(
    ("words", "seen"),
    [
        (("tour", "H99"), "H99"),
        (("tour", "H06", "--minutes", "-4"), "-4"),
        (("tour", "H06", "--slow", "0"), "0"),
        (("tour", "H06", "--done", "moon"), "moon"),
        (("tour", "H06", "--skipped", "tide"), "tide"),
        (("tour", "H06", "--confirmed", "comet"), "comet"),
        (("tour", "H06", "--at", "attic"), "attic"),
        (("tour", "H06", "--elapsed", "-1"), "minutes since the start cannot be this (saw -1)"),
        (("tour",), "Nobody said whose tour it is"),
        (("tour", "--sheet", "Z9"), "Z9"),
        (("tour", "--sheet", "T5", "--vehicle", "T5-01"), "T5-01 and T5"),
        (("tour", "--sheet", "T5", "--tag", "moonlight"), "moonlight"),
        (("tour", "--sheet", "T5", "--minutes", "-2"), "-2"),
        (("tour", "--sheet", "T5", "--done", "st_look"), "Name the hire"),
        (("tour", "H06", "--tag", "pets"), "--tag pets"),
        (("tour-check", RECORDING), "Nobody said which vehicle"),
        (("tour-check", RECORDING, "--sheet", "T5", "--vehicle", "T5-01"), "T5-01 and T5"),
        (("tour-check", RECORDING, "--sheet", "Z9"), "Z9"),
        (("tour-check", "nowhere.vtt", "--sheet", "T5"), "nowhere.vtt"),
        (("tour-check", str(DEMO / "depot.toml"), "--sheet", "T5"), "WebVTT, SRT, or lines like [m:ss] words"),
    ],
)
def test_what_is_wrong_is_one_sentence_and_exit_code_two(words, seen):
    said = _run(*words)
    assert said.exit_code == 2
    assert seen in said.stderr
    assert said.stderr.count("\n") == 1


def test_a_film_instead_of_its_subtitles_is_told_apart(tmp_path):
    film = tmp_path / "tour.mp4"
    film.write_bytes(b"\x00\x00\x00\x18ftypmp42\xff\xfe\xfd")
    said = _run("tour-check", str(film), "--sheet", "T5")
    assert said.exit_code == 2
    assert "Give the subtitles" in said.stderr
