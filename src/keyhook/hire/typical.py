"""Masses where nobody told: what a person, their bags and their food usually weigh, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass

from keyhook.basis import Basis, Input
from keyhook.errors import BadInput

#: Upper age (years, exclusive), mass kg. The adult's 75 kg is published, the rest is common practice.
_BY_AGE = ((2.0, 10.0), (6.0, 18.0), (12.0, 35.0), (18.0, 55.0), (200.0, 75.0))
ADULT_KG = 75.0
#: Standard deviation of a person whose mass nobody told, as a share of the typical mass (assumption).
UNTOLD_PERSON_SD_SHARE = 0.18
#: Luggage a person by length of the hire: nights up to, kg (common practice: weekend, week, fortnight).
_LUGGAGE_BY_NIGHTS = ((4, 12.0), (10, 18.0), (10_000, 22.0))
FOOD_PER_PERSON_KG = 5.0
#: Standard deviation of a party's untold bags and food as a share: parties pack alike, so it is shared (assumption).
UNTOLD_BAGS_SD_SHARE = 0.30

#: What is usual about told masses, for whoever sets how far they are off.
BAGS_TOLD_LOW = Input(
    "bags brought over bags told", 1.33, "factor", "hirers bring a third more than they say", Basis.COMMON_PRACTICE
)
PEOPLE_TOLD_LOW = Input(
    "people weighed over people told", 1.02, "factor", "people tell a little less than they weigh", Basis.ASSUMPTION
)


@dataclass(frozen=True, slots=True)
class TypicalMass:
    """A mass with its spread (one standard deviation) and where it comes from."""

    mass_kg: float
    sd_kg: float
    origin: Input


def person_mass(
    age_years: float, told_kg: float | None, name: str = "person", *, told_sd_kg: float = 2.0
) -> TypicalMass:
    """Return the mass of a person: as told, else typical for the age.

    Parameters
    ----------
    age_years
        Age on the hire [years], 0 to 120.
    told_kg
        What they said [kg]; None when nobody told.
    name
        What the input is called where the figure is explained.
    told_sd_kg
        Standard deviation of a told mass [kg].
    """
    if told_kg is not None:
        return TypicalMass(told_kg, told_sd_kg, Input(name, told_kg, "kg", "told", Basis.TOLD))
    typical_kg = next(mass for below, mass in _BY_AGE if age_years < below)
    adult = typical_kg == ADULT_KG
    basis = Basis.PUBLISHED if adult else Basis.COMMON_PRACTICE
    origin = "passenger mass of Regulation (EU) 1230/2012, Annex I, A 2.6.2.1" if adult else "typical for the age"
    return TypicalMass(typical_kg, typical_kg * UNTOLD_PERSON_SD_SHARE, Input(name, typical_kg, "kg", origin, basis))


def luggage_per_person_kg(nights: int) -> float:
    """Return the luggage a person usually brings for so many nights, kg (common practice)."""
    return next(mass for upto, mass in _LUGGAGE_BY_NIGHTS if nights <= upto)


def luggage_mass(persons: int, nights: int) -> TypicalMass:
    """Return the bags of a party that told nothing [kg], with one shared spread.

    Parameters
    ----------
    persons
        How many travel, 1 or more.
    nights
        Nights of the hire, 0 or more.

    Raises
    ------
    BadInput
        Nobody travels, or the nights are negative.
    """
    _sensible(persons, nights)
    each_kg = luggage_per_person_kg(nights)
    return _shared("luggage", each_kg * persons, f"{each_kg:g} kg a person for {nights} nights")


def food_mass(persons: int) -> TypicalMass:
    """Return the food and drink a party starts with when it told nothing [kg] (common practice)."""
    _sensible(persons, 0)
    return _shared("food and drink", FOOD_PER_PERSON_KG * persons, f"{FOOD_PER_PERSON_KG:g} kg a person to start with")


def _shared(name: str, mass_kg: float, origin: str) -> TypicalMass:
    told = Input(name, mass_kg, "kg", origin, Basis.COMMON_PRACTICE)
    return TypicalMass(mass_kg, mass_kg * UNTOLD_BAGS_SD_SHARE, told)


def _sensible(persons: int, nights: int) -> None:
    if persons < 1 or nights < 0:
        seen = f"{persons} persons, {nights} nights"
        raise BadInput("A party has somebody in it and no negative nights", seen=seen, todo="Give the party first")
