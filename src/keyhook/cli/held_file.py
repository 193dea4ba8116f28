"""The file of a held plan: written whole or not at all, never over anything else, read only when it is sound."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

from keyhook.errors import BadInput
from keyhook.turnaround.held_plan import HOW, KIND, HeldPlan, held_document, held_of


def read_held(path: Path, day: dt.date | None) -> HeldPlan:
    """Return the plan that a file keeps.

    Raises
    ------
    BadInput
        The file cannot be read, keeps no plan, one that breaks a rule, or the plan of another day.
    """
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise BadInput("The plan cannot be opened", seen=path, todo=HOW) from error
    except ValueError as error:  # neither text nor JSON
        raise BadInput("This file keeps no plan", seen=path, todo=HOW) from error
    if not isinstance(document, dict) or document.get("kind") != KIND:
        raise BadInput("This file keeps no plan", seen=path, todo=HOW)
    held = held_of(document)
    if day is not None and held.clock.day != day:
        todo = f"Ask for {held.clock.day}, or name the file of {day}"
        raise BadInput(f"{path.name} keeps the plan of another day", seen=held.clock.day, todo=todo)
    return held


def may_be_kept_in(path: Path, day: dt.date) -> None:
    """Raise ``BadInput`` when a file is there that is not a plan of this day, or its folder is not."""
    if path.exists() or path.is_symlink():
        document = _document_in(path)
        if document.get("kind") != KIND:
            raise BadInput("This file is there and keeps no plan", seen=path, todo="Name another file for --keep")
        if document.get("day") != day.isoformat():
            wrong = f"{path.name} keeps the plan of another day"
            raise BadInput(wrong, seen=document.get("day"), todo="Name another file for --keep")
    elif not path.parent.is_dir():
        raise BadInput("There is no such folder to keep the plan in", seen=path.parent, todo="Make it, or name another")


def _document_in(path: Path) -> dict[str, object]:
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return document if isinstance(document, dict) else {}


def write_held(path: Path, held: HeldPlan) -> None:
    """Write a plan to a file, whole or not at all.

    Raises
    ------
    BadInput
        It cannot be written there.
    """
    beside = path.with_name(path.name + ".part")
    try:
        beside.write_text(json.dumps(held_document(held), ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise BadInput("The plan cannot be written there", seen=path, todo="Name another file for --keep") from error


def minute_now(held: HeldPlan, now: str | None) -> int:
    """Return the minute from which a day is planned again; its opening when nothing is said and nothing has begun.

    Raises
    ------
    BadInput
        It is no time, before the yard opens or the plan was made, or after the day.
    """
    clock, problem = held.clock, held.problem
    if now is None:
        if held.now_min is None:
            return problem.opening_min
        made = clock.says(held.now_min)
        raise BadInput("This plan was made in the middle of its day", seen=made, todo="Say what time it is with --now")
    minute = clock.read(now, "The time of --now")
    if held.now_min is not None and minute < held.now_min:
        wrong = f"This plan was made at {clock.says(held.now_min)}, and now cannot be before that"
        raise BadInput(wrong, seen=now, todo="Give a later --now, or name the plan that was held before")
    if minute < problem.opening_min:
        wrong = f"The yard opens at {clock.says(problem.opening_min)}, so nothing has begun by then"
        raise BadInput(wrong, seen=now, todo="Leave --now out")
    if minute >= problem.closing_min:
        wrong = f"This day is over at {clock.says(problem.closing_min)}, with all overtime"
        raise BadInput(wrong, seen=now, todo=f"Plan {clock.day + dt.timedelta(days=1)}")
    return minute
