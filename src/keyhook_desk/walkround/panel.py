"""The tour answer as the page shows it: verdict, route, stops, what goes elsewhere, figures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from keyhook.basis import Figure, Finding, Level
from keyhook.catalogue import load_catalogue
from keyhook.drawing import Stand, plan_drawing
from keyhook.phrases import say
from keyhook.tour.outcome import AnswerLine, Elsewhere, Slot, TourAnswer
from keyhook.vehicle.build_sheet import BuildSheet

_SLOTS: tuple[Slot, ...] = ("before_collection", "first_stop", "first_night", "card", "before_return")
#: Figures that stand open; the others follow.
_FIRST = ("tour_min", "mandatory_min", "saved_cost", "five_more")


@dataclass(frozen=True, slots=True)
class LineRow:
    """One point of the tour and why it is worth what it is."""

    line: AnswerLine
    worth: Figure


@dataclass(frozen=True, slots=True)
class StopRow:
    """One stop: its number, place, from when and for how long [s], its points."""

    number: int
    station: str
    name: str
    arrive_s: float
    talk_s: float
    rows: tuple[LineRow, ...]

    @property
    def must(self) -> int:
        """How many of its points must be said."""
        return sum(row.line.mandatory for row in self.rows)

    @property
    def find_its(self) -> list[int]:
        """The find-it numbers shown here."""
        return sorted({row.line.find_it for row in self.rows if row.line.find_it})


@dataclass(frozen=True, slots=True)
class SlotRow:
    """One way to the hirer other than the tour, with the points that go it: those that fell off first."""

    slot: str
    words: str
    fell_off: tuple[Elsewhere, ...]
    meant: tuple[Elsewhere, ...]


@dataclass(frozen=True, slots=True)
class Panel:
    """Everything the tour page shows."""

    answer: TourAnswer
    verdict: str
    words: str
    drawing: str
    stops: tuple[StopRow, ...]
    slots: tuple[SlotRow, ...]
    added: tuple[str, ...]
    warns: tuple[Finding, ...]
    notes: tuple[Finding, ...]
    figures: tuple[Figure, ...]
    more_figures: tuple[Figure, ...]


def tour_panel(answer: TourAnswer, sheet: BuildSheet, currency: str) -> Panel:
    """Return what the page shows of a tour."""
    stops = tuple(_stops(answer, currency))
    figures = answer.figures
    known = answer.composed.known
    verdict, words = _verdict(answer)
    return Panel(
        answer=answer,
        verdict=verdict,
        words=words,
        drawing=route_drawing(sheet, answer),
        stops=stops,
        slots=tuple(_slots(answer)),
        added=tuple(f"{known[name].title}: {known[name].text}" for name in answer.more.added),
        warns=tuple(found for found in answer.findings if found.level is not Level.NOTE),
        notes=tuple(found for found in answer.findings if found.level is Level.NOTE),
        figures=tuple(figures[key] for key in _FIRST),
        more_figures=tuple(figure for key, figure in figures.items() if key not in _FIRST),
    )


def named(fitting: str) -> str:
    """Return the name of a fitting."""
    fittings = load_catalogue().fittings
    return fittings[fitting].name if fitting in fittings else fitting


def stands_of(sheet: BuildSheet, stations: Sequence[str]) -> list[Stand]:
    """Return where one stands at each stop, numbered in order; a station that is visited again keeps its number."""
    places = {station.id: station for station in sheet.stations}
    once = dict.fromkeys(station for station in stations if station in places)
    return [
        Stand(name, places[name].name, places[name].x_m, places[name].y_m, number)
        for number, name in enumerate(once, start=1)
    ]


def route_drawing(sheet: BuildSheet, answer: TourAnswer) -> str:
    """Return the plan with the stops in walking order and the way between them."""
    stands = stands_of(sheet, [stop.station for stop in answer.stops])
    return plan_drawing(sheet, named, numbers=False, route=stands, prefix="route")


def walk_drawing(sheet: BuildSheet) -> str:
    """Return the plan with all find-it numbers and a ring at each station, for a page that lights what is meant."""
    rings = stands_of(sheet, [station.id for station in sheet.stations])
    return plan_drawing(sheet, named, rings=rings, prefix="walk")


def _verdict(answer: TourAnswer) -> tuple[str, str]:
    codes = {found.code for found in answer.findings}
    if answer.over_min > 0:
        return "over", say("walkround.verdict.over", {"minutes": _minutes(answer.over_min)})
    if "tour.mandatory_tight" in codes:
        return "tight", say("walkround.verdict.tight")
    if not answer.lines:
        return "fits", say("walkround.verdict.nothing")
    values = {"points": len(answer.lines), "minutes": _minutes(answer.end_min)}
    return "fits", say("walkround.verdict.fits", values)


def _minutes(minutes: float) -> str:
    return f"{minutes:.0f}" if minutes >= 1 else f"{minutes:.1f}"


def _stops(answer: TourAnswer, currency: str) -> Iterator[StopRow]:
    numbers: dict[str, int] = {}
    for stop in answer.stops:
        number = numbers.setdefault(stop.station, len(numbers) + 1)
        rows = tuple(LineRow(line, _worth(line, currency)) for line in stop.lines)
        yield StopRow(number, stop.station, stop.name, stop.arrive_s, stop.talk_s, rows)


def _worth(line: AnswerLine, currency: str) -> Figure:
    return Figure(f"worth_{line.id}", "Saves", round(line.value_cost, 2), currency, line.because)


def _slots(answer: TourAnswer) -> Iterator[SlotRow]:
    for slot in _SLOTS:
        here = [entry for entry in answer.elsewhere if entry.slot == slot]
        if here:
            fell_off = tuple(entry for entry in here if entry.why != "moment")
            meant = tuple(entry for entry in here if entry.why == "moment")
            yield SlotRow(slot, say(f"tour.slot.{slot}"), fell_off, meant)
