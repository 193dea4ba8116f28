"""Broken catalogue files: each rule is told with file, line, value and what to do, and all of them at once."""

from __future__ import annotations

import re

import pytest

from keyhook.catalogue import read_catalogue
from keyhook.catalogue.reading import shipped_texts
from keyhook.errors import BrokenFolder

SOLAR, TASKS, KIT, CHARGES, SCALES = "fittings/solar.toml", "tasks.toml", "kit.toml", "charges.toml", "scales.toml"

#: File, words taken out, words put in, what the line told has to hold, and the words that have to be told.
BROKEN = {
    "an unknown field": (SOLAR, 'group = "', 'colour = "blue"\ngroup = "', 'colour = "blue"', "no such field"),
    "a misspelt field": (SOLAR, "severity = ", "severitty = ", "severitty", "Did you mean severity?"),
    "a text too long": (SOLAR, 'why = "', 'why = "' + "very " * 50, "very very", "longer than 200 characters"),
    "an empty text": (SOLAR, re.compile(r'^text = ".*"$', re.MULTILINE), 'text = ""', 'text = ""', "empty"),
    "a word for a number": (SOLAR, "severity = ", 'severity = "grave" # ', "severity", "number"),
    "a severity beyond five": (SOLAR, re.compile(r"severity = \d"), "severity = 6", "severity = 6", "too large"),
    "a share beyond one": (SOLAR, re.compile(r"miss_share = .*"), "miss_share = 1.5", "miss_share", "too large"),
    "a kind nobody knows": (SOLAR, re.compile(r'kind = ".*"'), 'kind = "fun"', 'kind = "fun"', "not one of the words"),
    "a moment nobody knows": (SOLAR, re.compile(r'moment = ".*"'), 'moment = "soon"', "soon", "not one of the words"),
    "a span the wrong way round": (
        SOLAR,
        re.compile(r"mass_kg = \[[^]]*\]"),
        "mass_kg = [90, 80]",
        "90, 80",
        "smaller one",
    ),
    "unknown kit": (SOLAR, "kit = []", 'kit = ["ladderr"]', "kit = ", "Did you mean ladder?"),
    "an unknown charge": (SOLAR, "charges = [", 'charges = ["no_such", ', "charges = ", "no charge has this id"),
    "an unknown teach point": (
        SOLAR,
        "moment = ",
        'after = ["hu_ordr"]\nmoment = ',
        "hu_ordr",
        "Did you mean hu_order?",
    ),
    "an unknown tag": (SOLAR, re.compile(r"when = \[.*\]"), 'when = ["snow"]', 'when = ["snow"]', "no hire tag"),
    "an unknown prefix": (SOLAR, re.compile(r"when = \[.*\]"), 'when = ["sky:blue"]', "sky:blue", "begin like this"),
    "an unknown place": (TASKS, 'place = "wash_bay"', 'place = "wash_bai"', "wash_bai", "Did you mean wash_bay?"),
    "an unknown task": (TASKS, 'after = ["in_park"]', 'after = ["in_parc"]', "in_parc", "Did you mean in_park?"),
    "an unknown skill": (TASKS, 'skill = "yard"', 'skill = "sky"', 'skill = "sky"', "not one of the words"),
    "kit for an unknown fitting": (
        KIT,
        '"fitting:gas_exchange"',
        '"fitting:gas_exchanges"',
        "exchanges",
        "Did you mean",
    ),
    "a kit rule for nobody": (KIT, 'per = "vehicle"', 'per = "dog"', 'per = "dog"', "not one of the words"),
    "an unknown life": (CHARGES, re.compile(r'wear = "\w+"'), 'wear = "forever"', "forever", "no life has this id"),
    "a load that is no number": ("tyres.toml", "121 = 1450", '121 = "heavy"', "121 = ", "number"),
}


def _problems(texts):
    with pytest.raises(BrokenFolder) as told:
        read_catalogue(texts)
    return told.value.problems


def _with(texts, file, old, new):
    pattern = old if isinstance(old, re.Pattern) else re.compile(re.escape(old))
    assert pattern.search(texts[file]), "the words to take out are not in the file"
    return {**texts, file: pattern.sub(lambda _: new, texts[file], count=1)}


def _line(texts, problem):
    return texts[problem.file].splitlines()[problem.line - 1]


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_rule_is_told_at_its_line_with_what_to_do(name):
    file, old, new, on_the_line, said = BROKEN[name]
    texts = _with(shipped_texts(), file, old, new)
    found = [problem for problem in _problems(texts) if said in str(problem)]
    assert found, [str(problem) for problem in _problems(texts)]
    assert found[0].file == file
    assert on_the_line in _line(texts, found[0])
    assert found[0].todo


def test_a_missing_field_is_told_at_the_entry_that_lacks_it():
    texts = _with(shipped_texts(), SOLAR, re.compile(r"^severity = .*\n", re.MULTILINE), "")
    (problem,) = _problems(texts)
    assert "missing" in problem.wrong
    assert problem.field == "teach[0].severity"
    assert _line(texts, problem) == "[[teach]]"


def test_weights_that_do_not_sum_to_one_are_told_with_their_sum():
    texts = _with(shipped_texts(), SOLAR, re.compile(r"prior_weight = [0-9.]+"), "prior_weight = 0.99")
    (problem,) = _problems(texts)
    assert "they must sum to 1" in problem.wrong
    assert re.search(r"sum to 1\.\d", problem.wrong)
    assert _line(texts, problem) == "[[symptoms]]"


def test_an_emergency_with_checks_is_refused_because_its_words_come_first():
    texts = _with(shipped_texts(), SOLAR, 'says = "', 'emergency = true\nfirst = "Out."\nstop = "Stop."\nsays = "')
    (problem,) = _problems(texts)
    assert "emergency" in problem.wrong


@pytest.mark.parametrize(
    ("file", "kind"), [(TASKS, "task"), (KIT, "item"), (CHARGES, "charge")], ids=["task", "kit", "charge"]
)
def test_an_id_that_stands_twice_is_told_at_the_second(file, kind):
    texts = shipped_texts()
    first, second = re.findall(rf'^\[\[{kind}\]\]\nid = "(\w+)"', texts[file], re.MULTILINE)[:2]
    texts = _with(texts, file, f'[[{kind}]]\nid = "{second}"', f'[[{kind}]]\nid = "{first}"')
    (problem,) = [problem for problem in _problems(texts) if "stands already" in problem.wrong]
    assert problem.seen == first
    lines = texts[file].splitlines()
    assert problem.line - 1 == [n for n, line in enumerate(lines) if line == f'id = "{first}"'][1]


def test_a_teach_id_of_another_fitting_is_told_with_the_file_that_has_it():
    texts = _with(shipped_texts(), SOLAR, 'id = "so_truth"', 'id = "aw_rain"')
    (problem,) = [problem for problem in _problems(texts) if "stands already" in problem.wrong]
    assert problem.file == SOLAR
    assert "fittings/awning.toml" in problem.wrong
    assert _line(texts, problem) == 'id = "aw_rain"'


def test_a_circle_of_teach_points_across_fittings_is_named():
    texts = _with(shipped_texts(), "fittings/hookup.toml", 'id = "hu_order"', 'id = "hu_order"\nafter = ["fa_alarm"]')
    (problem,) = [problem for problem in _problems(texts) if problem.code == "cycle"]
    names = problem.seen.split(" -> ")
    assert names[0] == names[-1]
    assert {"hu_order", "fa_auto", "fa_alarm"} == set(names)


def test_a_circle_of_tasks_is_named():
    texts = _with(shipped_texts(), TASKS, "after = []", 'after = ["in_meters"]')
    assert any(problem.code == "cycle" and "in_park" in problem.seen for problem in _problems(texts))


def test_a_point_that_waits_for_a_later_moment_is_told():
    texts = _with(shipped_texts(), SOLAR, "moment = ", 'after = ["hb_full"]\nmoment = ')
    (problem,) = _problems(texts)
    assert problem.seen == "hb_full"
    assert "before the moment" in problem.wrong


def test_a_file_that_is_no_toml_is_told_at_its_line_and_does_not_blame_the_others():
    texts = _with(shipped_texts(), SOLAR, "kit = []", "kit = [")
    problems = _problems(texts)
    assert {problem.file for problem in problems} == {SOLAR}


def test_a_missing_file_is_told_by_its_name():
    texts = {name: text for name, text in shipped_texts().items() if name != KIT}
    assert [(problem.file, problem.code) for problem in _problems(texts)] == [(KIT, "missing-file")]


def test_a_fitting_whose_id_is_not_the_name_of_its_file_is_told():
    texts = shipped_texts()
    texts = {**{name: text for name, text in texts.items() if name != SOLAR}, "fittings/sun.toml": texts[SOLAR]}
    assert any(problem.file == "fittings/sun.toml" and problem.seen == "solar" for problem in _problems(texts))


def test_problems_of_every_file_are_told_at_once_in_the_order_of_files_and_lines():
    texts = shipped_texts()
    for file, old, new, _, _ in (BROKEN[n] for n in ("a misspelt field", "an unknown skill", "a kit rule for nobody")):
        texts = _with(texts, file, old, new)
    texts = _with(texts, "fittings/awning.toml", 'charges = ["', 'charges = ["no_such", "')
    problems = _problems(texts)
    assert {problem.file for problem in problems} == {SOLAR, TASKS, KIT, "fittings/awning.toml"}
    assert problems == sorted(problems)


def test_the_whole_message_has_a_line_for_each_problem():
    texts = _with(shipped_texts(), SOLAR, "kit = []", 'kit = ["one", "two"]')
    with pytest.raises(BrokenFolder) as told:
        read_catalogue(texts)
    assert str(told.value).count(SOLAR) == 2
