"""The hand-overs of a plan: who leaves when in what, how surely, and whether that vehicle may leave with them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from keyhook.turnaround.clock import Clock
from keyhook.turnaround.recount import leaves_at
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.hires.giving import chip_in
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.panel import Chip
from keyhook_desk.yard.plan_reading import Laid


@dataclass(frozen=True)
class HandOver:
    """One hand-over of the day: who, in what, promised, leaving, how surely, and what that rests on.

    ``stop`` is the first thing for which the party may not leave in that vehicle as it stands, ``stop_words`` the
    loading answer in a word or two.
    """

    name: str
    lead: str
    vehicle: str
    promised: str
    leaves: str
    late_min: int
    percent: int | None
    verdict: str
    words: str
    safe: str
    pinned: bool
    instead_of: str
    lack: str = ""
    why: tuple[str, ...] = ()
    stop: str = ""
    stop_words: str = ""


def hand_overs(laid: Laid, clock: Clock, chains: Mapping[str, tuple[str, ...]]) -> list[HandOver]:
    """Return the hand-overs in order of their promises, each beside the vehicle that its hire has."""
    rows = HireRow.objects.filter(name__in=list(laid.problem.departure_by_id)).select_related("vehicle")
    hires = {row.name: row for row in rows}
    loadings = _loadings(laid, hires)
    chances = laid.figures.get("departures", {})
    found = []
    for departure in sorted(laid.problem.departures, key=lambda one: (one.promised_min, one.id)):
        vehicle = laid.plan.vehicle_of.get(departure.id) or ""
        leaves = leaves_at(laid.problem, laid.plan, departure.id)
        chance = chances.get(departure.id, {})
        late = max(0, leaves - departure.due) if leaves is not None else 0
        verdict, words = _verdict(vehicle, chance, late)
        row = hires.get(departure.id)
        has = row.vehicle.name if row is not None and row.vehicle else ""
        loading = loadings.get(departure.id)
        found.append(
            HandOver(
                name=departure.id,
                lead=row.lead if row is not None else departure.id,
                vehicle=vehicle,
                promised=f"{clock.moment(departure.promised_min):%H:%M}",
                leaves="" if leaves is None else f"{clock.moment(leaves):%H:%M}",
                late_min=late,
                percent=percent_of(chance) if chance else None,
                verdict=verdict,
                words=words,
                safe=f"{clock.moment(chance['promise_90']):%H:%M}" if chance else "",
                pinned=departure.id in laid.pinned_vehicles,
                instead_of=has if vehicle and has != vehicle else "",
                lack=laid.figures.get("lacks", {}).get(departure.id, "") if not vehicle else "",
                why=chains.get(departure.id, ()),
                stop=next(iter(loading.stops), "") if loading else "",
                stop_words=loading.words if loading else "",
            )
        )
    return found


def percent_of(chance: Mapping[str, Any]) -> int:
    """Return a chance as the page shows it; whatever is judged by it is judged by what is shown."""
    return round(100 * float(chance["on_time"]))


def _verdict(vehicle: str, chance: Mapping[str, Any], late: int) -> tuple[str, str]:
    if not vehicle:
        return "over", "put off"
    if not chance:
        return ("tight", f"{late} min late") if late else ("unknown", "chance being worked out")
    return verdict_of(percent_of(chance))


def verdict_of(percent: int) -> tuple[str, str]:
    """Return what a chance means, as the signs of the desk have it and in words."""
    if percent >= 90:  # noqa: PLR2004  # nine in ten
        return "fits", "on time"
    if percent >= 60:  # noqa: PLR2004  # three in five
        return "tight", "tight"
    return "over", "ring early"


def _loadings(laid: Laid, hires: Mapping[str, HireRow]) -> dict[str, Chip]:
    """Return the loading answer of each hire in the vehicle that the plan gives it."""
    named = {name: vehicle for name, vehicle in laid.plan.allotment if vehicle is not None and name in hires}
    rows = VehicleRow.objects.filter(name__in=named.values()).select_related("sheet")
    vehicles = {row.name: row for row in rows}
    return {name: chip_in(hires[name], vehicles[its]) for name, its in named.items() if its in vehicles}
