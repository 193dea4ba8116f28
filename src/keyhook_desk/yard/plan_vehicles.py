"""Vehicles that a held plan gives hires otherwise than they have them: what differs, carried over, taken back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import Sum

from keyhook.errors import BadInput, UnknownName
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.hires.giving import Gift, Given, refusals
from keyhook_desk.hires.models import HireRow, VehiclesGiven
from keyhook_desk.hires.services import give_vehicles, take_vehicles_back
from keyhook_desk.people.models import User
from keyhook_desk.people.rights import require
from keyhook_desk.web.errors import EditedMeanwhile
from keyhook_desk.yard.models import HeldPlan
from keyhook_desk.yard.plan_reading import Laid, held, read_held


@dataclass(frozen=True, slots=True)
class Otherwise:
    """A hire to which the plan gives another vehicle than it has (``old`` empty: it has none); ``why_not`` if any."""

    hire: str
    lead: str
    version: int
    old: str
    new: str
    why_not: str

    @property
    def seen(self) -> str:
        """What the page sends back of it."""
        return f"{self.hire}:{self.version}"


@dataclass(frozen=True, slots=True)
class GivenBefore:
    """Vehicles that were given last on a day and can be taken back: who did it, and (hire, before, after) of each."""

    number: int
    by: str
    at: dt.datetime
    moves: tuple[tuple[str, str, str], ...]


def otherwise(laid: Laid) -> tuple[Otherwise, ...]:
    """Return the hires whose vehicle the plan changes, in order of their numbers."""
    wanted = {name: vehicle for name, vehicle in laid.plan.allotment if vehicle is not None}
    rows = HireRow.objects.filter(name__in=wanted).select_related("vehicle").order_by("name")
    differing = [
        row.pk
        for row in rows.defer("document", "news")
        if (row.vehicle.name if row.vehicle else None) != wanted[row.name]
    ]
    if not differing:
        return ()
    apart = list(rows.filter(pk__in=differing))
    named = {row.name: wanted[row.name] for row in apart}
    vehicles = {row.name: row for row in VehicleRow.objects.select_related("sheet").filter(name__in=named.values())}
    known = [row for row in apart if named[row.name] in vehicles]
    refused = refusals(known, {row.name: vehicles[named[row.name]] for row in known})
    gone = {row.name: f"There is no vehicle {named[row.name]} any more." for row in apart if row not in known}
    return tuple(
        Otherwise(
            row.name,
            row.lead,
            row.version,
            row.vehicle.name if row.vehicle else "",
            named[row.name],
            {**refused, **gone}.get(row.name, ""),
        )
        for row in apart
    )


def versions_of(row: HeldPlan) -> int:
    """Return a number that grows whenever one of the hires that a plan serves is saved."""
    names = [name for name, _ in row.document["plan"]["allotment"]]
    return HireRow.objects.filter(name__in=names).aggregate(versions=Sum("version"))["versions"] or 0


def given_last(day: dt.date) -> GivenBefore | None:
    """Return what was given last on a day, None when nothing was, it was taken back, or a hire was saved since."""
    row = VehiclesGiven.objects.filter(day=day, taken_back=False).select_related("by").first()
    if row is None:
        return None
    versions = dict(HireRow.objects.filter(name__in=[m["hire"] for m in row.moves]).values_list("name", "version"))
    if any(versions.get(move["hire"]) != move["version"] for move in row.moves):
        return None
    moves = tuple((move["hire"], move["from"] or "", move["to"] or "") for move in row.moves)
    return GivenBefore(row.pk, str(row.by), row.at, moves)


def give(*, day: dt.date, seen_version: int, seen: Mapping[str, int], by: User) -> Given:
    """Give hires the vehicles of the plan that people hold.

    Parameters
    ----------
    seen_version
        The version of the plan that was looked at.
    seen
        The hires it was shown for, each with the version that was looked at.

    Raises
    ------
    EditedMeanwhile
        The plan or one of the hires has changed since; nothing is written.
    """
    require(by, "hire.edit")
    row = held(day)
    if row is None:
        raise UnknownName("Nobody has planned this day yet", seen=day.isoformat(), todo="Plan the day first")
    if row.version != seen_version:
        wrong = f"The plan was changed meanwhile by {row.made_by}; no hire was given another vehicle"
        raise EditedMeanwhile(wrong, seen=f"version {row.version}", todo="Look at it and decide again")
    vehicles = read_held(row).plan.vehicle_of
    gifts = [Gift(name, version, vehicle) for name, version in seen.items() if (vehicle := vehicles.get(name))]
    if not gifts:
        raise BadInput("No hire is named that the plan gives a vehicle", todo="Look at the day again")
    return give_vehicles(actor=by, day=day, gifts=gifts, said=f", as the plan of {day:%-d %b} has it")


def take_back(*, number: int, by: User) -> tuple[str, ...]:
    """Put the hires back into the vehicles they had before."""
    return take_vehicles_back(actor=by, given_id=number)


def read_seen(texts: list[str]) -> dict[str, int]:
    """Return hires with their versions as the page sends them.

    Raises
    ------
    BadInput
        It is nothing that the page has sent.
    """
    found = {}
    for text in texts:
        name, _, version = text.partition(":")
        if not name or not version.isdecimal():
            raise BadInput("This names no hire", seen=text[:30], todo="Open the page again")
        found[name] = int(version)
    return found
