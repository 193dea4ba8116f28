"""A broken folder tells everything at once: file, line, field, value, what to do."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder, write_folder
from keyhook.depot.reading import read_depot
from keyhook.errors import BadInput, BrokenFolder

DEMO = read_folder(Path(__file__).resolve().parents[2] / "demo")

SLIPS = tomllib.loads((Path(__file__).parent / "depot_slips.toml").read_text(encoding="utf-8"))["slip"]


def _problems(texts):
    with pytest.raises(BrokenFolder) as broken:
        read_depot(texts, load_catalogue())
    return broken.value.problems


@pytest.mark.parametrize("slip", SLIPS, ids=[f"{slip['file']} {slip['new']}" for slip in SLIPS])
def test_each_slip_is_told_with_file_line_value_and_advice(slip):
    file, code = slip["file"], slip["code"]
    assert slip["old"] in DEMO[file]
    problems = _problems({**DEMO, file: DEMO[file].replace(slip["old"], slip["new"], 1)})
    told = [
        problem
        for problem in problems
        if (problem.file, problem.code) == (file, code) and slip["says"] in problem.wrong
    ]
    assert told, [str(problem) for problem in problems]
    assert slip["advises"] in told[0].todo
    assert told[0].line >= 1
    assert told[0].seen or code.startswith("field")


def test_the_line_told_is_the_line_of_the_slip():
    file, old, new = "hires/H10.toml", 'store = "garage"', 'store = "cellar"'
    line = 1 + DEMO[file][: DEMO[file].index(old)].count("\n")
    (problem,) = _problems({**DEMO, file: DEMO[file].replace(old, new)})
    assert (problem.file, problem.line, problem.field, problem.seen) == (file, line, "hire.loads[2].store", "cellar")


def test_all_slips_of_a_folder_are_told_together():
    slips = [
        ("sheets/W4.toml", 'fitting = "step"', 'fitting = "stepp"'),
        ("sheets/V2.toml", 'station = "front"', 'station = "fronnt"'),
        ("vehicles.toml", 'sheet = "Q2"', 'sheet = "Q3"'),
        ("staff.toml", '"tech"', '"tek"'),
        ("depot.toml", "slot_min = 20", "slot_min = 0"),
        ("tariff.toml", 'charge = "mirror"', 'charge = "miror"'),
        ("hires/H12.toml", 'seat = "row2_a"', 'seat = "row9"'),
        ("hires/H20.toml", "return_at = 2026-07-16", "return_at = 2026-07-01"),
    ]
    texts = dict(DEMO)
    texts["depot.toml"] = texts["depot.toml"].replace("home_amps", "slot_min = 20\nhome_amps")
    for file, old, new in slips:
        assert old in texts[file], file
        texts[file] = texts[file].replace(old, new, 1)
    assert {problem.file for problem in _problems(texts)} == {file for file, _, _ in slips}


def test_a_broken_sheet_does_not_drag_its_vehicles_and_hires_along():
    texts = {**DEMO, "sheets/W4.toml": DEMO["sheets/W4.toml"].replace("mam_kg = 3500", 'mam_kg = "heavy"')}
    assert {problem.file for problem in _problems(texts)} == {"sheets/W4.toml"}


def test_one_broken_vehicle_does_not_hide_the_slips_of_the_next():
    text = (
        DEMO["vehicles.toml"].replace('built = "2023-03"', 'built = "?"').replace('plate = "DEMO 205"', "plate = 205")
    )
    fields = {problem.field for problem in _problems({**DEMO, "vehicles.toml": text})}
    assert {"vehicle[0].built", "vehicle[1].plate"} <= fields


@pytest.mark.parametrize("file", ["depot.toml", "staff.toml", "vehicles.toml", "tariff.toml"])
def test_a_missing_file_is_told_by_name(file):
    texts = {name: text for name, text in DEMO.items() if name != file}
    assert any(problem.file == file and problem.code == "missing-file" for problem in _problems(texts))


def test_a_file_that_belongs_nowhere_is_told_and_other_kinds_are_left_alone():
    problems = _problems({**DEMO, "vehicle.toml": "", "hires/old/H99.toml": "", "notes.txt": "milk"})
    assert {problem.file for problem in problems if problem.code == "strange-file"} == {
        "vehicle.toml",
        "hires/old/H99.toml",
    }
    assert not any(problem.file == "notes.txt" for problem in problems)


def test_text_that_is_no_toml_names_its_line():
    text = DEMO["staff.toml"].replace('name = "Odo', "name = Odo")
    (problem,) = [p for p in _problems({**DEMO, "staff.toml": text}) if p.file == "staff.toml"]
    assert problem.code == "not-toml"
    assert "Odo Crumblewick" in text.splitlines()[problem.line - 1]


def test_a_vehicle_that_is_swapped_to_free_days_is_no_overlap():
    # H18 returns on 18 July and nothing else has Q2-04: W4-06 is out from 10 July, Q2-01 free until 13 July.
    text = DEMO["hires/H22.toml"].replace("2026-07-13T14:00:00", "2026-07-18T14:00:00").replace("Q2-01", "Q2-04")
    text = text.replace("2026-07-20T10:00:00", "2026-07-25T10:00:00")
    assert read_depot({**DEMO, "hires/H22.toml": text}, load_catalogue()).hire("H22").vehicle == "Q2-04"


def test_a_cancelled_hire_holds_no_vehicle():
    text = DEMO["hires/H10.toml"].replace('"W4-02"', '"W4-09"').replace('status = "booked"', 'status = "cancelled"')
    assert read_depot({**DEMO, "hires/H10.toml": text}, load_catalogue()).hire("H10").status == "cancelled"


def test_a_hire_inside_a_long_one_is_an_overlap_even_with_another_between():
    # H21 has A4-03 from 27 June to 12 July; two short ones are put inside, the second after the first has ended.
    inside = {"H14": ("2026-06-28", "2026-06-29"), "H04": ("2026-07-01", "2026-07-02")}
    texts = dict(DEMO)
    for name, (start, end) in inside.items():
        text = re.sub(r"collect_at = \S+", f"collect_at = {start}T10:00:00+01:00", DEMO[f"hires/{name}.toml"])
        text = re.sub(r"return_at = \S+", f"return_at = {end}T10:00:00+01:00", text)
        texts[f"hires/{name}.toml"] = text.replace("A4-02", "A4-03")
    overlaps = [problem.file for problem in _problems(texts) if problem.code == "overlap"]
    assert overlaps == ["hires/H04.toml", "hires/H14.toml"]


def test_a_byte_order_mark_does_no_harm():
    texts = {name: "\ufeff" + text for name, text in DEMO.items()}
    assert len(read_depot(texts, load_catalogue()).hires) == 25


def test_a_folder_on_disk_comes_back_as_it_was_written(tmp_path):
    write_folder(tmp_path, DEMO)
    (tmp_path / "notes.txt").write_text("milk")
    assert read_folder(tmp_path) == dict(DEMO)


def test_a_file_that_is_not_utf8_names_its_line(tmp_path):
    write_folder(tmp_path, DEMO)
    (tmp_path / "staff.toml").write_bytes(b'# people\nname = "M\xf6we"\n')
    with pytest.raises(BrokenFolder) as broken:
        read_folder(tmp_path)
    assert [(p.file, p.line, p.seen) for p in broken.value.problems] == [("staff.toml", 2, "byte 0xf6")]


def test_a_folder_that_is_not_there_says_so(tmp_path):
    with pytest.raises(BadInput, match="no such folder"):
        read_folder(tmp_path / "nowhere")


def test_a_slip_in_the_words_of_other_languages_is_told_and_a_folder_without_any_is_whole():
    broken = {**DEMO, "words.toml": DEMO["words.toml"].replace("[words.de]", "[words.german]")}
    assert {problem.file for problem in _problems(broken)} == {"words.toml"}
    without = read_depot({name: text for name, text in DEMO.items() if name != "words.toml"}, load_catalogue())
    assert without.depot.words == {}
