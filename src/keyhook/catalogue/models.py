"""The records of the catalogue: fittings with their knowledge, tasks, kit and charges. All frozen and strict."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from keyhook.errors import UnknownName
from keyhook.records import Name, NotNegative, Positive, Probability, Record, Text


def _low_comes_first(span: tuple[float, float]) -> tuple[float, float]:
    if span[0] > span[1]:
        raise ValueError("it runs from the larger to the smaller value, write the smaller one first")
    return span


def _always_stands_alone(when: tuple[str, ...]) -> tuple[str, ...]:
    if "always" in when and len(when) > 1:
        raise ValueError("'always' holds already, so it stands alone")
    return when


Skill = Literal["desk", "clean", "yard", "tech", "outside"]
Moment = Literal["pre", "walk", "drive_off", "first_stop", "first_night", "need", "before_return"]
Range = Annotated[tuple[NotNegative, NotNegative], AfterValidator(_low_comes_first), Field(description="low, high")]
When = Annotated[tuple[str, ...], AfterValidator(_always_stands_alone), Field(min_length=1)]
Note = Annotated[str, Field(max_length=200)]

#: Prior weights of the causes of one symptom may miss 1 by this much.
WEIGHT_TOLERANCE = 1e-6


class Loads(Record):
    """What a fitting draws, burns, holds and weighs, as low and high.

    12 V side running and idle [W], mains side [W], share of the clock it runs while in use, gas burnt [g/h],
    diesel burnt [l/h], water held or used [l], mass of the fitting or its contents [kg].
    """

    power_w: Range | None = None
    standby_w: Range | None = None
    power230_w: Range | None = None
    duty_share: Range | None = None
    gas_g_h: Range | None = None
    diesel_l_h: Range | None = None
    water_l: Range | None = None
    mass_kg: Range | None = None

    @model_validator(mode="after")
    def _a_share_of_the_clock_is_at_most_one(self) -> Loads:
        if self.duty_share is not None and self.duty_share[1] > 1:
            raise ValueError("duty_share is a share of the clock, so it is at most 1")
        return self


class TeachPoint(Record):
    """One thing to show or say.

    ``miss_share`` of hirers who were not told get it wrong; ``bite_share`` of those meet the harm of ``severity``.
    ``must`` points are said whatever the clock. ``text`` is said to somebody who stands before the thing; ``alone``
    are the words for whoever reads it by themselves, where those of ``text`` would not do. ``ask`` asks back at the
    end without giving the answer away. ``after`` names teach points, of this or another fitting, that have
    to come before; where the vehicle has not got the other fitting there is nothing to wait for.
    """

    id: Name
    text: Text
    duration_s: Positive
    why: Text
    alone: Note = ""
    ask: Note = ""
    severity: Annotated[int, Field(ge=1, le=5)]
    kind: Literal["safety", "damage", "nuisance"]
    who: Text
    when: When
    moment: Moment
    miss_share: Probability
    bite_share: Probability
    must: bool = False
    after: tuple[Name, ...] = ()
    basis: Note = ""

    @property
    def read_by(self) -> Literal["text", "alone"]:
        """The field with the words for whoever reads it by themselves."""
        return "alone" if self.alone else "text"


class TurnCheck(Record):
    """A check between two hires: on every turnaround, or with ``option`` when the hire booked this fitting."""

    what: Text
    duration_min: Positive
    skill: Skill
    when: str


class Use(Record):
    """What is used up, as low and high per person, day or distance."""

    item: Text
    low: NotNegative
    high: NotNegative
    unit: Text
    per: Text

    @model_validator(mode="after")
    def _low_comes_first(self) -> Use:
        _low_comes_first((self.low, self.high))
        return self


class Cause(Record):
    """What may lie behind a symptom, the question or check for it, and the remedy.

    ``raised_by`` names hire tags that make it likelier. ``stop`` is when to stop and send a qualified person.
    """

    prior_weight: Probability
    cause: Text
    check: Text
    duration_min: Positive
    fix: Text
    raised_by: tuple[str, ...] = ()
    stop: Note = ""


class Symptom(Record):
    """What a hirer says.

    ``first`` is said before any question; an ``emergency`` has those words and ``stop``, and no checks.
    """

    id: Name
    says: Text
    calls_per_100: NotNegative
    night_share: Probability
    first: Note = ""
    stop: Note = ""
    emergency: bool = False
    causes: tuple[Cause, ...] = ()

    @model_validator(mode="after")
    def _an_emergency_has_words_and_no_checks(self) -> Symptom:
        if self.emergency and not (self.first and self.stop):
            raise ValueError("an emergency needs the words said 'first' and when to 'stop'")
        if self.emergency and self.causes:
            raise ValueError("an emergency has no causes to check: its words come first and last")
        return self

    @model_validator(mode="after")
    def _weights_sum_to_one(self) -> Symptom:
        if self.emergency:
            return self
        if not self.causes:
            raise ValueError("it has no causes, and only an emergency may have none")
        total = math.fsum(cause.prior_weight for cause in self.causes)
        if abs(total - 1) > WEIGHT_TOLERANCE:
            raise ValueError(f"the prior weights of its causes sum to {total:.6g}, they must sum to 1")
        return self


class Inspection(Record):
    """Something that falls due."""

    what: Text
    every_days: Annotated[int, Field(gt=0)]
    by: Skill
    basis: Note = ""


class Fitting(Record):
    """A piece of equipment with all its knowledge."""

    id: Name
    name: Text
    group: Name
    what: Text
    where: Text
    basis: Text
    kit: tuple[Name, ...] = ()
    charges: tuple[Name, ...] = ()
    loads: Loads = Loads()
    teach: tuple[TeachPoint, ...]
    checks: tuple[TurnCheck, ...] = ()
    uses: tuple[Use, ...] = ()
    symptoms: tuple[Symptom, ...] = ()
    inspections: tuple[Inspection, ...] = ()


class Place(Record):
    """A place of the yard; ``slots`` is what a depot of the usual size has."""

    id: Name
    slots: Annotated[int, Field(ge=1)]
    note: Note = ""


class Task(Record):
    """A task between two hires.

    ``mean_min`` and ``sd_min`` are minutes of one person at book pace, right-skewed (read as a lognormal);
    with ``scale`` they are for one berth, belt, person ... ``wait_min`` is the clock's wait after it (drying,
    cooling). ``hands_share`` of the time somebody is really bound.
    """

    id: Name
    name: Text
    phase: Name
    mean_min: Positive
    sd_min: NotNegative
    skill: Skill
    place: Name
    after: tuple[Name, ...] = ()
    when: When
    scale: Literal["", "berth", "belt", "person", "day", "bike"] = ""
    moves_vehicle: bool = False
    needs_hirer: bool = False
    gate: bool = False
    wait_min: NotNegative = 0
    soft_wait_min: NotNegative | None = None
    hands_share: Annotated[float, Field(gt=0, le=1)] = 1.0
    first_timer_add_min: NotNegative = 0
    share_of_turns: Probability | None = None
    note: Note = ""
    basis: str = "common practice"


class KitRule(Record):
    """How many pieces go out: ``n`` for each ``per``, held between ``min`` and ``max``."""

    per: Literal[
        "vehicle", "person", "belt", "berth", "child", "infant", "bike", "day", "person_day", "fitting", "option"
    ]
    n: Positive
    min: NotNegative | None = None
    max: NotNegative | None = None

    @model_validator(mode="after")
    def _least_is_not_above_most(self) -> KitRule:
        if self.min is not None and self.max is not None and self.min > self.max:
            raise ValueError("min is above max, write the smaller one as min")
        return self


class KitItem(Record):
    """A piece of kit: how many go out, what one weighs and costs to replace, whether it comes back."""

    id: Name
    name: Text
    rule: KitRule
    when: When
    kind: Literal["returnable", "consumable", "part"]
    cost: Range
    mass_kg: NotNegative
    stow: Text
    lost_per_100: NotNegative
    spares_per_10: NotNegative
    basis: str = "common practice"
    note: Note = ""


class Grade(Record):
    """How bad it is, with the usual span of prices."""

    grade: Text
    price: Range


class Charge(Record):
    """A priced event as the trade knows it; the price itself is the depot's. ``wear`` names its life."""

    id: Name
    name: Text
    mode: Literal["cost", "schedule", "fixed", "per_unit"]
    typical: Range | None = None
    labour_h: NotNegative = 0
    wear: str = ""
    fair: Note = ""
    grades: tuple[Grade, ...] = ()


class Scales(Record):
    """How severity is counted, what telling is worth, and the words that conditions may use.

    Estimates, basis ``common practice``. ``severity_cost`` and ``severity5_safety_cost`` are amounts of a depot's
    currency for ranking only. A point that was told still goes wrong ``told_factor`` times as often as one that was
    not; done by the hirer's own hand and sent as a message likewise. ``raised_factor`` multiplies a cause's weight
    when one of its ``raised_by`` tags holds. ``talk_factor`` turns the seconds of a silent listener into those of
    a party that asks.
    """

    severity_words: Annotated[tuple[Text, ...], Field(min_length=5, max_length=5)]
    severity_cost: Annotated[tuple[Positive, ...], Field(min_length=5, max_length=5)]
    severity5_safety_cost: Positive
    told_factor: Probability
    shown_by_hand_factor: Probability
    message_factor: Probability
    raised_factor: Positive
    talk_factor: Positive
    talk_factor_first_timer_children: Positive
    tags: tuple[Name, ...]
    options: tuple[Name, ...]
    reports: tuple[Text, ...]
    gauges: tuple[Text, ...]


@dataclass(frozen=True, slots=True)
class Catalogue:
    """All of it, by id."""

    fittings: Mapping[str, Fitting]
    tasks: Mapping[str, Task]
    places: Mapping[str, Place]
    kit: Mapping[str, KitItem]
    charges: Mapping[str, Charge]
    wear_life_months: Mapping[str, int]
    load_index_kg: Mapping[int, float]
    speed_symbol_km_h: Mapping[str, int]
    scales: Scales

    @property
    def severity_cost(self) -> tuple[float, ...]:
        """Cost of a harm of severity 1 to 5, for ranking only."""
        return self.scales.severity_cost

    @property
    def teach_points(self) -> dict[str, TeachPoint]:
        """Every teach point by its id."""
        return {point.id: point for fitting in self.fittings.values() for point in fitting.teach}

    @property
    def symptoms(self) -> dict[str, Symptom]:
        """Every symptom by its id."""
        return {symptom.id: symptom for fitting in self.fittings.values() for symptom in fitting.symptoms}

    def teach_point(self, teach_id: str) -> TeachPoint:
        """Return a teach point by its id.

        Raises
        ------
        UnknownName
            No fitting has it.
        """
        found = self.teach_points.get(teach_id)
        if found is None:
            raise UnknownName("No teach point has this id", seen=teach_id, todo="Use one of the catalogue")
        return found
