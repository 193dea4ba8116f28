"""Answers as text for a terminal and as JSON for a program; nothing is computed here."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from collections.abc import Iterable, Mapping, Sequence
from enum import Enum

from pydantic import BaseModel

from keyhook.basis import Because, Figure, Finding, Level
from keyhook.phrases import say

#: How each level is marked in text: a word, never colour alone.
MARK = {Level.STOP: "STOP", Level.WARN: "WARN", Level.NOTE: "note"}


def plain(value: object) -> object:
    """Return the value as JSON can carry it: records and dataclasses become objects, times become text."""
    match value:
        case BaseModel():
            return value.model_dump(mode="json")
        case Enum():
            return value.value
        case dt.date() | dt.time():
            return value.isoformat()
        case Finding():
            return {
                "code": value.code,
                "level": value.level.value,
                "text": say(value.code, value.values),
                "values": plain(dict(value.values)),
                "figures": list(value.figures),
            }
        case Mapping():
            return {str(key): plain(item) for key, item in value.items()}
        case _:
            return _plain_rest(value)


def _plain_rest(value: object) -> object:
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float):
        return round(value, 6)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Iterable):
        return [plain(item) for item in value]
    if hasattr(value, "item"):
        return plain(value.item())
    return str(value)


def as_json(value: object) -> str:
    """Return indented JSON with keys in a stable order."""
    return json.dumps(plain(value), indent=2, ensure_ascii=False)


def figure_line(figure: Figure) -> str:
    """Return one line: label, value, unit and spread."""
    spread = f" ± {figure.sd:.0f}" if figure.sd is not None else ""
    return f"{figure.label}: {number(figure.value)}{spread}{' ' + figure.unit if figure.unit else ''}"


def number(value: object) -> str:
    """Return a value as a person reads it: whole from a hundred up, one digit from ten, else three figures."""
    if isinstance(value, bool) or not isinstance(value, float):
        return str(value)
    if abs(value) >= 100 or value == int(value):  # noqa: PLR2004  # figures of a kilogram or a litre
        return f"{value:.0f}"
    return f"{value:.3g}" if abs(value) < 1 else f"{value:.1f}"


def because_lines(because: Because, indent: str = "    ") -> list[str]:
    """Return why a figure is what it is, one thought a line."""
    source = f", source: {because.source}" if because.source else ""
    lines = [f"{indent}= {because.formula}  [{because.basis.value}{source}]"]
    for given in because.inputs:
        origin = f", {given.origin}" if given.origin else ""
        unit = f" {given.unit}" if given.unit else ""
        lines.append(f"{indent}  {given.name} {number(given.value)}{unit}  [{given.basis.value}{origin}]")
    return lines


def finding_lines(findings: Sequence[Finding], language: str = "en") -> list[str]:
    """Return one line a finding, gravest first."""
    order = list(Level)
    ranked = sorted(findings, key=lambda finding: order.index(finding.level))
    return [f"{MARK[finding.level]:>4}  {say(finding.code, finding.values, language)}" for finding in ranked]


def figures_text(figures: Mapping[str, Figure], *, why: bool) -> list[str]:
    """Return the figures, each with its because when ``why``."""
    lines: list[str] = []
    for figure in figures.values():
        lines.append("  " + figure_line(figure))
        if why:
            lines.extend(because_lines(figure.because))
    return lines
