"""Masses where nobody told."""

from __future__ import annotations

import pytest

from keyhook.basis import Basis
from keyhook.errors import BadInput
from keyhook.hire.typical import BAGS_TOLD_LOW, food_mass, luggage_mass, luggage_per_person_kg, person_mass


def test_an_adult_weighs_what_type_approval_counts():
    # Regulation (EU) 1230/2012, Annex I, Part A, 2.6.2.1: 75 kg a passenger.
    mass = person_mass(44, None)
    assert (mass.mass_kg, mass.origin.basis) == (75, Basis.PUBLISHED)


@pytest.mark.parametrize(
    ("age_years", "mass_kg"),
    # Common practice of hire desks: infant, 2 to 5, 6 to 11, 12 to 17.
    [(0.7, 10), (2, 18), (5.9, 18), (6, 35), (11.9, 35), (12, 55), (17.9, 55), (18, 75)],
)
def test_a_child_weighs_what_is_usual_for_the_age(age_years, mass_kg):
    mass = person_mass(age_years, None)
    assert mass.mass_kg == mass_kg
    assert (mass.origin.basis == Basis.COMMON_PRACTICE) == (age_years < 18)


def test_what_was_told_counts_and_is_surer():
    told, guessed = person_mass(44, 96), person_mass(44, None)
    assert (told.mass_kg, told.origin.basis) == (96, Basis.TOLD)
    assert told.sd_kg < guessed.sd_kg


@pytest.mark.parametrize(("nights", "each_kg"), [(2, 12), (3, 12), (7, 18), (14, 22), (21, 22)])
def test_luggage_grows_with_the_hire(nights, each_kg):
    # Common practice: 12 kg a person for a weekend, 18 for a week, 22 for a fortnight.
    assert luggage_per_person_kg(nights) == each_kg
    assert luggage_mass(4, nights).mass_kg == 4 * each_kg


def test_food_is_five_kilograms_a_person_to_start_with():
    # Common practice.
    assert food_mass(3).mass_kg == 15
    assert food_mass(3).sd_kg > 0


def test_hirers_bring_a_third_more_than_they_say():
    # Common practice.
    assert 3 * BAGS_TOLD_LOW.value == pytest.approx(4, abs=0.02)
    assert BAGS_TOLD_LOW.basis is Basis.COMMON_PRACTICE


@pytest.mark.parametrize(("persons", "nights"), [(0, 7), (2, -1)])
def test_a_party_of_nobody_and_nights_below_zero_are_refused(persons, nights):
    with pytest.raises(BadInput, match="somebody in it"):
        luggage_mass(persons, nights)
