"""From build sheet, catalogue and hire to the points a tour can show, and to those that belong elsewhere.

Only points at the vehicle and at the wheel are for the tour. What is better told before collection, at the first
stop, on the first evening, when the occasion comes or before the return is listed for the pack.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from keyhook.basis import Basis, Because, Input
from keyhook.catalogue import Catalogue, TeachPoint
from keyhook.catalogue.conditions import Facts, applies
from keyhook.errors import BadInput, UnknownName
from keyhook.hire.hire import Hire
from keyhook.hire.party import BOOSTER_BELOW_YEARS, INFANT_BELOW_YEARS
from keyhook.tour.problem import TourPoint, TourProblem
from keyhook.vehicle.build_sheet import BuildSheet, Quirk, Station
from keyhook.vehicle.composition import Placed, teach_points
from keyhook.vehicle.doors import WalkingMap, walking_map

#: Minutes for the tour when nobody says otherwise, and more for people who have never done it (common practice).
TOUR_MIN, FIRST_TIMER_MORE_MIN = 40.0, 15.0
#: Seconds to say what is true of this one vehicle only (assumption: one sentence and a look).
QUIRK_S = 10.0
#: Above this maximum mass other rules hold.
OVER35_KG = 3500.0
ON_THE_TOUR = ("walk", "drive_off")


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of one point of this vehicle: catalogue entry, fitting, place, and why it is worth what it is.

    ``loss_cost`` is the expected loss when nobody tells them anything; ``entry`` is None for a quirk.
    """

    id: str
    text: str
    why: str
    who: str
    kind: str
    moment: str
    mandatory: bool
    title: str
    station: str
    find_it: int
    where: str
    loss_cost: float
    value_cost: float
    because: Because
    entry: TeachPoint | None = None


@dataclass(frozen=True, slots=True)
class ComposedTour:
    """The problem with what is known of its points, and the points whose moment is another one.

    ``unsettled`` are those that must be settled before collection and are not confirmed.
    """

    problem: TourProblem
    known: Mapping[str, Known]
    elsewhere: tuple[Known, ...]
    unsettled: tuple[Known, ...]
    tags: frozenset[str]
    talk_because: Because
    minutes_because: Because


@dataclass(frozen=True, slots=True)
class TourWishes:
    """What the desk may say besides the hire.

    ``confirmed`` are points the hirer has already confirmed in their pack, ``learnt`` factors by point from this
    depot's own calls and charges, ``quirks`` those of the vehicle. ``pace_factor`` is above 1 for a party that is
    known to be slow. ``filmed``: nobody stands there to ask or to try, so points are said in the words for whoever is
    alone with them, and nothing is settled before.
    """

    available_min: float | None = None
    quirks: Sequence[Quirk] = ()
    confirmed: Collection[str] = ()
    learnt: Mapping[str, float] = field(default_factory=dict)
    start_station: str | None = None
    pace_factor: float = 1.0
    filmed: bool = False


def compose_tour(sheet: BuildSheet, catalogue: Catalogue, hire: Hire, wishes: TourWishes | None = None) -> ComposedTour:
    """Return the tour problem of one hire in one vehicle.

    Raises
    ------
    UnknownName
        A fitting that the catalogue does not know, or a station that is not on the sheet or cannot be reached.
    BadInput
        Minutes, factors or stations that cannot be.
    """
    return compose_for(sheet, catalogue, tags_of(sheet, hire), hire.options, wishes or TourWishes())


def compose_for(
    sheet: BuildSheet, catalogue: Catalogue, tags: frozenset[str], options: Collection[str], wishes: TourWishes
) -> ComposedTour:
    """Return the tour problem of a party of which the tags and the options booked are known; raises as above."""
    end = end_station(sheet)
    known = {one.id: one for one in _known(sheet, catalogue, tags, options, wishes)}
    on_tour = [one for one in known.values() if one.moment in ON_THE_TOUR]
    talk_factor, talk_because = _filmed() if wishes.filmed else _talk_factor(catalogue, tags)
    available_min, minutes_because = _minutes(wishes.available_min, tags)
    ways = walking_map(sheet)
    problem = TourProblem(
        points=tuple(_tour_point(one, end.id) for one in on_tour),
        stations=tuple(station.id for station in sheet.stations),
        walking_s=_walking_s(sheet, ways, {end.id, *(one.station for one in on_tour)}),
        start_station=wishes.start_station or start_station(sheet).id,
        end_station=end.id,
        available_min=available_min,
        talk_factor=talk_factor,
        pace_factor=wishes.pace_factor,
        station_names={station.id: station.name for station in sheet.stations},
    )
    elsewhere = tuple(one for one in known.values() if one.moment not in ON_THE_TOUR)
    open_still = () if wishes.filmed else elsewhere
    unsettled = tuple(one for one in open_still if one.mandatory and one.id not in wishes.confirmed)
    return ComposedTour(problem, known, elsewhere, unsettled, tags, talk_because, minutes_because)


def tags_of(sheet: BuildSheet, hire: Hire) -> frozenset[str]:
    """Return the tags of the hire with those that its party, bikes, pets, trailer and vehicle mean by themselves.

    A child who travels is a child whether or not somebody ticked the box.
    """
    implied = {
        "children": any(person.age_years < BOOSTER_BELOW_YEARS for person in hire.party),
        "infant": any(person.age_years < INFANT_BELOW_YEARS for person in hire.party),
        "bikes": bool(hire.bikes),
        "pets": bool(hire.pets),
        "towing": hire.trailer is not None,
        "hookup": any(leg.hookup_amps for leg in hire.trip.legs),
    }
    return vehicle_tags(sheet) | {*hire.tags, *(tag for tag, holds in implied.items() if holds)}


def vehicle_tags(sheet: BuildSheet) -> frozenset[str]:
    """Return the tags that the vehicle means by itself, whoever hires it."""
    return frozenset({"over35"} if sheet.limits.mam_kg > OVER35_KG else ())


def start_station(sheet: BuildSheet) -> Station:
    """Return the station outside the living door: there the party comes to the vehicle."""
    rooms = {room.id for room in sheet.rooms if room.under is None and room.id != "cab"}
    doors = [door for door in sheet.doors if "outside" in door.joins and set(door.joins) & rooms]
    outside = [station for station in sheet.stations if station.side != "inside"] or list(sheet.stations)
    if not doors or not outside:
        return _first_station(sheet)
    return min(outside, key=lambda at: (math.dist((at.x_m, at.y_m), (doors[0].x_m, doors[0].y_m)), at.id))


def end_station(sheet: BuildSheet) -> Station:
    """Return the station inside that is nearest to the driver's seat: there the tour ends."""
    seat = next((seat for seat in sheet.seats if seat.driver), sheet.seats[0])
    inside = [station for station in sheet.stations if station.side == "inside"]
    if not inside:
        return _first_station(sheet)
    return min(inside, key=lambda at: (math.dist((at.x_m, at.y_m), (seat.x_m, seat.y_m)), at.id))


def _first_station(sheet: BuildSheet) -> Station:
    if not sheet.stations:
        raise BadInput("The vehicle has no station, so there is nowhere to stand", seen=sheet.id, todo="Add stations")
    return sheet.stations[0]


def _walking_s(sheet: BuildSheet, ways: WalkingMap, needed: Collection[str]) -> dict[tuple[str, str], float]:
    """Return the seconds between stations; a station with a point that no door leads to is named."""
    placed = {station.id: station.name for station in sheet.stations}
    end = end_station(sheet).id
    for station in sorted(needed):
        if station not in placed:
            fittings = ", ".join(fitted.fitting for fitted in sheet.fittings if fitted.station == station)
            raise UnknownName(
                f"The station of {fittings} has no place on the sheet {sheet.id}", seen=station, todo="Add the station"
            )
        if (station, end) not in ways.walks:
            raise UnknownName("No door leads to this station", seen=placed[station], todo="Mend its room or the doors")
    return {pair: walk.duration_s for pair, walk in ways.walks.items()}


def _known(
    sheet: BuildSheet, catalogue: Catalogue, tags: frozenset[str], options: Collection[str], wishes: TourWishes
) -> Iterator[Known]:
    facts = Facts(tags=tags, fittings={fitted.fitting for fitted in sheet.fittings}, options=options)
    where = {fitted.fitting: fitted.where for fitted in sheet.fittings}
    seen: set[str] = set()
    for placed in teach_points(sheet, catalogue):
        if placed.entry.id not in seen and applies(placed.entry.when, facts):
            seen.add(placed.entry.id)
            yield _known_point(placed, catalogue, where[placed.fitting], wishes)
    homes = {fitted.fitting: (fitted.station, fitted.find_it) for fitted in sheet.fittings}
    for number, quirk in enumerate(wishes.quirks, start=1):
        if quirk.tell_hirer:
            yield _known_quirk(number, quirk, homes, catalogue, end_station(sheet).id)


def _known_point(placed: Placed[TeachPoint], catalogue: Catalogue, where: str, wishes: TourWishes) -> Known:
    point = placed.entry
    loss_cost, value_cost, because = worth(
        point, catalogue, confirmed=point.id in wishes.confirmed, learnt_factor=wishes.learnt.get(point.id, 1.0)
    )
    return Known(
        id=point.id,
        text=(wishes.filmed and point.alone) or point.text,
        why=point.why,
        who=point.who,
        kind=point.kind,
        moment=point.moment,
        mandatory=point.must,
        title=catalogue.fittings[placed.fitting].name,
        station=placed.station,
        find_it=placed.find_it,
        where=where,
        loss_cost=loss_cost,
        value_cost=value_cost,
        because=because,
        entry=point,
    )


def _known_quirk(
    number: int, quirk: Quirk, homes: Mapping[str, tuple[str, int]], catalogue: Catalogue, end: str
) -> Known:
    station, find_it = homes.get(quirk.fitting or "", (end, 0))
    at_the_wheel = not find_it
    return Known(
        id=f"quirk_{number}",
        text=quirk.text,
        why="It is so in this one vehicle and stands on no sheet",
        who="all adults",
        kind="nuisance",
        moment="drive_off" if at_the_wheel else "walk",
        mandatory=True,
        title=catalogue.fittings[quirk.fitting].name if quirk.fitting and find_it else "This vehicle",
        station=station,
        find_it=find_it,
        where="",
        loss_cost=0.0,
        value_cost=0.0,
        because=Because("said always, so it needs no value", (), Basis.ASSUMPTION),
    )


def worth(
    point: TeachPoint, catalogue: Catalogue, *, confirmed: bool = False, learnt_factor: float = 1.0
) -> tuple[float, float, Because]:
    """Return the expected loss when nobody tells them, what showing saves of it, and why.

    What a message already saved when they confirmed it is not saved again.
    """
    if not math.isfinite(learnt_factor) or learnt_factor < 0:
        raise BadInput(f"The learnt factor of {point.id} cannot be this", seen=learnt_factor, todo="Give 0 or more")
    scales = catalogue.scales
    for_people = point.kind == "safety" and point.severity == len(scales.severity_cost)
    cost = scales.severity5_safety_cost if for_people else scales.severity_cost[point.severity - 1]
    loss_cost = point.miss_share * point.bite_share * cost * learnt_factor
    before_share = scales.message_factor if confirmed else 1.0
    saved_share = max(before_share - scales.told_factor, 0.0)
    inputs = (
        Input("get it wrong when not told", point.miss_share, "share", "catalogue", Basis.COMMON_PRACTICE),
        Input("of those, come to harm", point.bite_share, "share", "catalogue", Basis.COMMON_PRACTICE),
        Input(
            "what the harm costs",
            cost,
            "",
            "injury, for ranking only" if for_people else scales.severity_words[point.severity - 1],
            Basis.ASSUMPTION if for_people else Basis.COMMON_PRACTICE,
        ),
        Input("wrong before the tour", before_share, "share", "confirmed in the pack" if confirmed else "nobody told"),
        Input("still wrong after telling", scales.told_factor, "share", "catalogue", Basis.COMMON_PRACTICE),
        Input("learnt here", learnt_factor, "factor", "calls and charges of this depot", Basis.MEASURED),
    )
    formula = "miss x bite x cost x learnt x (wrong before - still wrong after)"
    return loss_cost, loss_cost * saved_share, Because(formula, inputs[: 5 + (learnt_factor != 1.0)])


def _tour_point(one: Known, end: str) -> TourPoint:
    closing = one.moment == "drive_off"
    return TourPoint(
        id=one.id,
        station=end if closing else one.station,
        duration_s=one.entry.duration_s if one.entry else QUIRK_S,
        value_cost=one.value_cost,
        mandatory=one.mandatory,
        after=one.entry.after if one.entry else (),
        closing=closing,
        title=one.title,
        text=one.text,
        find_it=one.find_it,
    )


def _talk_factor(catalogue: Catalogue, tags: frozenset[str]) -> tuple[float, Because]:
    scales = catalogue.scales
    slow = "first_timer" in tags and bool(tags & {"children", "infant"})
    factor = scales.talk_factor_first_timer_children if slow else scales.talk_factor
    why = "first time, with children" if slow else "questions, and the hirer doing it"
    return factor, Because("seconds in the catalogue x this", (Input(why, factor, "factor", "catalogue"),))


def _filmed() -> tuple[float, Because]:
    why = Input("nobody asks back in a film", 1.0, "factor", "", Basis.ASSUMPTION)
    return 1.0, Because("seconds in the catalogue x this", (why,), Basis.ASSUMPTION)


def _minutes(given_min: float | None, tags: frozenset[str]) -> tuple[float, Because]:
    if given_min is not None:
        return given_min, Because("as the desk says", (Input("minutes", given_min, "min", "desk", Basis.TOLD),))
    more_min = FIRST_TIMER_MORE_MIN if "first_timer" in tags else 0.0
    usual = Input("usual tour", TOUR_MIN, "min", "", Basis.COMMON_PRACTICE)
    first = Input("first time", more_min, "min", "", Basis.COMMON_PRACTICE)
    return TOUR_MIN + more_min, Because("usual + first time", (usual, first), Basis.COMMON_PRACTICE)
