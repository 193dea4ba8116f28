"""What the party of a hire comes to: how many, how old, for how many nights."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from keyhook.hire.hire import Hire, Person
from keyhook.vehicle.composition import PartyFacts

#: Up to this age, 15 months, a child travels in a rear-facing carrier (source ``un-r129``).
INFANT_BELOW_YEARS = 1.25
#: From here on a booster does (common practice; the seat's own label decides).
BOOSTER_FROM_YEARS = 4.0
#: No booster from the 12th birthday or this height on, whichever comes first (source ``gb-seat-belts-1993``).
BOOSTER_BELOW_YEARS = 12.0
BOOSTER_BELOW_CM = 135.0
#: Countries of the Union may ask for one up to here, or permit the adult belt from 135 cm (source ``eu-2003-20``).
BOOSTER_BELOW_ABROAD_CM = 150.0


def nights_of(hire: Hire) -> int:
    """Return the nights of a hire: local days from collection to return."""
    zone = ZoneInfo(hire.zone)
    return (hire.return_at.astimezone(zone).date() - hire.collect_at.astimezone(zone).date()).days


def party_facts(hire: Hire) -> PartyFacts:
    """Return what kit rules ask of the party of a hire; seats are sorted by age and height, the desk decides."""
    abroad = "abroad" in hire.tags
    ages = [person.age_years for person in hire.party]
    return PartyFacts(
        persons=len(hire.party),
        days=max(nights_of(hire), 1),
        infants=sum(age < INFANT_BELOW_YEARS for age in ages),
        toddlers=sum(INFANT_BELOW_YEARS <= age < BOOSTER_FROM_YEARS for age in ages),
        booster_children=sum(_needs_booster(person, abroad=abroad) for person in hire.party),
        bikes=len(hire.bikes),
    )


def _needs_booster(person: Person, *, abroad: bool) -> bool:
    """Tell whether a booster should go out for somebody; where nobody told the height, it does."""
    below_cm = BOOSTER_BELOW_ABROAD_CM if abroad else BOOSTER_BELOW_CM
    small = person.height_cm is None or person.height_cm < below_cm
    return small and BOOSTER_FROM_YEARS <= person.age_years < BOOSTER_BELOW_YEARS
