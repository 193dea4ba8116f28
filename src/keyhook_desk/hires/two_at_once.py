"""When two people save one hire: what each changed since it was opened, merged; what both changed, to be chosen."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass

from django.http import QueryDict

from keyhook_desk.hires.hire_form import HireForm

Typed = str | list[str]
_TAKE = "take_"
_NAMES = {
    "lead": "Name on the contract",
    "vehicle": "Vehicle",
    "wanted_sheet": "Class",
    "status": "Status",
    "collect_at": "Collection",
    "return_at": "Return",
    "fresh_l": "Fresh water",
    "where": "Where to",
    "countries": "Countries",
    "crossing_height": "Crossing, height",
    "crossing_length": "Crossing, length",
    "note": "Note",
    "options": "Options",
    "tags": "What kind of trip",
}
_NUMBERED = {"p": "Person", "b": "Bike", "d": "Driver"}


@dataclass(frozen=True, slots=True)
class Clash:
    """One field that both changed, with both versions."""

    key: str
    label: str
    theirs: str
    mine: str

    @property
    def choice(self) -> str:
        """The name of the field in which the choice is sent."""
        return _TAKE + self.key


@dataclass(frozen=True, slots=True)
class Merged:
    """The fields that result, what was taken from the other one, and what both changed (mine stands until chosen)."""

    data: QueryDict
    taken: tuple[str, ...]
    clashes: tuple[Clash, ...]


def snapshot(form: HireForm) -> str:
    """Return the fields as text that travels with the page, so that later both changes can be told apart."""
    return json.dumps({**form.values, **form.multi}, ensure_ascii=False, separators=(",", ":"))


def merge(*, mine: QueryDict, theirs: HireForm, opened: str) -> Merged:
    """Return my fields with the changes of the other one, field by field, against what I had opened."""
    before = _read(opened)
    now: dict[str, Typed] = {**theirs.values, **theirs.multi}
    data, taken, clashes = mine.copy(), [], []
    for key in sorted(set(before) | set(now)):
        was, other, typed = before.get(key, ""), now.get(key, ""), _typed(mine, key, now.get(key, before.get(key, "")))
        if _same(typed, other) or _same(other, was):
            continue
        if _same(typed, was):
            _put(data, key, other)
            taken.append(f"{label_of(key)}: {_shown(other)}")
        else:
            clashes.append(Clash(key, label_of(key), _shown(other), _shown(typed)))
    return Merged(data, tuple(taken), tuple(clashes))


def chosen(mine: QueryDict, theirs: HireForm) -> QueryDict:
    """Return my fields with theirs where the page was told to take them."""
    now: dict[str, Typed] = {**theirs.values, **theirs.multi}
    data = mine.copy()
    for name in [name for name in mine if name.startswith(_TAKE) and mine.get(name) == "theirs"]:
        key = name.removeprefix(_TAKE)
        _put(data, key, now.get(key, ""))
    return data


def label_of(key: str) -> str:
    """Return what a field is called on the page."""
    if key.startswith("load_"):
        return f"Load of {key.removeprefix('load_').replace('_', ' ')}"
    if found := re.fullmatch(r"([pbd])(\d+)_(\w+)", key):
        return f"{_NUMBERED[found[1]]} {int(found[2]) + 1}, {found[3]}"
    return _NAMES.get(key, key.replace("_", " ").capitalize())


def _read(opened: str) -> dict[str, Typed]:
    """Return the snapshot; one that cannot be read makes every difference a choice, never a loss."""
    try:
        found = json.loads(opened)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def _typed(data: QueryDict, key: str, like: Typed) -> Typed:
    return data.getlist(key) if isinstance(like, list) else data.get(key, "").strip()


def _same(one: Typed, other: Typed) -> bool:
    return (one or "") == (other or "")


def _put(data: QueryDict, key: str, value: Typed) -> None:
    if isinstance(value, list):
        data.setlist(key, value)
    else:
        data[key] = value


def _shown(value: Typed) -> str:
    text = ", ".join(value) if isinstance(value, list) else value.replace("T", " ") if "T" in value[10:11] else value
    return text.replace("_", " ") or "nothing"
