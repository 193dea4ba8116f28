"""The loading answer as the page shows it: verdict, bars, findings, steps, states, because."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
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
    words: str
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
    needs_change = with_steps and answer.wants_repacking
    change = steps(lightest_change(sheet, answer), sheet, answer) if needs_change else ()
    by_level = {level: tuple(f for f in answer.findings if f.level is level) for level in Level}
    return Panel(
        answer,
        *verdict_of(answer),
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


def verdict_of(answer: LoadingAnswer) -> tuple[str, str]:
    """Return the verdict and its words; what fits by weight and is stopped by something else is no "fits"."""
    return "over" if answer.overall == "stopped" else answer.verdict, say(f"loading.verdict.{answer.overall}")


@dataclass(frozen=True, slots=True)
class Chip:
    """A loading answer in a few words, for lists: ``stops`` are the sentences of what stops the hire."""

    verdict: str
    words: str
    stops: tuple[str, ...]
    margin_kg: float | None


def chip(sheet: BuildSheet, hire: Hire, *, on_day: dt.date) -> Chip:
    """Return the answer in a few words; a hire that cannot be answered says why."""
    try:
        answer = loading_answer(sheet, hire, load_catalogue(), on_day=on_day)
    except KeyhookError as error:
        return Chip("unknown", "Check the hire", (str(error),), None)
    return Chip(*verdict_of(answer), stops_of(answer), answer.worst.least_margin_kg)


def stops_of(answer: LoadingAnswer) -> tuple[str, ...]:
    """Return the sentences of everything that stops the hire."""
    return tuple(say(found.code, found.values) for found in answer.findings if found.level is Level.STOP)


@dataclass(frozen=True, slots=True)
class Swap:
    """Vehicles that answer this hire alike, each with the hire it is with then (empty when it is free)."""

    verdict: str
    words: str
    margin_kg: float
    percent: float
    stops: tuple[str, ...]
    vehicles: tuple[tuple[str, str], ...]

    @property
    def is_free(self) -> bool:
        """Tell whether any of them is free then."""
        return any(not other for _, other in self.vehicles)


def swaps(hire: Hire, taken: Mapping[str, str], *, on_day: dt.date) -> list[Swap]:
    """Return the hire through every vehicle of the yard: what is free and carries them first."""
    rows = VehicleRow.objects.select_related("sheet")
    alike: dict[tuple[object, ...], list[SwapLine]] = {}
    for line in swap_table({row.name: built_of(row) for row in rows}, hire, load_catalogue(), on_day=on_day):
        key = (line.sheet, line.answer.verdict, round(line.answer.worst.least_margin_kg), stops_of(line.answer))
        alike.setdefault(key, []).append(line)
    found = [_swap(lines, taken) for lines in alike.values()]
    return sorted(found, key=lambda swap: (len(swap.stops), not swap.is_free, -swap.margin_kg))


def _swap(lines: list[SwapLine], taken: Mapping[str, str]) -> Swap:
    answer = lines[0].answer
    named = sorted((line.vehicle, taken.get(line.vehicle, "")) for line in lines)
    return Swap(
        *verdict_of(answer),
        answer.worst.least_margin_kg,
        100 * answer.worst.chance.any_probability,
        stops_of(answer),
        tuple(sorted(named, key=lambda pair: bool(pair[1]))),
    )


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
