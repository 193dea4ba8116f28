"""The tour of a hire as it stands in the rows: composed, answered, kept while nothing it depends on has changed."""

from __future__ import annotations

from dataclasses import dataclass, replace

from keyhook.catalogue import load_catalogue
from keyhook.depot.depot import Depot
from keyhook.errors import BadInput
from keyhook.hire.hire import Hire
from keyhook.tour.answer import answer_of
from keyhook.tour.compose import ComposedTour, TourWishes, compose_tour
from keyhook.tour.learning import learnt_factors
from keyhook.tour.outcome import TourAnswer
from keyhook.tour.replan import Progress, planned_again
from keyhook.tour.select import Search
from keyhook.vehicle.build_sheet import BuildSheet, Vehicle
from keyhook_desk.fleet.sheets import built_of, vehicle_of
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.services import hire_of
from keyhook_desk.walkround.wishes import Settings
from keyhook_desk.web.kept import Kept

#: A page does not wait longer for the solver [s]; the greedy tour is there at once.
LOOK_S, AGAIN_S = 0.6, 0.4
#: A slow party takes so much longer for everything (assumption).
SLOW_FACTOR = 1.2

_TOURS: Kept[Tour] = Kept(512)


@dataclass(frozen=True, slots=True)
class Tour:
    """The tour of one hire in its vehicle, with what it was made from."""

    hire: Hire
    sheet: BuildSheet
    vehicle: Vehicle
    settings: Settings
    composed: ComposedTour
    answer: TourAnswer
    currency: str


def tour_of(row: HireRow, settings: Settings, depot: Depot) -> Tour:
    """Return the tour of a hire; ``vehicle.sheet`` of the row should be loaded.

    Raises
    ------
    BadInput
        The hire has no vehicle yet.
    """
    vehicle = row.vehicle
    if vehicle is None:
        raise BadInput("This hire has no vehicle yet, so there is nothing to show", seen=row.name, todo="Choose one")
    key = (row.digest, vehicle.digest, vehicle.sheet.digest, settings, *counts_key(depot))
    return _TOURS.answer(key, lambda: _worked_out(row, settings, depot))


def counts_key(depot: Depot) -> tuple[object, ...]:
    """Return what a tour depends on of the depot itself."""
    return (depot.currency, *((name, one.hires, one.harmed) for name, one in sorted(depot.learnt.items())))


def again(tour: Tour, progress: Progress, left_min: float | None) -> TourAnswer:
    """Return the rest of a tour planned from where it stands; ``left_min`` overrules the minutes that are left."""
    composed = tour.composed
    if left_min is not None:
        available_min = (progress.elapsed_s or 0.0) / 60 + left_min
        composed = replace(composed, problem=replace(composed.problem, available_min=available_min))
    search = Search(limit_s=AGAIN_S)
    return planned_again(composed, load_catalogue(), progress, search=search, currency=tour.currency)


def _worked_out(row: HireRow, settings: Settings, depot: Depot) -> Tour:
    assert row.vehicle is not None
    hire, sheet, vehicle = hire_of(row), built_of(row.vehicle), vehicle_of(row.vehicle)
    wishes = TourWishes(
        available_min=settings.available_min,
        quirks=vehicle.quirks,
        confirmed=settings.known,
        pace_factor=SLOW_FACTOR if settings.slow else 1.0,
        learnt=learnt_factors(depot.learnt, load_catalogue()),
    )
    composed = compose_tour(sheet, load_catalogue(), _with_first_time(hire, settings), wishes)
    answer = answer_of(composed, load_catalogue(), search=Search(limit_s=LOOK_S), currency=depot.currency)
    return Tour(hire, sheet, vehicle, settings, composed, answer, depot.currency)


def _with_first_time(hire: Hire, settings: Settings) -> Hire:
    others = tuple(tag for tag in hire.tags if tag != "first_timer")
    return hire.model_copy(update={"tags": (*others, "first_timer") if settings.first_time else others})
