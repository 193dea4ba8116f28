"""Every rule of the catalogue is broken once, and the slip is told with file, line, value and advice."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from pathlib import Path

import pytest

from keyhook.catalogue import read_catalogue, reading
from keyhook.catalogue.reading import shipped_texts
from keyhook.errors import BrokenFolder

SOUND = shipped_texts()
SLIPS = tomllib.loads((Path(__file__).parent / "catalogue_slips.toml").read_text(encoding="utf-8"))["slip"]
WORDS_OF_THE_VALIDATOR = re.compile(
    r"input should|field required|valid (integer|number|string)|pydantic", re.IGNORECASE
)


@pytest.fixture(autouse=True, scope="module")
def files_that_stay_as_they_are_are_read_once():
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reading, "read_record", cache(reading.read_record))
        yield


def _with_slip(slip):
    text = SOUND[slip["file"]]
    start = text.index(slip["behind"])
    at = text.index(slip["old"], start)
    return text[:at] + slip["new"] + text[at + len(slip["old"]) :], at


def _problems(texts):
    with pytest.raises(BrokenFolder) as broken:
        read_catalogue(texts)
    return broken.value.problems


def _expected_line(slip, text, at):
    mark = slip.get("mark", "")
    if mark == "record":  # a whole record is at fault: the line of its heading
        at = text.rindex("[[", 0, at)
    elif mark == "[[symptoms]]":
        at = text.rindex("[[symptoms]]", 0, at)
    elif mark:
        at = text.rindex(mark) if text.count(mark) > 1 else text.index(mark)
    return 1 + text[:at].count("\n")


@pytest.mark.parametrize("slip", SLIPS, ids=[f"{slip['file']} {slip['new'][:40]}" for slip in SLIPS])
def test_each_slip_is_told_with_file_line_value_and_advice(slip):
    text, at = _with_slip(slip)
    problems = _problems({**SOUND, slip["file"]: text})
    told = [p for p in problems if p.code == slip["code"] and slip["says"] in p.wrong and slip["advises"] in p.todo]
    assert told, [str(problem) for problem in problems]
    if slip.get("mark") != "any":
        assert (told[0].file, told[0].line) == (slip["file"], _expected_line(slip, text, at)), str(told[0])
    if "seen" in slip:
        assert told[0].seen in slip["seen"]
    assert not WORDS_OF_THE_VALIDATOR.search(str(told[0]))


def test_the_shipped_catalogue_is_sound():
    assert read_catalogue(SOUND).fittings


def test_the_value_that_was_seen_is_told():
    file, old = "tasks.toml", 'place = "wash_bay"'
    (problem,) = _problems({**SOUND, file: SOUND[file].replace(old, 'place = "wash_bey"', 1)})
    assert problem.seen == "wash_bey"
    assert problem.todo == "Did you mean wash_bay?"


def test_slips_of_many_files_are_told_together():
    texts = dict(SOUND)
    for file, old, new in [
        ("fittings/step.toml", "severity = ", "severity = 1"),
        ("fittings/tv.toml", 'moment = "drive_off"', 'moment = "driving"'),
        ("fittings/hookup.toml", '"hookup_lead"', '"hookup_led"'),
        ("tasks.toml", 'place = "wash_bay"', 'place = "wash_bey"'),
        ("charges.toml", 'wear = "lead"', 'wear = "laed"'),
        ("tyres.toml", "112 = 1120", '112 = "?"'),
    ]:
        assert old in texts[file]
        texts[file] = texts[file].replace(old, new, 1)
    assert {problem.file for problem in _problems(texts)} == {
        "fittings/step.toml",
        "fittings/tv.toml",
        "fittings/hookup.toml",
        "tasks.toml",
        "charges.toml",
        "tyres.toml",
    }


def test_a_broken_file_does_not_drag_along_those_that_name_what_it_holds():
    texts = {
        **SOUND,
        "fittings/gas_locker.toml": SOUND["fittings/gas_locker.toml"].replace("duration_s = ", "duration_s = -", 1),
    }
    assert {problem.file for problem in _problems(texts)} == {"fittings/gas_locker.toml"}
    texts = {**SOUND, "kit.toml": SOUND["kit.toml"].replace('kind = "returnable"', 'kind = "rented"', 1)}
    assert {problem.file for problem in _problems(texts)} == {"kit.toml"}


@pytest.mark.parametrize("file", ["tasks.toml", "kit.toml", "charges.toml", "tyres.toml", "scales.toml"])
def test_a_missing_file_is_told_once(file):
    problems = _problems({name: text for name, text in SOUND.items() if name != file})
    assert [(problem.file, problem.code) for problem in problems] == [(file, "missing-file")]
