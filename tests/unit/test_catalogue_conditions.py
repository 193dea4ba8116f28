"""When something applies: tags of the hire, fittings, options, reports, gauges, intervals and the hire before."""

from __future__ import annotations

import pytest

from keyhook.catalogue import load_catalogue
from keyhook.catalogue.conditions import PREFIXES, Facts, applies
from keyhook.errors import BadInput

TOLD = [
    ("frost", Facts(tags={"frost"})),
    ("fitting:awning", Facts(fittings={"awning"})),
    ("option:bedding", Facts(options={"bedding"})),
    ("report:awning wet", Facts(reports={"awning wet"})),
    ("low:fuel", Facts(low={"fuel"})),
    ("every:90 days", Facts(due={"90 days"})),
    ("in:pets", Facts(tags_in={"pets"})),
]


@pytest.mark.parametrize("word", ["always", "every"])
def test_always_and_every_hold_for_a_hire_of_which_nothing_is_known(word):
    assert applies([word], Facts())


@pytest.mark.parametrize(("word", "facts"), TOLD, ids=lambda value: value if isinstance(value, str) else "")
def test_a_condition_holds_where_its_own_fact_is_true(word, facts):
    assert applies([word], facts)


@pytest.mark.parametrize(("word", "facts"), TOLD, ids=lambda value: value if isinstance(value, str) else "")
def test_a_condition_does_not_hold_for_the_facts_of_any_other_kind(word, facts):
    others = [other for name, other in TOLD if name != word]
    assert not any(applies([word], other) for other in others)
    assert not applies([word], Facts())


def test_a_tag_of_the_hire_that_came_back_is_not_one_of_the_hire_that_goes_out():
    assert applies(["in:pets"], Facts(tags_in={"pets"}))
    assert not applies(["in:pets"], Facts(tags={"pets"}))
    assert not applies(["pets"], Facts(tags_in={"pets"}))


def test_one_condition_that_holds_is_enough():
    assert applies(["frost", "ski"], Facts(tags={"ski"}))


def test_nothing_applies_where_no_condition_is_written():
    assert not applies([], Facts(tags={"frost"}))


def test_a_prefix_that_nobody_knows_is_refused_with_the_value_seen():
    with pytest.raises(BadInput) as told:
        applies(["weather:rain"], Facts())
    assert "weather:rain" in str(told.value)


def test_every_prefix_is_covered_here():
    assert {word.partition(":")[0] + ":" for word, _ in TOLD if ":" in word} == set(PREFIXES)


def test_a_point_for_frost_is_shown_to_a_hire_in_frost_and_to_no_other():
    point = load_catalogue().teach_point("gt_frost")
    assert applies(point.when, Facts(tags={"frost"}))
    assert not applies(point.when, Facts(tags={"heat", "children"}))
