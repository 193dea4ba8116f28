"""Joins the computations: one answer for one hire, one day for the depot."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from keyhook.catalogue import Catalogue
from keyhook.depot.day import departures_on, returns_on
from keyhook.depot.folder import DepotFolder
from keyhook.depot.tariff import Tariff
from keyhook.errors import BadInput
from keyhook.hire.hire import Hire
from keyhook.loading.answer import loading_answer
from keyhook.loading.lightening import Lightening
from keyhook.loading.outcome import LoadingAnswer
from keyhook.loading.packing import lightest_change
from keyhook.loading.swap import SwapLine, fitted_to, swap_table
from keyhook.pack.content import Pack, PackAsked, compose_pack
from keyhook.pack.trip import Locker, Pressure, TripLoad
from keyhook.tour.answer import tour_answer
from keyhook.tour.compose import TourWishes, compose_tour, tags_of
from keyhook.tour.coverage import TourCheck, tour_check
from keyhook.tour.film import FilmAsked, film_tour
from keyhook.tour.learning import learnt_factors
from keyhook.tour.outcome import TourAnswer
from keyhook.tour.replan import Progress, planned_again
from keyhook.vehicle.build_sheet import BuildSheet, Quirk


@dataclass(frozen=True, slots=True)
class HireLoading:
    """The loading of one hire with the vehicle it was answered for and, when too heavy, the least change."""

    hire: Hire
    vehicle: str
    sheet: BuildSheet
    answer: LoadingAnswer
    change: Lightening | None


@dataclass(frozen=True, slots=True)
class HireTour:
    """The tour of one hire with the vehicle it was planned for."""

    hire: Hire
    vehicle: str
    sheet: BuildSheet
    answer: TourAnswer


@dataclass(frozen=True, slots=True)
class SheetTour:
    """The tour for a film of a build sheet, for a typical party."""

    sheet: BuildSheet
    answer: TourAnswer


@dataclass(frozen=True, slots=True)
class RecordedTour:
    """What a recording covers of the vehicle or class it shows."""

    shows: str
    sheet: BuildSheet
    check: TourCheck


@dataclass(frozen=True, slots=True)
class DayReturn:
    """A vehicle that comes back on the day; ``out_again_at`` when it leaves again on it."""

    hire: Hire
    due: dt.datetime
    out_again_at: dt.datetime | None
    turn_min: int | None


@dataclass(frozen=True, slots=True)
class DayDeparture:
    """A hire that leaves on the day, with its loading; None while it has no vehicle."""

    hire: Hire
    due: dt.datetime
    loading: LoadingAnswer | None


@dataclass(frozen=True, slots=True)
class DepotDay:
    """One day of the depot."""

    day: dt.date
    returns: tuple[DayReturn, ...]
    departures: tuple[DayDeparture, ...]


def hire_loading(folder: DepotFolder, hire_id: str, catalogue: Catalogue, *, vehicle: str | None = None) -> HireLoading:
    """Return the loading of a hire in its own vehicle, or in another one of the yard.

    Raises
    ------
    UnknownName
        No such hire or vehicle.
    BadInput
        The hire has neither vehicle nor class.
    """
    hire, name, sheet = _served(folder, hire_id, vehicle)
    answer = loading_answer(sheet, hire, catalogue)
    change = lightest_change(sheet, answer) if answer.wants_repacking else None
    return HireLoading(hire, name, sheet, answer, change)


def hire_tour(
    folder: DepotFolder,
    hire_id: str,
    catalogue: Catalogue,
    wishes: TourWishes | None = None,
    *,
    vehicle: str | None = None,
    progress: Progress | None = None,
) -> HireTour:
    """Return the tour of a hire in its own vehicle, or in another one of the yard; the rest of it with ``progress``.

    The quirks of the vehicle and what the depot has learnt join those of the wishes.

    Raises
    ------
    UnknownName
        No such hire or vehicle; a station, point or fitting that is not there.
    BadInput
        The hire has neither vehicle nor class; minutes or factors that cannot be.
    NoPlan
        Teach points wait for one another in a circle.
    """
    hire, name, sheet = _served(folder, hire_id, vehicle)
    wishes = wishes or TourWishes()
    known = folder.vehicles[name].quirks if name in folder.vehicles else ()
    learnt = {**learnt_factors(folder.depot.learnt, catalogue), **wishes.learnt}
    wishes = replace(wishes, quirks=(*known, *wishes.quirks), learnt=learnt)
    currency = folder.depot.currency
    if progress is None:
        return HireTour(hire, name, sheet, tour_answer(sheet, catalogue, hire, wishes, currency=currency))
    composed = compose_tour(sheet, catalogue, hire, wishes)
    return HireTour(hire, name, sheet, planned_again(composed, catalogue, progress, currency=currency))


def sheet_tour(
    folder: DepotFolder,
    catalogue: Catalogue,
    asked: FilmAsked | None = None,
    *,
    vehicle: str | None = None,
    sheet: str | None = None,
) -> SheetTour:
    """Return the tour for a film of a build sheet, named by itself or by one of its vehicles.

    Raises
    ------
    BadInput
        Neither or both are named; minutes that cannot be.
    UnknownName
        No such vehicle, sheet or tag.
    """
    if vehicle and sheet:
        raise BadInput("A film shows one build sheet", seen=f"{vehicle} and {sheet}", todo="Name one of them")
    if not vehicle and not sheet:
        raise BadInput(
            "Nobody said whose tour it is",
            todo="Name a hire, or for a film --sheet or --vehicle; keyhook day lists hires",
        )
    shown = folder.sheet(sheet or folder.vehicle(vehicle or "").sheet)
    learnt = learnt_factors(folder.depot.learnt, catalogue)
    return SheetTour(shown, film_tour(shown, catalogue, asked, currency=folder.depot.currency, learnt=learnt))


def recorded_tour(
    folder: DepotFolder,
    recording: str,
    catalogue: Catalogue,
    *,
    vehicle: str | None = None,
    sheet: str | None = None,
    hire_id: str | None = None,
) -> RecordedTour:
    """Return what a recorded tour covers, by its text; with a hire, what applies to its party is expected too.

    Raises
    ------
    BadInput
        The recording cannot be read, or nobody said which vehicle it shows, or two were named.
    UnknownName
        No such vehicle, sheet or hire.
    """
    if vehicle and sheet:
        raise BadInput("A recording shows one vehicle", seen=f"{vehicle} and {sheet}", todo="Name one of them")
    hire = folder.hire(hire_id) if hire_id else None
    shows = vehicle or sheet or (hire and (hire.vehicle or hire.wanted_sheet))
    if not shows:
        raise BadInput("Nobody said which vehicle the recording shows", todo="Name a vehicle, a sheet or a hire")
    shown = folder.built(shows) if vehicle or (hire and shows == hire.vehicle) else folder.sheet(shows)
    check = tour_check(
        recording,
        shown,
        catalogue,
        tags=tags_of(shown, hire) if hire else (),
        options=hire.options if hire else (),
        currency=folder.depot.currency,
        learnt=learnt_factors(folder.depot.learnt, catalogue),
    )
    return RecordedTour(shows, shown, check)


def _served(folder: DepotFolder, hire_id: str, vehicle: str | None) -> tuple[Hire, str, BuildSheet]:
    """Return a hire as the vehicle takes it, the name of the vehicle (of the class, while it has none), its sheet."""
    hire = folder.hire(hire_id)
    sheet = folder.built(vehicle) if vehicle else folder.sheet_of(hire)
    if sheet is None:
        raise BadInput("The hire has no vehicle and no class", seen=hire_id, todo="Name a vehicle with --vehicle")
    if vehicle and vehicle != hire.vehicle:
        hire = fitted_to(sheet, hire)
    return hire, vehicle or hire.vehicle or sheet.id, sheet


def hire_swaps(folder: DepotFolder, hire_id: str, catalogue: Catalogue) -> tuple[SwapLine, ...]:
    """Return a hire through every vehicle of the yard, best first."""
    return swap_table({name: folder.built(name) for name in folder.vehicles}, folder.hire(hire_id), catalogue)


def depot_day(folder: DepotFolder, day: dt.date, catalogue: Catalogue) -> DepotDay:
    """Return who comes back and who leaves on a local day, with the loading of each departure."""
    zone = ZoneInfo(folder.depot.zone)
    returns = tuple(
        DayReturn(
            found.hire,
            found.due,
            found.next_hire.collect_at.astimezone(zone)
            if found.next_hire and found.next_hire.collect_at.astimezone(zone).date() == day
            else None,
            found.turn_min,
        )
        for found in returns_on(folder, day)
    )
    departures = []
    for found in departures_on(folder, day):
        sheet = folder.sheet_of(found.hire)
        answer = loading_answer(sheet, found.hire, catalogue, on_day=day) if sheet else None
        departures.append(DayDeparture(found.hire, found.due, answer))
    return DepotDay(day, returns, tuple(departures))


def hire_pack(
    sheet: BuildSheet,
    hire: Hire,
    catalogue: Catalogue,
    tariff: Tariff,
    *,
    quirks: Sequence[Quirk] = (),
    language: str = "en",
    checked: bool = False,
    own: Mapping[str, str] | None = None,
) -> Pack:
    """Return what the hirer holds on their own phone, in their language where its words are there.

    ``own`` are the depot's own words and what they are in that language.
    """
    tags = tags_of(sheet, hire)
    asked = PackAsked(tags, hire.options, quirks, language, checked, own=own or {})
    return compose_pack(sheet, catalogue, tariff, asked)


def trip_load(sheet: BuildSheet, hire: Hire, answer: LoadingAnswer) -> TripLoad:
    """Return of the loading what the driver needs: sizes, what is to spare, what may go where, tyre pressures."""
    card, tightest = answer.cab_card, answer.worst
    told = {load.store: load.mass_kg for load in hire.loads}
    return TripLoad(
        height_m=card.height_m,
        width_mirrors_m=card.width_mirrors_m,
        width_m=card.width_m,
        length_m=card.length_with_rack_m,
        rack_adds_m=card.length_with_rack_m - card.length_m,
        mam_kg=card.mam_kg,
        verdict=answer.overall,
        spare_front_kg=tightest.margin_kg["front"],
        spare_rear_kg=tightest.margin_kg["rear"],
        spare_total_kg=tightest.margin_kg["total"],
        lockers=tuple(Locker(store.name, store.limit_kg, told.get(store.id, 0.0)) for store in sheet.stores),
        rack_bikes=sheet.rack.bikes if sheet.rack and card.rack_on else 0,
        rack_limit_kg=sheet.rack.limit_kg if sheet.rack and card.rack_on else 0.0,
        fresh_l=answer.fresh_l,
        pressures=_pressures(sheet),
    )


def _pressures(sheet: BuildSheet) -> tuple[Pressure, ...]:
    """Return the cold pressures that the sheet tells, front and rear once each."""
    tyres = {tyre.id: tyre for tyre in sheet.tyres}
    ends = (("front", sheet.axles[0]), ("rear", sheet.axles[-1]))
    found = [(end, tyres[axle.tyre].pressure_kpa) for end, axle in ends if axle.tyre in tyres]
    return tuple(Pressure(end, kpa) for end, kpa in found if kpa is not None)  # type: ignore[arg-type]
