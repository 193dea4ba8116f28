"""The loading answer as the page shows it: verdict, bars, findings, steps, states, because."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from keyhook.basis import Figure, Finding, Level
from keyhook.catalogue import load_catalogue
from keyhook.drawing import Bar, load_bars
from keyhook.errors import KeyhookError
from keyhook.hire.hire import Hire
from keyhook.loading.answer import loading_answer
from keyhook.loading.outcome import AXLES, LoadingAnswer
from keyhook.loading.packing import lightest_change, steps
from keyhook.loading.swap import SwapLine, swap_table
from keyhook.phrases import say
from keyhook.vehicle.build_sheet import BuildSheet
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.fleet.sheets import built_of


@dataclass(frozen=True, slots=True)
class StateRow:
    """One state of the trip as a row of the table."""

    words: str
    planned: bool
    worst: bool
    front_kg: float
    rear_kg: float
    total_kg: float
    margin_kg: float
    percent: float


@dataclass(frozen=True, slots=True)
class Panel:
    """Everything the loading panel shows."""

    answer: LoadingAnswer
    verdict: str
    bars: str
    stops: tuple[Finding, ...]
    warns: tuple[Finding, ...]
    notes: tuple[Finding, ...]
    steps: tuple[Finding, ...]
    prices: tuple[Finding, ...]
    states: tuple[StateRow, ...]
    figures: tuple[Figure, ...]


def loading_panel(sheet: BuildSheet, hire: Hire, *, on_day: dt.date, with_steps: bool = True) -> Panel:
    """Return the panel of one hire in one vehicle."""
    answer = loading_answer(sheet, hire, load_catalogue(), on_day=on_day)
    needs_change = with_steps and answer.verdict == "over"
    change = steps(lightest_change(sheet, answer), sheet, answer) if needs_change else ()
    by_level = {level: tuple(f for f in answer.findings if f.level is level) for level in Level}
    return Panel(
        answer,
        verdict_words(answer),
        _bars(answer),
        by_level[Level.STOP],
        by_level[Level.WARN],
        by_level[Level.NOTE],
        tuple(step for step in change if not _is_price(step)),
        tuple(step for step in change if _is_price(step)),
        tuple(_states(answer)),
        tuple(answer.figures.values()),
    )


def _is_price(step: Finding) -> bool:
    return step.code.startswith("loading.step.price_")


def verdict_words(answer: LoadingAnswer) -> str:
    """Return the verdict in two or three words."""
    return say(f"loading.verdict.{answer.verdict}")


def chip(sheet: BuildSheet, hire: Hire, *, on_day: dt.date) -> tuple[str, str, int]:
    """Return verdict key, its words and how many findings stop the hire; for lists."""
    try:
        answer = loading_answer(sheet, hire, load_catalogue(), on_day=on_day)
    except KeyhookError:
        return "unknown", "Check the hire", 1
    return answer.verdict, verdict_words(answer), sum(1 for f in answer.findings if f.level is Level.STOP)


def swaps(hire: Hire, *, on_day: dt.date) -> tuple[SwapLine, ...]:
    """Return the hire through every vehicle of the yard, best first."""
    rows = VehicleRow.objects.select_related("sheet")
    return swap_table({row.name: built_of(row) for row in rows}, hire, load_catalogue(), on_day=on_day)


def _bars(answer: LoadingAnswer) -> str:
    worst = answer.worst
    sd_kg = {"front": worst.spread.front_sd_kg, "rear": worst.spread.rear_sd_kg, "total": worst.spread.total_sd_kg}
    bars = []
    for axle in AXLES:
        load_kg, limit_kg = worst.load_kg(axle), answer.limits.of(axle)
        margin_kg = limit_kg - load_kg
        end = f"{margin_kg:.0f} kg to spare" if margin_kg >= 0 else f"{-margin_kg:.0f} kg OVER"
        words = f"{load_kg:.0f} of {limit_kg:.0f} kg, {end}"
        bars.append(Bar(say(f"loading.axle.{axle}"), load_kg, limit_kg, sd_kg[axle], words))
    return load_bars(bars, prefix="loads", title="Axle loads and total against their limits")


def _states(answer: LoadingAnswer) -> list[StateRow]:
    return [
        StateRow(
            say(f"loading.state.{state.state.key}"),
            state.state.planned,
            state is answer.worst,
            state.loads.front_kg,
            state.loads.rear_kg,
            state.loads.total_kg,
            state.least_margin_kg,
            100 * state.chance.any_probability,
        )
        for state in answer.states
    ]
