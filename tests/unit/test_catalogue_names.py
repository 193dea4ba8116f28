"""Every name inside the catalogue has words for a person, and no words stand for a name that is gone."""

from __future__ import annotations

from typing import get_args

import pytest

from keyhook.catalogue import load_catalogue
from keyhook.catalogue.models import Moment, Skill
from keyhook.catalogue.texts import KINDS
from keyhook.hire.hire import Tag
from keyhook.phrases import phrase_book, say

CATALOGUE = load_catalogue()
POINTS = list(CATALOGUE.teach_points.values())

NAMES = {
    "group": {fitting.group for fitting in CATALOGUE.fittings.values()},
    "kind": {point.kind for point in POINTS},
    "severity": {str(number) for number in range(1, len(CATALOGUE.severity_cost) + 1)},
    "moment": set(get_args(Moment)),
    "tag": set(CATALOGUE.scales.tags),
    "skill": set(get_args(Skill)),
    "place": set(CATALOGUE.places),
    "phase": {task.phase for task in CATALOGUE.tasks.values()},
}


@pytest.mark.parametrize("kind", NAMES)
def test_each_name_has_its_words_and_no_words_are_left_over(kind):
    prefix = f"catalogue.{kind}."
    assert {key.removeprefix(prefix) for key in phrase_book() if key.startswith(prefix)} == NAMES[kind]


def test_the_words_are_what_the_book_says():
    assert say("catalogue.place.handover_lane") == "hand-over lane"


def test_the_hire_tags_of_catalogue_and_hires_are_the_same():
    assert set(CATALOGUE.scales.tags) == set(get_args(Tag))


def test_no_fitting_is_called_like_a_kind_of_record_so_that_keys_of_texts_stay_apart():
    assert not set(KINDS) & set(CATALOGUE.fittings)
