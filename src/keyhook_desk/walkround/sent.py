"""What a tablet sends, read strictly: each slip is one sentence with the value seen."""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from keyhook.errors import BadInput
from keyhook.tour.replan import Progress
from keyhook_desk.walkround.models import Kind
from keyhook_desk.walkround.services import Acknowledgement, Asked, Shown, Tick

#: Names of points as the catalogue writes them.
_POINT = re.compile(r"[a-z][a-z0-9_]{0,59}")
#: A signature: the commands M and L of a path with whole numbers.
_SIGNATURE = re.compile(r"(?:[ML][0-9]{1,4} [0-9]{1,4} ?)*")
_MOST_SIGNATURE, _MOST_NAME, _MOST_NOTE, _MOST_TEXT, _MOST_POINTS = 30_000, 120, 500, 600, 200
_HOW = {"told", "hirer_did", ""}
_ANSWERS = {"answered", "again"}
_SEEN = 40


def read_tick(data: Mapping[str, str]) -> Tick:
    """Return a tick as sent.

    Raises
    ------
    BadInput
        A field that cannot be read.
    """
    kind = data.get("kind", "")
    if kind not in Kind.values:
        raise BadInput("A tick cannot be of this kind", seen=kind[:_SEEN], todo=f"Send one of {', '.join(Kind.values)}")
    point = data.get("point", "")
    if kind not in {Kind.STARTED, Kind.NOTE} or point:
        point = _point(point)
    note = data.get("note", "").strip()
    if kind == Kind.NOTE and not note:
        raise BadInput("A note has no words", todo="Write some, or leave the note out")
    return Tick(_uid(data), point, Kind(kind), moment(data), _short(note, _MOST_NOTE, "The note"))


def read_acknowledgement(data: Mapping[str, str]) -> Acknowledgement:
    """Return what was signed as sent.

    Raises
    ------
    BadInput
        A field that cannot be read, a missing name.
    """
    name = " ".join(data.get("name", "").split())
    if not name:
        raise BadInput("The acknowledgement has no name", todo="Let the hirer type their name")
    signature = data.get("signature", "")
    if len(signature) > _MOST_SIGNATURE or not _SIGNATURE.fullmatch(signature):
        raise BadInput("The signature cannot be read", seen=signature[:_SEEN], todo="Clear it and sign again")
    return Acknowledgement(
        uid=_uid(data),
        name=_short(name, _MOST_NAME, "The name"),
        signature=signature,
        shown=tuple(_shown(entry) for entry in _entries(data, "shown")),
        asked=tuple(_asked(entry) for entry in _entries(data, "asked")),
        caution=_short(data.get("caution", ""), 4 * _MOST_TEXT, "The caution"),
        at=moment(data),
        minutes=round(_number(data.get("minutes", "0"), "The minutes")),
    )


def read_progress(data: Mapping[str, str]) -> tuple[Progress, float | None]:
    """Return where a tour stands, and the minutes that are left when somebody said so.

    Raises
    ------
    BadInput
        Seconds or minutes that cannot be.
    """
    left = data.get("left_min", "").strip()
    left_min = None if not left else _number(left, "The minutes left")
    progress = Progress(
        elapsed_s=_number(data.get("elapsed_s", "0"), "The seconds since the start"),
        at_station=data.get("at", "")[:60] or None,
        done=tuple(_names(data, "done")),
        skipped=frozenset(_names(data, "skipped")),
        paused_s=_number(data.get("paused_s", "0") or "0", "The seconds paused"),
    )
    return progress, left_min


def moment(data: Mapping[str, str]) -> dt.datetime:
    """Return the tablet's time with its offset."""
    text = data.get("at", "")
    try:
        at = dt.datetime.fromisoformat(text)
    except ValueError:
        at = None
    if at is None or at.tzinfo is None:
        raise BadInput("This is no moment", seen=text[:_SEEN], todo="Send it like 2026-07-10T14:05:00+01:00")
    return at


def _uid(data: Mapping[str, str]) -> UUID:
    try:
        return UUID(data.get("uid", ""))
    except ValueError:
        seen = data.get("uid", "")[:_SEEN]
        raise BadInput("The id of this entry cannot be read", seen=seen, todo="Open the page again") from None


def _point(text: str) -> str:
    if not _POINT.fullmatch(text):
        raise BadInput("No point of a tour is called this", seen=text[:_SEEN], todo="Open the page again")
    return text


def _names(data: Mapping[str, str], key: str) -> list[str]:
    return [_point(name) for name in data.get(key, "").split(",") if name][:_MOST_POINTS]


def _number(text: str, what: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not 0 <= number < 7 * 24 * 3600:
        raise BadInput(f"{what} cannot be this", seen=text[:_SEEN], todo="Give a number of 0 or more")
    return number


def _short(text: str, most: int, what: str) -> str:
    if len(text) > most:
        raise BadInput(f"{what} is too long", seen=f"{len(text)} letters", todo=f"Keep it within {most}")
    return text


def _entries(data: Mapping[str, str], key: str) -> list[dict[str, str]]:
    try:
        entries: Any = json.loads(data.get(key) or "[]")
    except ValueError:
        entries = None
    whole = isinstance(entries, list) and len(entries) <= _MOST_POINTS
    if not whole or not all(isinstance(entry, dict) for entry in entries):
        raise BadInput(f"The list of what was {key} cannot be read", seen=data.get(key, "")[:_SEEN], todo="Sign again")
    return [{str(name): str(value) for name, value in entry.items()} for entry in entries]


def _one_of(value: str, allowed: set[str], what: str) -> str:
    if value not in allowed:
        raise BadInput(f"{what} cannot be this", seen=value[:_SEEN], todo="Open the page again")
    return value


def _shown(entry: Mapping[str, str]) -> Shown:
    how = _one_of(entry.get("how", ""), _HOW, "How a point was shown")
    return Shown(_point(entry.get("id", "")), _short(entry.get("text", ""), _MOST_TEXT, "A point"), how)


def _asked(entry: Mapping[str, str]) -> Asked:
    answer = _one_of(entry.get("answer", ""), _ANSWERS, "The answer to a question")
    return Asked(_point(entry.get("point", "")), _short(entry.get("text", ""), _MOST_TEXT, "A question"), answer)
