"""What the fittings of a build sheet together bring, each entry at its place and with its find-it number.

Everything here comes out of the sheet and the catalogue alone: add a fitting to the sheet, and its teach points,
checks, symptoms, loads, inspections and kit are there.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import Generic, TypeVar

from keyhook.catalogue import Catalogue, Fitting, Inspection, KitItem, Loads, Symptom, TeachPoint, TurnCheck, Use
from keyhook.catalogue.conditions import Facts, applies
from keyhook.errors import UnknownName
from keyhook.vehicle.build_sheet import BuildSheet, Fitted

T = TypeVar("T")

#: Kit of which the sheet says the number: a cylinder goes out for every place in the gas locker.
CYLINDER = "gas_cylinder"
#: Kit stowed here never leaves the yard.
YARD_STOCK = "yard"


@dataclass(frozen=True, slots=True)
class Placed(Generic[T]):
    """An entry of a fitting with the fitting's id, its station and its find-it number in this vehicle."""

    entry: T
    fitting: str
    station: str
    find_it: int


@dataclass(frozen=True, slots=True)
class PartyFacts:
    """What kit rules ask of a party.

    ``infants`` travel in a carrier, ``toddlers`` in a child seat, ``booster_children`` on a booster; nights away
    count as ``days``.
    """

    persons: int
    days: int
    infants: int = 0
    toddlers: int = 0
    booster_children: int = 0
    bikes: int = 0


@dataclass(frozen=True, slots=True)
class KitLine:
    """A piece of kit that goes out: how many, why (the condition that holds), and the fitting it belongs to."""

    item: KitItem
    count: int
    because: str
    fitting: str | None = None
    station: str | None = None
    find_it: int | None = None

    @property
    def mass_kg(self) -> float:
        """Mass of all pieces [kg]."""
        return self.item.mass_kg * self.count


def fitted_with(sheet: BuildSheet, catalogue: Catalogue) -> Iterator[tuple[Fitted, Fitting]]:
    """Yield each fitting of the sheet with what the catalogue knows of it, in the order of the sheet.

    Raises
    ------
    UnknownName
        The catalogue has no such fitting.
    """
    for fitted in sheet.fittings:
        if fitted.fitting not in catalogue.fittings:
            raise UnknownName("No fitting has this id", seen=fitted.fitting, todo=f"Mend the sheet {sheet.id}")
        yield fitted, catalogue.fittings[fitted.fitting]


def teach_points(sheet: BuildSheet, catalogue: Catalogue) -> tuple[Placed[TeachPoint], ...]:
    """Return every teach point of the vehicle, whatever the hire; the tour picks by its tags."""
    return _all(sheet, catalogue, lambda fitting: fitting.teach)


def turn_checks(sheet: BuildSheet, catalogue: Catalogue) -> tuple[Placed[TurnCheck], ...]:
    """Return every check between two hires."""
    return _all(sheet, catalogue, lambda fitting: fitting.checks)


def symptoms(sheet: BuildSheet, catalogue: Catalogue) -> tuple[Placed[Symptom], ...]:
    """Return every symptom that this vehicle can show."""
    return _all(sheet, catalogue, lambda fitting: fitting.symptoms)


def inspections(sheet: BuildSheet, catalogue: Catalogue) -> tuple[Placed[Inspection], ...]:
    """Return everything that falls due on this vehicle."""
    return _all(sheet, catalogue, lambda fitting: fitting.inspections)


def uses(sheet: BuildSheet, catalogue: Catalogue) -> tuple[Placed[Use], ...]:
    """Return what the fittings use up by person, day or distance."""
    return _all(sheet, catalogue, lambda fitting: fitting.uses)


def loads(sheet: BuildSheet, catalogue: Catalogue) -> tuple[Placed[Loads], ...]:
    """Return what each fitting draws, burns, holds and weighs; fittings without any are left out."""
    return _all(sheet, catalogue, lambda fitting: () if fitting.loads == Loads() else (fitting.loads,))


def charges(sheet: BuildSheet, catalogue: Catalogue) -> tuple[Placed[str], ...]:
    """Return the ids of the charges that may arise on this vehicle."""
    return _all(sheet, catalogue, lambda fitting: fitting.charges)


def _all(sheet: BuildSheet, catalogue: Catalogue, entries: Callable[[Fitting], Iterable[T]]) -> tuple[Placed[T], ...]:
    return tuple(
        Placed(entry, fitted.fitting, fitted.station, fitted.find_it)
        for fitted, fitting in fitted_with(sheet, catalogue)
        for entry in entries(fitting)
    )


def kit_for(
    sheet: BuildSheet,
    catalogue: Catalogue,
    party: PartyFacts,
    options: Collection[str] = (),
    tags: Collection[str] = (),
) -> tuple[KitLine, ...]:
    """Return the kit that goes out with this vehicle on this hire, in the order of the catalogue.

    A piece goes when one of its conditions holds and, where it belongs to fittings, one of them is fitted: no
    awning crank without an awning. Fractions round up. Pieces that stay in the yard are left out.
    """
    fitted = {entry.fitting: entry for entry, _ in fitted_with(sheet, catalogue)}
    asked = _Asked(sheet, party, Facts(tags=tags, fittings=fitted, options=options))
    owners = _owners(catalogue)
    lines: list[KitLine] = []
    for item in catalogue.kit.values():
        belongs_to = owners.get(item.id, ())
        here = [fitted[owner] for owner in belongs_to if owner in fitted]
        if here or not belongs_to:
            lines.extend(_line(item, here, asked))
    return tuple(lines)


@dataclass(frozen=True, slots=True)
class _Asked:
    """The vehicle, the party and the facts for which kit is counted."""

    sheet: BuildSheet
    party: PartyFacts
    facts: Facts


def _owners(catalogue: Catalogue) -> dict[str, tuple[str, ...]]:
    owners: dict[str, tuple[str, ...]] = {}
    for fitting in catalogue.fittings.values():
        for item in fitting.kit:
            owners[item] = (*owners.get(item, ()), fitting.id)
    return owners


def _line(item: KitItem, here: list[Fitted], asked: _Asked) -> Iterator[KitLine]:
    """Yield the line of an item that goes out; ``here`` are the fittings of this vehicle that it belongs to."""
    why = next((word for word in item.when if applies((word,), asked.facts)), None)
    count = 0 if why is None or item.stow == YARD_STOCK else _count(item, asked)
    if why and count:
        home = here[0] if here else None
        place = (home.fitting, home.station, home.find_it) if home else (None, None, None)
        yield KitLine(item, count, why, *place)


def _count(item: KitItem, asked: _Asked) -> int:
    """Return how many pieces go: units times number a unit, held between the rule's least and most, rounded up."""
    rule = item.rule
    units = _units(item, asked)
    if not units:
        return 0
    least = rule.min or 0.0
    most = math.inf if rule.max is None else rule.max
    return math.ceil(round(min(max(units * rule.n, least), most), 9))


def _units(item: KitItem, asked: _Asked) -> int:
    sheet, party = asked.sheet, asked.party
    if item.id == CYLINDER:
        return sheet.gas.cylinders if sheet.gas else 0
    counts = {
        "vehicle": 1,
        "option": 1,
        "person": party.persons,
        "belt": sum(seat.belt != "none" for seat in sheet.seats),
        "berth": sum(berth.sleeps for berth in sheet.berths),
        "infant": party.infants,
        "child": party.booster_children if "option:booster" in item.when else party.toddlers,
        "bike": party.bikes,
        "day": party.days,
        "person_day": party.persons * party.days,
        "fitting": sum(applies((word,), asked.facts) for word in item.when if word.startswith("fitting:")),
    }
    return counts[item.rule.per]
