"""What a person typed into a form: kept as typed until it is right, every slip named beside its field."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.http import QueryDict
from pydantic import ValidationError

from keyhook.records_toml import WORDS

_MOST_SEEN = 40


@dataclass(slots=True)
class Typed:
    """Fields as typed, those with several values, and the slips by field."""

    values: dict[str, str]
    multi: dict[str, list[str]] = field(default_factory=dict)
    errors: dict[str, str] = field(default_factory=dict)

    @property
    def slips(self) -> list[str]:
        """Every slip as one sentence."""
        return list(self.errors.values())

    def take(self, data: QueryDict) -> None:
        """Take what was sent."""
        self.values |= {key: data.get(key, "").strip() for key in data}
        self.multi |= {key: data.getlist(key) for key in data}

    def number(self, key: str, label: str) -> float | None:
        """Return a number, None when nothing was typed or when it is none (then with a slip)."""
        text = self.values.get(key, "").replace(",", ".")
        if not text:
            return None
        try:
            return float(text)
        except ValueError:
            self.errors[key] = f"{label} is not a number (saw {text[:30]}). Write a number, like 75 or 12.5."
            return None

    def date(self, key: str, label: str) -> dt.date | None:
        """Return a date, None when nothing was typed or when it is none (then with a slip)."""
        text = self.values.get(key, "")
        if not text:
            return None
        try:
            return dt.date.fromisoformat(text)
        except ValueError:
            self.errors[key] = f"{label} is not a date (saw {text[:30]}). Write it like 1986-04-30."
            return None

    def refuse(
        self, error: ValidationError, key_of: Callable[[tuple[Any, ...]], str], labels: Mapping[str, str]
    ) -> None:
        """Take over what a record found wrong: ``key_of`` finds the field of a place in it, ``labels`` its name."""
        for entry in error.errors(include_url=False):
            self.errors.setdefault(key_of(entry["loc"]), _sentence(entry, labels))


def _sentence(entry: Mapping[str, Any], labels: Mapping[str, str]) -> str:
    wrong, todo = WORDS.get(entry["type"], (str(entry["msg"]).removeprefix("Value error, "), "Mend it"))
    context = {key: value for key, value in entry.get("ctx", {}).items() if key != "error"}
    last = next((str(part) for part in reversed(entry["loc"]) if isinstance(part, str)), "")
    label = labels.get(last, last.replace("_", " ").capitalize() or "The whole")
    given = entry.get("input")
    seen = "" if isinstance(given, dict) or given in ("", None) else f" (saw {given!s:.{_MOST_SEEN}})"
    return f"{label}: {wrong.format(**context)}{seen}. {todo.format(**context)}."


def as_typed(value: float | None) -> str:
    """Return a number as a person would type it; nothing for None."""
    return "" if value is None else f"{value:g}"
