"""The parts of a tour answer, as plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from keyhook.basis import Because, Figure, Finding, Level
from keyhook.tour.compose import ComposedTour
from keyhook.tour.plan import TourPlan

Slot = Literal["before_collection", "first_stop", "first_night", "card", "before_return"]
Why = Literal["moment", "no_time", "skipped"]


@dataclass(frozen=True, slots=True)
class AnswerLine:
    """One point as shown: words, place, when (seconds from the start of the tour), and what it saves and why."""

    id: str
    text: str
    title: str
    why: str
    who: str
    kind: str
    find_it: int
    where: str
    start_s: float
    talk_s: float
    mandatory: bool
    closing: bool
    value_cost: float
    because: Because


@dataclass(frozen=True, slots=True)
class AnswerStop:
    """One stop: station, the walk to it [s], when they are there [s from the start], and its lines."""

    station: str
    name: str
    walk_s: float
    arrive_s: float
    lines: tuple[AnswerLine, ...]

    @property
    def talk_s(self) -> float:
        """Seconds spent here [s]."""
        return sum(line.talk_s for line in self.lines)

    @property
    def value_cost(self) -> float:
        """What is saved here."""
        return sum(line.value_cost for line in self.lines)


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """A point that is not on the tour: where it goes instead, why, and the loss that stays when it is only read.

    ``text`` as it is read there, by themselves.
    """

    id: str
    text: str
    title: str
    find_it: int
    slot: Slot
    why: Why
    value_cost: float
    left_cost: float


@dataclass(frozen=True, slots=True)
class MoreTime:
    """What more minutes would buy: the gain and the points that come in."""

    extra_min: float
    gain_cost: float
    added: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """A teach-back question about a point that was shown; ``title`` is what it is about."""

    point: str
    text: str
    title: str


@dataclass(frozen=True, slots=True)
class TourAnswer:
    """Will they know how? The tour in order, what goes elsewhere, what more time would buy, and what to ask back."""

    stops: tuple[AnswerStop, ...]
    elsewhere: tuple[Elsewhere, ...]
    more: MoreTime
    questions: tuple[Question, ...]
    mandatory_min: float
    over_min: float
    plan: TourPlan
    composed: ComposedTour
    findings: tuple[Finding, ...]
    figures: Mapping[str, Figure]

    @property
    def end_min(self) -> float:
        """When the tour ends, from its start [min]."""
        return self.plan.end_s / 60

    @property
    def lines(self) -> tuple[AnswerLine, ...]:
        """All lines in order."""
        return tuple(line for stop in self.stops for line in stop.lines)

    @property
    def level(self) -> Level | None:
        """The gravest level among the findings."""
        levels = {finding.level for finding in self.findings}
        return next((level for level in Level if level in levels), None)
