"""Records as TOML text: one stable form, short entries one to a line, so that a person can read and change it.

What equals its default is left out; a text read back gives equal records, and those give the same text again.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from enum import Enum
from typing import Any

BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r", "\b": "\\b", "\f": "\\f"}
#: Beyond this many digits a whole float is written in its own shortest form.
WHOLE_BELOW = 1e15

Table = Mapping[str, Any]


def toml_text(table: Table, heading: str = "") -> str:
    """Return the TOML text of a table of plain values, with a comment ahead.

    Values may be text, numbers, decimals, dates, times, lists and tables; None is left out.
    """
    comment = "".join(f"# {line}".rstrip() + "\n" for line in heading.splitlines())
    body = "\n".join(_lines(table, ())).strip("\n")
    return f"{comment}\n{body}\n" if comment else f"{body}\n"


def _lines(table: Table, path: tuple[str, ...]) -> list[str]:
    present = {key: value for key, value in table.items() if value is not None}
    lines = [f"{_key(key)} = {_value(value)}" for key, value in present.items() if not _has_heading(value)]
    for key, value in present.items():
        if _has_heading(value):
            lines.extend(_headed(value, (*path, key)))
    return lines


def _headed(value: Table | Sequence[Table], path: tuple[str, ...]) -> list[str]:
    name = ".".join(_key(part) for part in path)
    if isinstance(value, Mapping):
        return ["", f"[{name}]", *_lines(value, path)]
    return [line for entry in value for line in ("", f"[[{name}]]", *_lines(entry, path))]


def _has_heading(value: object) -> bool:
    """Tell whether a value stands under a heading of its own: a table, or a list of tables with depth."""
    if isinstance(value, Mapping):
        return True
    return (
        isinstance(value, (list, tuple)) and _is_list_of_tables(value) and not all(_is_flat(entry) for entry in value)
    )


def _is_list_of_tables(value: object) -> bool:
    return isinstance(value, (list, tuple)) and bool(value) and all(isinstance(entry, Mapping) for entry in value)


def _is_flat(table: Table) -> bool:
    return not any(isinstance(value, Mapping) or _is_list_of_tables(value) for value in table.values())


def _value(value: object) -> str:
    if isinstance(value, (list, tuple)):
        return _list(value)
    if isinstance(value, Mapping):
        pairs = ", ".join(f"{_key(key)} = {_value(inner)}" for key, inner in value.items() if inner is not None)
        return f"{{ {pairs} }}"
    return _scalar(value)


def _list(entries: Sequence[object]) -> str:
    texts = [_value(entry) for entry in entries]
    if _is_list_of_tables(entries):
        return "[\n" + "".join(f"    {text},\n" for text in texts) + "]"
    return f"[{', '.join(texts)}]"


def _scalar(value: object) -> str:
    if isinstance(value, Enum):
        return _scalar(value.value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (float, Decimal)):
        return _float(value) if isinstance(value, float) else _decimal(value)
    if isinstance(value, (dt.datetime, dt.date, dt.time)):
        return value.isoformat()
    return str(value) if isinstance(value, int) else _string(str(value))


def _float(value: float) -> str:
    return str(int(value)) if value.is_integer() and abs(value) < WHOLE_BELOW else repr(value)


def _decimal(value: Decimal) -> str:
    """Return a whole number bare and anything with decimals as text, so that no reader makes a float of it."""
    return str(value) if value.as_tuple().exponent == 0 else f'"{value}"'


def _string(value: str) -> str:
    return '"' + "".join(ESCAPES.get(letter, letter if _prints(letter) else _unicode(letter)) for letter in value) + '"'


def _prints(letter: str) -> bool:
    return letter >= " " and letter != "\x7f"


def _unicode(letter: str) -> str:
    return f"\\u{ord(letter):04X}"


def _key(key: str) -> str:
    return key if BARE_KEY.fullmatch(key) else _string(key)
