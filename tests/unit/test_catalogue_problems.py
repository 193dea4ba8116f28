"""Problems of several catalogue records together: ids twice, circles named in full, the message as a whole."""

from __future__ import annotations

import re

import pytest

from keyhook.catalogue import read_catalogue
from keyhook.catalogue.reading import shipped_texts
from keyhook.errors import BrokenFolder

SOLAR, TASKS, KIT, CHARGES = "fittings/solar.toml", "tasks.toml", "kit.toml", "charges.toml"


def _problems(texts):
    with pytest.raises(BrokenFolder) as told:
        read_catalogue(texts)
    return told.value.problems


def _with(texts, file, old, new):
    assert old in texts[file], "the words to take out are not in the file"
    return {**texts, file: texts[file].replace(old, new, 1)}


@pytest.mark.parametrize(
    ("file", "table"), [(TASKS, "task"), (KIT, "item"), (CHARGES, "charge")], ids=["task", "kit", "charge"]
)
def test_an_id_that_stands_twice_is_told_at_the_second(file, table):
    texts = shipped_texts()
    first, second = re.findall(rf'^\[\[{table}\]\]\nid = "(\w+)"', texts[file], re.MULTILINE)[:2]
    texts = _with(texts, file, f'[[{table}]]\nid = "{second}"', f'[[{table}]]\nid = "{first}"')
    (problem,) = [problem for problem in _problems(texts) if "stands already" in problem.wrong]
    assert problem.seen == first
    places = [number for number, line in enumerate(texts[file].splitlines(), 1) if line == f'id = "{first}"']
    assert problem.line == places[1]


def test_a_circle_of_teach_points_across_fittings_names_each_of_them():
    texts = _with(shipped_texts(), "fittings/hookup.toml", 'id = "hu_order"', 'id = "hu_order"\nafter = ["fa_alarm"]')
    (problem,) = [problem for problem in _problems(texts) if problem.code == "cycle"]
    names = problem.seen.split(" -> ")
    assert names[0] == names[-1]
    assert set(names) == {"hu_order", "fa_auto", "fa_alarm"}


def test_a_circle_of_tasks_names_each_of_them():
    texts = _with(shipped_texts(), TASKS, "after = []", 'after = ["in_meters"]')
    (problem,) = [problem for problem in _problems(texts) if problem.code == "cycle"]
    assert set(problem.seen.split(" -> ")) == {"in_park", "in_meters"}


def test_problems_of_many_files_come_in_the_order_of_files_and_lines():
    texts = _with(shipped_texts(), SOLAR, "severity = ", "severitty = ")
    texts = _with(texts, TASKS, 'skill = "yard"', 'skill = "sky"')
    texts = _with(texts, "fittings/awning.toml", 'charges = ["', 'charges = ["no_such", "')
    problems = _problems(texts)
    assert [problem.file for problem in problems] == ["fittings/awning.toml", SOLAR, SOLAR, TASKS]
    assert problems[1].line < problems[2].line or problems[1].field < problems[2].field


def test_the_message_has_a_heading_and_a_line_for_each_problem():
    texts = _with(shipped_texts(), SOLAR, "kit = []", 'kit = ["one", "two"]')
    with pytest.raises(BrokenFolder) as told:
        read_catalogue(texts)
    heading, *lines = str(told.value).splitlines()
    assert heading.startswith("2 problems in the files, so nothing was read")
    assert [line.strip().partition(":")[0] for line in lines] == [SOLAR, SOLAR]
