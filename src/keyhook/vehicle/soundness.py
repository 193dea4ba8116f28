"""Is a build sheet sound? Every slip at once: names that lead nowhere, things outside, masses that cannot be."""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from keyhook.catalogue import Catalogue
from keyhook.vehicle.build_sheet import BuildSheet, Ticket, Vehicle
from keyhook.vehicle.plan_view import plan_flaws

Loc = tuple[int | str, ...]

#: A ticket this far over the plate is a slip of the pen, not a load (common practice: vehicles stand empty on it).
FAR_OVER_FACTOR = 1.1
#: The shares of a rear group sum to 1 within this.
SHARE_TOLERANCE = 0.005
#: An enumeration in a message stops after so many names.
NAMES_SHOWN = 12


@dataclass(frozen=True, slots=True)
class Flaw:
    """One thing wrong with a record: where in it (keys and list positions), what, the value seen, what to do."""

    loc: Loc
    wrong: str
    seen: str
    todo: str
    code: str = "bad-reference"

    def under(self, *prefix: int | str) -> Flaw:
        """Return the same flaw of a record that stands inside another."""
        return Flaw((*prefix, *self.loc), self.wrong, self.seen, self.todo, self.code)


def unknown(loc: Loc, kind: str, name: str, known: Iterable[str]) -> Flaw:
    """Return the flaw of a name that nothing carries, with the nearest name as advice."""
    names = sorted(known)
    near = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    shown = ", ".join(names[:NAMES_SHOWN]) + (" ..." if len(names) > NAMES_SHOWN else "")
    todo = f"Did you mean {near[0]}?" if near else f"Use one of: {shown or 'none is known here yet'}"
    return Flaw(loc, f"no {kind} has this id", name, todo)


def twice(loc: Loc, field: str, kind: str, values: Iterable[object]) -> Iterator[Flaw]:
    """Yield a flaw for each value that stands a second time in a list at ``loc``."""
    counts: Counter[object] = Counter()
    for index, value in enumerate(values):
        counts[value] += 1
        if counts[value] > 1:
            yield Flaw(
                (*loc, index, field), f"a {kind} like this stands already above", str(value), "Give it its own", "twice"
            )


def sheet_flaws(sheet: BuildSheet, catalogue: Catalogue) -> list[Flaw]:
    """Return everything wrong with a build sheet that its fields alone do not show; empty when it is sound."""
    return [
        *_repeated(sheet),
        *_fitted(sheet, catalogue),
        *_axles(sheet, catalogue),
        *_seats(sheet),
        *_tanks(sheet),
        *ticket_flaws(sheet.tickets, sheet),
        *(Flaw(*told) for told in plan_flaws(sheet)),
    ]


def vehicle_flaws(vehicle: Vehicle, sheet: BuildSheet) -> list[Flaw]:
    """Return what is wrong with a vehicle of this sheet: its tickets, tyre names and quirks."""
    fitted = {fitted.fitting for fitted in sheet.fittings}
    tyres = {tyre.id for tyre in sheet.tyres}
    quirks = [
        unknown(("quirks", index, "fitting"), f"fitting of {sheet.id}", quirk.fitting, fitted)
        for index, quirk in enumerate(vehicle.quirks)
        if quirk.fitting and quirk.fitting not in fitted
    ]
    codes = [
        unknown(("tyre_date_codes", name), f"tyre of {sheet.id}", name, tyres)
        for name in vehicle.tyre_date_codes
        if name not in tyres
    ]
    early = [
        Flaw(("tickets", index, "taken_on"), "the ticket is older than the vehicle", str(ticket.taken_on), "Mend one")
        for index, ticket in enumerate(vehicle.tickets)
        if f"{ticket.taken_on:%Y-%m}" < vehicle.built
    ]
    repeated = twice(("tickets",), "id", "ticket", [ticket.id for ticket in vehicle.tickets])
    return [*quirks, *codes, *early, *repeated, *ticket_flaws(vehicle.tickets, sheet)]


def ticket_flaws(tickets: Iterable[Ticket], sheet: BuildSheet) -> Iterator[Flaw]:
    """Yield tickets whose masses cannot be, or that tell of water in a tank that is too small or not there."""
    for index, ticket in enumerate(tickets):
        yield from (flaw.under("tickets", index) for flaw in _one_ticket(ticket, sheet))


def _one_ticket(ticket: Ticket, sheet: BuildSheet) -> Iterator[Flaw]:
    limits = sheet.limits
    weighed = [
        ("front_kg", "the front axle", ticket.front_kg, limits.front_kg),
        ("rear_kg", "the rear axle", ticket.rear_kg, limits.rear_kg),
        ("rear_kg", "the whole vehicle", ticket.front_kg + ticket.rear_kg, limits.mam_kg),
    ]
    for field, what, mass_kg, limit_kg in weighed:
        if mass_kg > limit_kg * FAR_OVER_FACTOR:
            wrong = f"{what} weighs far more than its plate of {limit_kg:g} kg allows"
            yield Flaw((field,), wrong, f"{mass_kg:g}", "Read the ticket again, in kilograms", "mass-cannot-be")
    for field, litres, holds in _litres(ticket):
        tank = sheet.tank(holds)  # type: ignore[arg-type]
        if litres > (tank.capacity_l if tank else 0):
            wrong = f"more than the {holds} tank holds ({tank.capacity_l:g} l)" if tank else f"there is no {holds} tank"
            yield Flaw((field,), wrong, f"{litres:g}", "Mend the litres or the tank", "too-much-in-tank")


def _litres(ticket: Ticket) -> tuple[tuple[str, float, str], ...]:
    return (
        ("fresh_l", ticket.fresh_l, "fresh"),
        ("grey_l", ticket.grey_l, "grey"),
        ("boiler_l", ticket.boiler_l, "boiler"),
        ("cassette_l", ticket.cassette_l, "cassette"),
    )


def _repeated(sheet: BuildSheet) -> Iterator[Flaw]:
    lists: list[tuple[str, str, str, Iterable[object]]] = [
        ("tyres", "id", "tyre", [entry.id for entry in sheet.tyres]),
        ("tickets", "id", "ticket", [entry.id for entry in sheet.tickets]),
        ("seats", "id", "seat", [entry.id for entry in sheet.seats]),
        ("berths", "id", "berth", [entry.id for entry in sheet.berths]),
        ("stores", "id", "store", [entry.id for entry in sheet.stores]),
        ("tanks", "holds", "tank", [entry.holds for entry in sheet.tanks]),
        ("rooms", "id", "room", [entry.id for entry in sheet.rooms]),
        ("doors", "id", "door", [entry.id for entry in sheet.doors]),
        ("stations", "id", "station", [entry.id for entry in sheet.stations]),
        ("fittings", "fitting", "fitting", [entry.fitting for entry in sheet.fittings]),
        ("fittings", "find_it", "find-it number", [entry.find_it for entry in sheet.fittings]),
    ]
    for name, field, kind, values in lists:
        yield from twice((name,), field, kind, values)


def _fitted(sheet: BuildSheet, catalogue: Catalogue) -> Iterator[Flaw]:
    stations = {station.id for station in sheet.stations}
    for index, fitted in enumerate(sheet.fittings):
        if fitted.fitting not in catalogue.fittings:
            yield unknown(("fittings", index, "fitting"), "fitting", fitted.fitting, catalogue.fittings)
        if fitted.station not in stations:
            yield unknown(("fittings", index, "station"), "station", fitted.station, stations)


def _axles(sheet: BuildSheet, catalogue: Catalogue) -> Iterator[Flaw]:
    tyres = {tyre.id for tyre in sheet.tyres}
    for index, axle in enumerate(sheet.axles):
        if axle.tyre not in tyres:
            yield unknown(("axles", index, "tyre"), "tyre", axle.tyre, tyres)
    for index, tyre in enumerate(sheet.tyres):
        if tyre.load_index not in catalogue.load_index_kg:
            todo = "Read it off the tyre wall again"
            yield Flaw(("tyres", index, "load_index"), "no load index in the table", str(tyre.load_index), todo)
    yield from _axle_places(sheet)
    yield from _limits(sheet)


def _axle_places(sheet: BuildSheet) -> Iterator[Flaw]:
    if sheet.axles[0].x_m != 0:
        yield _bad(("axles", 0, "x_m"), "the front axle is where x is measured from", sheet.axles[0].x_m, "Write 0")
    for index, (before, axle) in enumerate(pairwise(sheet.axles), start=1):
        if axle.x_m <= before.x_m:
            yield _bad(("axles", index, "x_m"), "axles go from front to rear", axle.x_m, "Sort them")
    shares = sum(axle.load_share for axle in sheet.axles[1:])
    if abs(shares - 1) > SHARE_TOLERANCE:
        yield _bad(("axles",), "the load shares of the rear axles do not sum to 1", f"{shares:g}", "Mend load_share")


def _limits(sheet: BuildSheet) -> Iterator[Flaw]:
    limits = sheet.limits
    if limits.front_kg + limits.rear_kg < limits.mam_kg:
        both = f"{limits.front_kg:g} + {limits.rear_kg:g}"
        yield _bad(("limits", "mam_kg"), "the axles together carry less than the MAM", both, "Read the plate again")
    if limits.train_kg < limits.mam_kg:
        yield _bad(("limits", "train_kg"), "the train mass is below the MAM", limits.train_kg, "Read the plate again")
    if limits.unladen_kg and limits.unladen_kg >= limits.mam_kg:
        yield _bad(("limits", "unladen_kg"), "unladen it is as heavy as the MAM", limits.unladen_kg, "Mend one of them")


def _seats(sheet: BuildSheet) -> Iterator[Flaw]:
    drivers = sum(seat.driver for seat in sheet.seats)
    if drivers != 1:
        yield _bad(("seats",), "there must be one driver's seat", drivers, "Write driver = true on one seat")


def _tanks(sheet: BuildSheet) -> Iterator[Flaw]:
    for index, tank in enumerate(sheet.tanks):
        if tank.travel_l is not None and tank.travel_l > tank.capacity_l:
            wrong = f"advised on the road: more than the tank holds ({tank.capacity_l:g} l)"
            yield Flaw(
                ("tanks", index, "travel_l"), wrong, f"{tank.travel_l:g}", "Mend one of them", "too-much-in-tank"
            )


def _bad(loc: Loc, wrong: str, seen: object, todo: str) -> Flaw:
    return Flaw(loc, wrong, str(seen), todo, "not-sound")
