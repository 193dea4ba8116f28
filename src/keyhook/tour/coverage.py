"""Did a recorded tour cover what this vehicle needs? What was said when, what is missing, what does not belong here.

It listens for words, not for understanding: each answer carries how surely, and names the place to listen to.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from keyhook.basis import Basis, Because, Figure, Finding, Input, Level
from keyhook.catalogue import Catalogue, TeachPoint
from keyhook.catalogue.conditions import Facts, applies
from keyhook.tour.compose import ON_THE_TOUR, worth
from keyhook.tour.matching import WEIGHTS, Match, Scores, english_share, matches, scores, vocabulary_of
from keyhook.tour.recording import Recording, Window, read_recording
from keyhook.tour.script import clock
from keyhook.vehicle.build_sheet import BuildSheet
from keyhook.vehicle.composition import Placed, teach_points

#: Below the chance from which a point counts, and from here on, it was perhaps said.
PERHAPS_FROM = 0.15
#: Something is about other equipment when a point of it fits this well, and so much better than all of this vehicle.
FOREIGN_FIT, FOREIGN_LEAD = 0.75, 0.35
#: From this fit on a stretch of the recording is about a station.
ABOUT_FROM = 0.6
#: With a smaller share of little English words it is another language (English speech has about 0.4, German 0.05).
ENGLISH_FROM = 0.2
#: Measured on the held-out recordings (``bench/bench_tour.py``).
PRECISION_SHARE, RECALL_SHARE = 0.93, 0.90


@dataclass(frozen=True, slots=True)
class HeardPoint:
    """A teach point with how surely it was said and where [s]; ``heard`` is what was said there."""

    id: str
    text: str
    title: str
    station: str
    find_it: int
    mandatory: bool
    expected: bool
    value_cost: float
    chance: float
    at_s: float
    heard: str
    because: Because


@dataclass(frozen=True, slots=True)
class ForeignTalk:
    """Something said about equipment that this vehicle does not have."""

    fitting: str
    title: str
    point: str
    at_s: float
    heard: str


@dataclass(frozen=True, slots=True)
class StationTalk:
    """One station in the recording: minutes on it, and of what telling there saves, how much was told."""

    station: str
    name: str
    talk_min: float
    value_cost: float
    told_cost: float


@dataclass(frozen=True, slots=True)
class TourCheck:
    """What a recorded tour covers.

    ``covered`` in the order of the recording, ``missing`` those of the tour that were not heard (mandatory first,
    dearest first), ``foreign`` in the order of the recording, ``elsewhere_min`` the minutes about no station.
    """

    covered: tuple[HeardPoint, ...]
    missing: tuple[HeardPoint, ...]
    foreign: tuple[ForeignTalk, ...]
    stations: tuple[StationTalk, ...]
    duration_min: float
    elsewhere_min: float
    findings: tuple[Finding, ...]
    figures: Mapping[str, Figure]

    @property
    def missing_mandatory(self) -> tuple[HeardPoint, ...]:
        """What must be said and was not heard."""
        return tuple(point for point in self.missing if point.mandatory)


def tour_check(
    recording: str,
    sheet: BuildSheet,
    catalogue: Catalogue,
    *,
    tags: Collection[str] = (),
    options: Collection[str] = (),
    currency: str = "GBP",
    learnt: Mapping[str, float] | None = None,
) -> TourCheck:
    """Return what a recorded tour of this vehicle covers.

    Parameters
    ----------
    recording
        WebVTT, SRT, or lines like ``[m:ss] words``.
    tags, options
        Of the hire that the tour is for; without them only what applies to every hire is expected.
    learnt
        Factors by point from this depot's own counts, as for any tour of it.

    Raises
    ------
    BadInput
        The recording cannot be read.
    UnknownName
        The sheet names a fitting that the catalogue does not know, or the word vectors are not installed.
    """
    heard = read_recording(recording)
    windows = heard.windows()
    own = teach_points(sheet, catalogue)
    found = scores(windows, [placed.entry for placed in own], vocabulary_of(catalogue))
    facts = Facts(tags=tags, fittings={fitted.fitting for fitted in sheet.fittings}, options=options)
    points = [
        _heard_point(placed, match, windows[match.window], catalogue, facts, (learnt or {}).get(placed.entry.id, 1.0))
        for placed, match in zip(own, matches(found), strict=True)
    ]
    covered = sorted((p for p in points if p.chance >= WEIGHTS.covered_from), key=lambda p: (p.at_s, p.id))
    missing = sorted(
        (p for p in points if p.expected and p.chance < WEIGHTS.covered_from),
        key=lambda p: (not p.mandatory, -p.value_cost, p.id),
    )
    minutes = _minutes_about(heard, windows, found, own)
    stations = tuple(_stations(sheet, points, minutes))
    foreign = tuple(sorted(_foreign(windows, found, sheet, catalogue), key=lambda talk: (talk.at_s, talk.fitting)))
    english = english_share([word for _, word in heard.timed_words()]) >= ENGLISH_FROM
    told_cost = sum(point.value_cost for point in covered if point.expected)
    figures = _figures(points, told_cost, heard.duration_s / 60, minutes, currency)
    return TourCheck(
        covered=tuple(covered),
        missing=tuple(missing),
        foreign=foreign,
        stations=stations,
        duration_min=heard.duration_s / 60,
        elsewhere_min=minutes.get("", 0.0),
        findings=(
            *(() if english else (Finding("tour.coverage.other_language", Level.WARN),)),
            *_findings(points, missing, foreign, figures["told_share"]),
        ),
        figures=figures,
    )


def _heard_point(
    placed: Placed[TeachPoint],
    match: Match,
    window: Window,
    catalogue: Catalogue,
    facts: Facts,
    learnt_factor: float,
) -> HeardPoint:
    point = placed.entry
    return HeardPoint(
        id=point.id,
        text=point.text,
        title=catalogue.fittings[placed.fitting].name,
        station=placed.station,
        find_it=placed.find_it,
        mandatory=point.must,
        expected=point.moment in ON_THE_TOUR and applies(point.when, facts),
        value_cost=worth(point, catalogue, learnt_factor=learnt_factor)[1],
        chance=match.chance,
        at_s=window.start_s,
        heard=window.text,
        because=match.because,
    )


def _minutes_about(
    heard: Recording, windows: tuple[Window, ...], found: Scores, own: tuple[Placed[TeachPoint], ...]
) -> dict[str, float]:
    """Return the minutes about each station; about none under the empty name."""
    together = found.together
    starts = [window.start_s for window in windows]
    minutes: dict[str, float] = {"": starts[0] / 60}
    for row, (start_s, end_s) in enumerate(zip(starts, [*starts[1:], heard.duration_s], strict=True)):
        column = int(np.argmax(together[row])) if own else -1
        about = own[column].station if own and together[row, column] >= ABOUT_FROM else ""
        minutes[about] = minutes.get(about, 0.0) + (end_s - start_s) / 60
    return minutes


def _stations(sheet: BuildSheet, points: list[HeardPoint], minutes: dict[str, float]) -> Iterator[StationTalk]:
    for station in sheet.stations:
        here = [point for point in points if point.station == station.id and point.expected]
        told = sum(point.value_cost for point in here if point.chance >= WEIGHTS.covered_from)
        if here or station.id in minutes:
            total = sum(point.value_cost for point in here)
            yield StationTalk(station.id, station.name, minutes.get(station.id, 0.0), total, told)


def _foreign(
    windows: tuple[Window, ...], found: Scores, sheet: BuildSheet, catalogue: Catalogue
) -> Iterator[ForeignTalk]:
    """Yield each fitting that is not here and of which something fits much better than all that is here."""
    here = {fitted.fitting for fitted in sheet.fittings}
    others = [fitting for fitting in catalogue.fittings.values() if fitting.id not in here]
    points = [(fitting, point) for fitting in others for point in fitting.teach]
    if not points:
        return
    strange = scores(windows, [point for _, point in points], vocabulary_of(catalogue)).together
    best_here = found.together.max(axis=1) if found.points else np.zeros(len(windows))
    lead = np.where(strange >= FOREIGN_FIT, strange - best_here[:, None], -np.inf)
    named: set[str] = set()
    for column in np.argsort(-lead.max(axis=0), kind="stable"):
        row = int(np.argmax(lead[:, column]))
        fitting, point = points[int(column)]
        if lead[row, column] >= FOREIGN_LEAD and fitting.id not in named:
            named.add(fitting.id)
            yield ForeignTalk(fitting.id, fitting.name, point.id, windows[row].start_s, windows[row].text)


def _figures(
    points: list[HeardPoint], told_cost: float, duration_min: float, minutes: dict[str, float], currency: str
) -> dict[str, Figure]:
    expected = [point for point in points if point.expected]
    said = [point for point in expected if point.chance >= WEIGHTS.covered_from]
    all_cost = sum(point.value_cost for point in expected)
    share = 100 * told_cost / all_cost if all_cost else 0.0
    basis = Because(
        "logistic of closeness, shared rare words and lead over other points",
        (
            Input("counts as said from", WEIGHTS.covered_from, "chance", "chosen on recordings of the demo"),
            Input("of what it finds, really said", PRECISION_SHARE, "share", "held-out recordings", Basis.MEASURED),
            Input("of what was said, found", RECALL_SHARE, "share", "held-out recordings", Basis.MEASURED),
        ),
        source="static-word-vectors",
    )
    costs = (Input("told", told_cost, currency), Input("all that applies", all_cost, currency))
    about_min = duration_min - minutes.get("", 0.0)
    figures = (
        Figure("points_said", "Points said", len(said), f"of {len(expected)}", basis),
        Figure("told_share", "Of what a full tour saves", share, "%", Because("told / all that applies", costs)),
        Figure(
            "about_min",
            "Minutes about the vehicle",
            about_min,
            "min",
            Because("stretches that fit a point", (Input("recording", duration_min, "min"),)),
        ),
    )
    return {figure.key: figure for figure in figures}


def _findings(
    points: list[HeardPoint], missing: list[HeardPoint], foreign: tuple[ForeignTalk, ...], share: Figure
) -> Iterator[Finding]:
    silent = [point for point in missing if point.mandatory]
    for point in silent:
        if point.chance >= PERHAPS_FROM:
            values = {"time": clock(point.at_s), "text": point.text, "point": point.id}
            yield Finding("tour.coverage.perhaps", Level.WARN, values)
        else:
            yield Finding("tour.coverage.missing_mandatory", Level.WARN, {"text": point.text, "point": point.id})
    if not silent:
        yield Finding("tour.coverage.all_mandatory", Level.NOTE)
    for talk in foreign:
        values = {"time": clock(talk.at_s), "fitting": talk.title}
        yield Finding("tour.coverage.foreign", Level.WARN, values)
    expected = [point for point in points if point.expected]
    said = sum(point.chance >= WEIGHTS.covered_from for point in expected)
    told = {"covered": said, "points": len(expected), "share": f"{float(share.value):.0f}"}
    yield Finding("tour.coverage.covered", Level.NOTE, told, ("points_said", "told_share"))
    known = {"precision": round(100 * PRECISION_SHARE), "recall": round(100 * RECALL_SHARE)}
    yield Finding("tour.coverage.caution", Level.NOTE, known, ("points_said",))
