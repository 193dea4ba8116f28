"""Every figure can say why: its inputs with their origin, its formula, its basis and its source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

Scalar = float | int | str | bool


class Basis(StrEnum):
    """What a number rests on."""

    PUBLISHED = "published"
    COMMON_PRACTICE = "common practice"
    MEASURED = "measured at this depot"
    TOLD = "told by the hirer"
    ASSUMPTION = "assumption"
    FROM_MEMORY = "from memory"
    COMPUTED = "computed"


class Level(StrEnum):
    """How much a finding matters. ``STOP``: the vehicle may not leave like this."""

    STOP = "stop"
    WARN = "warn"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Input:
    """One input of a figure: what it is called, its value and unit, and where it came from."""

    name: str
    value: Scalar
    unit: str = ""
    origin: str = ""
    basis: Basis = Basis.COMPUTED


@dataclass(frozen=True, slots=True)
class Because:
    """Why a figure is what it is.

    ``source`` is a key of ``docs/sources.toml`` where the basis is published; a test walks them.
    """

    formula: str
    inputs: tuple[Input, ...] = ()
    basis: Basis = Basis.COMPUTED
    source: str = ""


@dataclass(frozen=True, slots=True)
class Figure:
    """A value a person sees, with its unit, its spread (one standard deviation) and its because."""

    key: str
    label: str
    value: Scalar
    unit: str
    because: Because
    sd: float | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """Something a person must know: a phrase key, its values, how much it matters, the figures behind it.

    ``code`` is the key in the phrase book (``keyhook.phrases``); ``values`` fill its places.
    ``figures`` are the keys of the figures it rests on.
    """

    code: str
    level: Level
    values: Mapping[str, object] = field(default_factory=dict)
    figures: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """Findings and figures of one question about one hire or day."""

    findings: tuple[Finding, ...]
    figures: Mapping[str, Figure]

    @property
    def level(self) -> Level | None:
        """The gravest level among the findings, or None when there is nothing to say."""
        levels = {finding.level for finding in self.findings}
        return next((level for level in Level if level in levels), None)
