"""The line told for a field is the line it stands on, whatever the layout of the file.

Every value written is a number of its own, so the line is found a second way: by looking for that number.
"""

from __future__ import annotations

import re
import tomllib
from itertools import count

import pytest
import tomli_w
from hypothesis import given, settings
from hypothesis import strategies as st

from keyhook.errors import BrokenFolder
from keyhook.records_toml import LineIndex, read_toml

KEYS = st.text(st.sampled_from("abcxyz_-.é \"'[]#="), min_size=1, max_size=6)
LEAF = st.just("leaf")
TREES = st.dictionaries(
    KEYS,
    st.recursive(
        LEAF,
        lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(KEYS, inner, max_size=4)),
        max_leaves=12,
    ),
    max_size=5,
)


def _numbered(tree, numbers):
    if isinstance(tree, dict):
        return {key: _numbered(value, numbers) for key, value in tree.items()}
    if isinstance(tree, list):
        return [_numbered(value, numbers) for value in tree]
    return next(numbers)


def _leaves(tree, path=()):
    entries = tree.items() if isinstance(tree, dict) else enumerate(tree)
    for key, value in entries:
        if isinstance(value, dict | list):
            yield from _leaves(value, (*path, key))
        else:
            yield (*path, key), value


@given(TREES)
@settings(max_examples=150, deadline=None)
def test_the_line_of_every_value_is_the_line_it_stands_on(tree):
    numbered = _numbered(tree, count(1_000_001))
    text = tomli_w.dumps(numbered)
    lines, index = text.splitlines(), LineIndex(text)
    for path, number in _leaves(tomllib.loads(text)):
        (expected,) = [place for place, line in enumerate(lines, 1) if str(number) in line]
        assert index.line_of(path) == expected, (path, text)


@pytest.mark.parametrize(
    ("text", "path", "line"),
    [
        ("# a word\n\na = 1\n", ("a",), 3),
        ("[t]\n\n[[t.list]]\na = 1\n[[t.list]]\na = 2\n", ("t", "list", 1, "a"), 6),
        (
            "[[s]]\nid = 1\n  [[s.c]]\n  w = 1\n  [[s.c]]\n  w = 2\n[[s]]\n  [[s.c]]\n  w = 3\n",
            ("s", 1, "c", 0, "w"),
            9,
        ),
        ("a = [\n  1, # one\n  # a remark\n  2,\n]\n", ("a", 1), 4),
        ("a.b.c = 1\na.b.d = 2\n", ("a", "b", "d"), 2),
        ("t = {a = 1, b = {c = 2}}\n", ("t", "b", "c"), 1),
        ('x = """\nlong\ntext"""\ny = 1\n', ("y",), 4),
        ("a = 1\r\nb = 2\r\n", ("b",), 2),
        ('["k.e.y"]\nof = 1\n', ("k.e.y", "of"), 2),
        ("[[teach]]\nid = 1\n[[teach]]\nid = 2\n", ("teach", 1, "text"), 3),
    ],
)
def test_each_way_of_writing_toml_is_found(text, path, line):
    tomllib.loads(text)
    assert LineIndex(text).line_of(path) == line


@given(st.text(max_size=60))
@settings(max_examples=200, deadline=None)
def test_a_text_is_read_or_told_with_a_line_of_its_own_and_never_crashes(text):
    try:
        read_toml(text, "x.toml")
    except BrokenFolder as told:
        (problem,) = told.problems
        assert 1 <= problem.line <= max(1, len(re.split(r"\r\n|\n", text)))
        LineIndex(text)
