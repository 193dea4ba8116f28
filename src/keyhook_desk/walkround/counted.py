"""What was counted of teach points, as the desk lists it: the catalogue, the counts, and what every tour takes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

from django.http import QueryDict

from keyhook.catalogue import Fitting, TeachPoint, load_catalogue
from keyhook.depot.depot import Counted
from keyhook.pack.spoken import folded
from keyhook.tour.compose import ON_THE_TOUR
from keyhook.tour.learning import Learnt, learnt_of
from keyhook_desk.fleet.models import SheetRow
from keyhook_desk.fleet.sheets import sheet_of
from keyhook_desk.walkround.models import Kind, WalkTick
from keyhook_desk.yard.count_services import counts_of_desk

#: Most hires that a count may speak of; the record of a depot holds no more.
MOST_HIRES = 1_000_000
Origin = Literal["desk", "folder", ""]


@dataclass(frozen=True, slots=True)
class CountedPoint:
    """One teach point with what is learnt of it, whose count it is, and what the folder says beside the desk's."""

    fitting: Fitting
    point: TeachPoint
    learnt: Learnt
    origin: Origin
    own: Counted | None
    folder: Counted | None

    @property
    def assumed_of_1000(self) -> float:
        """Of 1000 hires whose party was told, those in which it goes wrong by the catalogue."""
        return 1000 * self.learnt.assumed_share

    @property
    def counted_of_1000(self) -> float | None:
        """The same as counted; None while nothing was."""
        return None if self.learnt.counted_share is None else 1000 * self.learnt.counted_share

    @property
    def taken_of_1000(self) -> float:
        """The same as every tour takes it."""
        return 1000 * self.learnt.taken_share


@dataclass(frozen=True, slots=True)
class CountForm:
    """Counts as typed, the counts they make (None while something is wrong), slips by field."""

    hires: str = ""
    harmed: str = ""
    counted: Counted | None = None
    errors: Mapping[str, str] = field(default_factory=dict)


def counted_points(words: str = "", *, only_counted: bool = False) -> tuple[CountedPoint, ...]:
    """Return the points that a tour of this depot can show, by fitting; those that hold all the ``words``."""
    own, told = counts_of_desk()
    here = {one.fitting for row in SheetRow.objects.all() for one in sheet_of(row).fittings}
    wanted = folded(words).split()
    return tuple(
        one
        for one in _all(own, told)
        if (one.origin or (one.fitting.id in here and one.point.moment in ON_THE_TOUR and not only_counted))
        and all(word in folded(f"{one.fitting.name} {one.point.text} {one.point.id}") for word in wanted)
    )


def counted_point(name: str) -> CountedPoint:
    """Return one point.

    Raises
    ------
    UnknownName
        The catalogue has no such point.
    """
    load_catalogue().teach_point(name)
    own, told = counts_of_desk()
    return next(one for one in _all(own, told) if one.point.id == name)


def _all(own: Mapping[str, Counted], told: Mapping[str, Counted]) -> Iterator[CountedPoint]:
    catalogue = load_catalogue()
    for fitting in sorted(catalogue.fittings.values(), key=lambda one: one.name):
        for point in fitting.teach:
            mine, theirs = own.get(point.id), told.get(point.id)
            origin: Origin = "desk" if mine else "folder" if theirs else ""
            learnt = learnt_of(point.id, mine or theirs, catalogue)
            yield CountedPoint(fitting, point, learnt, origin, mine, theirs)


def parties_shown(point: str) -> int:
    """Return how many hires were shown a point on their walk, as this desk knows; a tick taken back is not one."""
    ticks = WalkTick.objects.filter(point=point).exclude(kind=Kind.NOTE).order_by("at", "id")
    latest = dict(ticks.values_list("hire_id", "kind"))
    return sum(kind in {Kind.TOLD, Kind.HIRER_DID} for kind in latest.values())


def form_of(own: Counted | None) -> CountForm:
    """Return the form as it shows what the desk has counted."""
    return CountForm(str(own.hires), str(own.harmed), own) if own else CountForm()


def read_counts(data: QueryDict) -> CountForm:
    """Return the form as typed."""
    typed = {key: data.get(key, "").strip() for key in ("hires", "harmed")}
    labels = {"hires": "The number of hires", "harmed": "The number of those that came back with it"}
    found, errors = dict[str, int](), dict[str, str]()
    for key, label in labels.items():
        if typed[key].isdecimal() and int(typed[key]) <= MOST_HIRES:
            found[key] = int(typed[key])
        else:
            seen = typed[key][:20] or "nothing"
            errors[key] = f"{label} cannot be this (saw {seen}). Write a whole number from 0 to {MOST_HIRES:,}."
    if not errors and found["harmed"] > found["hires"]:
        todo = "Count each hire once, however often it rang."
        seen = f"{found['harmed']} of {found['hires']}"
        errors["harmed"] = f"More came back with it than there were hires (saw {seen}). {todo}"
    counted = None if errors else Counted(**found)
    return CountForm(typed["hires"], typed["harmed"], counted, errors)


def seen_of(text: str) -> Counted | None:
    """Return what the desk had counted on the page from which a form came; None for nothing."""
    harmed, _, hires = text.partition("/")
    return Counted(hires=int(hires), harmed=int(harmed)) if harmed.isdecimal() and hires.isdecimal() else None
