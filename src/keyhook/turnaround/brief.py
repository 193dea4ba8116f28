"""With what a task is done: its note in the catalogue, the pieces it lays out or counts, and what the party asked for.

Pieces come out of the kit rules for this vehicle and this hire, so that nobody packs a crank for an awning that is not
there. Nothing here names anybody: children who may need a seat are told by age and height (sources
``gb-seat-belts-1993``, ``eu-2003-20``); the label of the seat and the law where they drive decide.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from keyhook.catalogue import Catalogue
from keyhook.hire.hire import Hire
from keyhook.hire.party import BOOSTER_BELOW_YEARS, party_facts
from keyhook.phrases import say
from keyhook.vehicle.build_sheet import BuildSheet
from keyhook.vehicle.composition import KitLine, kit_for

#: Pieces by the option that brings them; whatever comes with another option is packed with what was ordered.
OF_CHILDREN = frozenset({"option:child_seat", "option:booster"})
OF_BEDS = frozenset({"option:bedding", "option:towels"})


@dataclass(frozen=True, slots=True)
class Brief:
    """What to have at hand: a sentence how (may be empty), and what, line by line."""

    how: str = ""
    what: tuple[str, ...] = ()


def brief_of(kind: str, catalogue: Catalogue, sheet: BuildSheet | None = None, hire: Hire | None = None) -> Brief:
    """Return with what a kind of task is done for a hire in a vehicle; without one of them only how.

    Parameters
    ----------
    kind
        A task of the catalogue; one that is none gives an empty brief.
    sheet
        The vehicle as built.
    hire
        The hire it is done for: for counting back the one that has returned.
    """
    task = catalogue.tasks.get(kind)
    how = task.note if task is not None else ""
    listed = _LISTED.get(kind)
    if listed is None or sheet is None or hire is None:
        return Brief(how)
    return Brief(how, listed(sheet, hire, catalogue))


def _kit(sheet: BuildSheet, hire: Hire, catalogue: Catalogue) -> tuple[KitLine, ...]:
    return kit_for(sheet, catalogue, party_facts(hire), hire.options, hire.tags)


def _lines(kit: tuple[KitLine, ...], wanted: Callable[[KitLine], bool]) -> tuple[str, ...]:
    return tuple(_piece(line) for line in kit if wanted(line))


def _piece(line: KitLine) -> str:
    return say("brief.piece", {"count": line.count, "name": line.item.name, "where": line.item.stow})


def _is_ordered(line: KitLine, catalogue: Catalogue) -> bool:
    """Tell whether a piece goes out because of an option or of what this party does, and not with every hire."""
    why = line.because
    apart = why.startswith("option:") or why in catalogue.tasks["pack_options"].when
    return apart and why not in OF_CHILDREN | OF_BEDS


def _by_the_sheet(sheet: BuildSheet, hire: Hire, catalogue: Catalogue) -> tuple[str, ...]:
    others = OF_CHILDREN | OF_BEDS
    return _lines(
        _kit(sheet, hire, catalogue),
        lambda one: one.item.kind == "returnable" and one.because not in others and not _is_ordered(one, catalogue),
    )


def _counted_back(sheet: BuildSheet, hire: Hire, catalogue: Catalogue) -> tuple[str, ...]:
    return _lines(_kit(sheet, hire, catalogue), lambda one: one.item.kind == "returnable")


def _ordered(sheet: BuildSheet, hire: Hire, catalogue: Catalogue) -> tuple[str, ...]:
    pieces = _lines(_kit(sheet, hire, catalogue), lambda one: _is_ordered(one, catalogue))
    bikes = (say("brief.bikes", {"count": len(hire.bikes)}),) if hire.bikes else ()
    return (*pieces, *bikes)


def _small_things(sheet: BuildSheet, hire: Hire, catalogue: Catalogue) -> tuple[str, ...]:
    return _lines(_kit(sheet, hire, catalogue), lambda one: one.item.kind == "consumable")


def _children(sheet: BuildSheet, hire: Hire, catalogue: Catalogue) -> tuple[str, ...]:
    pieces = _lines(_kit(sheet, hire, catalogue), lambda one: one.because in OF_CHILDREN)
    children = [person for person in hire.party if person.age_years < BOOSTER_BELOW_YEARS]
    told = []
    for child in sorted(children, key=lambda person: person.age_years):
        size = say("brief.size", {"cm": round(child.height_cm)}) if child.height_cm is not None else ""
        seat = say("brief.seat", {"seat": child.seat.replace("_", " ")}) if child.seat else ""
        told.append(say("brief.child", {"years": f"{child.age_years:g}", "size": size, "seat": seat}))
    return (*pieces, *told, say("brief.seat_law")) if pieces or told else ()


def _beds(sheet: BuildSheet, hire: Hire, catalogue: Catalogue) -> tuple[str, ...]:
    pieces = _lines(_kit(sheet, hire, catalogue), lambda one: one.because in OF_BEDS)
    sleeping = Counter(person.berth for person in hire.party if person.berth)
    names = {berth.id: berth.name for berth in sheet.berths}
    beds = tuple(
        say("brief.bed", {"bed": names[berth], "people": count}) for berth, count in sleeping.items() if berth in names
    )
    return (*pieces, *beds)


def _water(sheet: BuildSheet, hire: Hire, catalogue: Catalogue) -> tuple[str, ...]:
    _ = sheet, catalogue
    return (say("brief.water", {"litres": round(hire.fresh_l)}),) if hire.fresh_l is not None else ()


_LISTED: Mapping[str, Callable[[BuildSheet, Hire, Catalogue], tuple[str, ...]]] = {
    "in_count": _counted_back,
    "pack_kit": _by_the_sheet,
    "pack_options": _ordered,
    "pack_child": _children,
    "pack_beds": _beds,
    "pack_welcome": _small_things,
    "water_fill": _water,
}
