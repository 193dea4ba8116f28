"""The records of the catalogue: fittings with their knowledge, tasks, kit and charges. All frozen and strict."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field, model_validator

from keyhook.records import Name, NotNegative, Positive, Probability, Record, Text

Skill = Literal["desk", "clean", "yard", "tech", "outside"]
Range = Annotated[tuple[NotNegative, NotNegative], Field(description="low, high")]
When = Annotated[tuple[str, ...], Field(min_length=1)]

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
    def _low_comes_first(self) -> Loads:
        for name in type(self).model_fields:
            span = getattr(self, name)
            if span is not None and span[0] > span[1]:
                raise ValueError(f"{name} runs from the larger to the smaller value")
        return self


class TeachPoint(Record):
    """One thing to show or say.

    ``miss_share`` of hirers who were not told get it wrong; ``bite_share`` of those meet the harm of ``severity``.
    ``must`` points are said whatever the clock. ``after`` names teach points that have to come before.
    """

    id: Name
    text: Text
    duration_s: Positive
    why: Text
    severity: Annotated[int, Field(ge=1, le=5)]
    kind: Literal["safety", "damage", "nuisance"]
    who: Text
    when: When
    moment: Literal["pre", "walk", "drive_off", "first_stop", "first_night", "need", "before_return"]
    miss_share: Probability
    bite_share: Probability
    must: bool = False
    after: tuple[Name, ...] = ()
    basis: str = ""


class TurnCheck(Record):
    """A check between two hires."""

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
    stop: str = Field(default="", max_length=200)


class Symptom(Record):
    """What a hirer says. ``first`` is said before any question; an ``emergency`` has no checks, only those words."""

    id: Name
    says: Text
    calls_per_100: NotNegative
    night_share: Probability
    first: str = Field(default="", max_length=200)
    stop: str = Field(default="", max_length=200)
    emergency: bool = False
    causes: tuple[Cause, ...] = ()

    @model_validator(mode="after")
    def _weights_sum_to_one(self) -> Symptom:
        if self.emergency and not self.causes:
            return self
        total = math.fsum(cause.prior_weight for cause in self.causes)
        if abs(total - 1) > WEIGHT_TOLERANCE:
            raise ValueError(f"the prior weights of its causes sum to {total:.6g}, they must sum to 1")
        return self


class Inspection(Record):
    """Something that falls due."""

    what: Text
    every_days: Annotated[int, Field(gt=0)]
    by: Skill
    basis: str = ""


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
    note: str = Field(default="", max_length=200)


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
    note: str = Field(default="", max_length=200)
    basis: str = "common practice"


class KitRule(Record):
    """How many pieces go out: ``n`` for each ``per``, held between ``min`` and ``max``."""

    per: Literal[
        "vehicle", "person", "belt", "berth", "child", "infant", "bike", "day", "person_day", "fitting", "option"
    ]
    n: Positive
    min: NotNegative | None = None
    max: NotNegative | None = None


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
    note: str = Field(default="", max_length=200)


class Grade(Record):
    """How bad it is, with the usual span of prices."""

    grade: Text
    price: Range


class Charge(Record):
    """A priced event as the trade knows it; the price itself is the depot's. ``wear`` names its life."""

    id: Name
    name: Text
    mode: Literal["cost", "schedule", "fixed", "per_unit"]
    typical: tuple[NotNegative, NotNegative] | None = None
    labour_h: NotNegative = 0
    wear: str = ""
    fair: str = Field(default="", max_length=200)
    grades: tuple[Grade, ...] = ()


class Scales(Record):
    """How severity is counted and what telling is worth; estimates, basis ``common practice``."""

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

    def teach_point(self, teach_id: str) -> TeachPoint:
        """Return a teach point by its id; KeyError when no fitting has it."""
        return {point.id: point for fitting in self.fittings.values() for point in fitting.teach}[teach_id]
