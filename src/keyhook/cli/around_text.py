"""The evening before, the vehicles that go straight out again, and days without a changeover, as text."""

from __future__ import annotations

from collections.abc import Sequence

from keyhook.phrases import say
from keyhook.turnaround.around import EarlyTask, Standing, TightTurn
from keyhook.turnaround.clock import Clock

MOMENT = "%a %d %b %H:%M"


def turns_text(turns: Sequence[TightTurn]) -> list[str]:
    """Return the vehicles that go straight out again, one a line; nothing when there is none."""
    return [say("day_plan.around.straight"), *("  " + turn_text(turn) for turn in turns)] if turns else []


def turn_text(turn: TightTurn) -> str:
    """Return one vehicle that goes straight out again, with the room it has."""
    values = {
        "vehicle": turn.vehicle,
        "back": f"{turn.back_at:%H:%M} ({turn.back})",
        "out": f"{turn.promised_at:{MOMENT}} ({turn.out})",
        "work_min": turn.work_min,
        "slack_min": turn.slack_min,
        "short_min": -turn.slack_min,
    }
    return say("day_plan.around.turn" if turn.slack_min >= 0 else "day_plan.around.turn_tight", values)


def standing_text(found: Sequence[Standing]) -> list[str]:
    """Return the vehicles that stand as they came back, one a line; nothing when there is none."""
    lines = []
    for one in found:
        out = say("day_plan.around.unwanted") if one.promised_at is None else f"{one.promised_at:{MOMENT}} ({one.out})"
        values = {"vehicle": one.vehicle, "back": f"{one.back_at:{MOMENT}} ({one.back})", "out": out}
        lines.append("  " + say("day_plan.around.stands", values))
    return [say("day_plan.around.standing"), *lines] if lines else []


def evening_text(tasks: Sequence[EarlyTask], clock: Clock, spares_min: float, *, why: bool = False) -> str:
    """Return what can be done the evening before a day, and what that spares; with ``why`` what counts as early."""
    day = f"{clock.day:%A %d %B}"
    if not tasks:
        return say("day_plan.around.evening_none", {"day": day})
    lines = [say("day_plan.around.evening", {"day": day, "minutes": sum(task.minutes for task in tasks)})]
    lines += ["  " + early_text(task) for task in tasks]
    if spares_min >= 1:
        lines.append(say("day_plan.around.evening_spares", {"minutes": round(spares_min)}))
    if why:
        lines.append(say("day_plan.around.evening_why"))
    return "\n".join(lines)


def early_text(task: EarlyTask) -> str:
    """Return one task of the evening before: for whom, what, where, how long."""
    where = task.vehicle or say("day_plan.around.at_desk")
    values = {"departure": task.departure, "name": task.name, "where": where, "minutes": task.minutes}
    return say("day_plan.around.early", values)
