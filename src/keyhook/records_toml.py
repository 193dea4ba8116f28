"""Records out of TOML text; when they do not fit, every problem with its file and line, in plain words.

The text is read with the standard library. Only when something is wrong is it parsed again with positions, so
that a problem can name its line.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Sequence
from functools import lru_cache
from typing import Any, TypeVar

import tree_sitter
import tree_sitter_toml
from pydantic import BaseModel, ValidationError

from keyhook.errors import BrokenFolder, Problem

M = TypeVar("M", bound=BaseModel)
Loc = tuple[int | str, ...]

#: pydantic's error types in our words: what was wrong, what to do. ``{x}`` are places of the error's context.
WORDS = {
    "missing": ("a field is missing", "Add it"),
    "extra_forbidden": ("no such field", "Take it out or mend its name"),
    "float_parsing": ("not a number", "Write a number"),
    "float_type": ("not a number", "Write a number"),
    "int_parsing": ("not a whole number", "Write a whole number"),
    "int_type": ("not a whole number", "Write a whole number"),
    "int_from_float": ("not a whole number", "Write a whole number"),
    "bool_type": ("neither true nor false", "Write true or false"),
    "bool_parsing": ("neither true nor false", "Write true or false"),
    "string_type": ("not a text", "Write it between quotes"),
    "greater_than": ("too small", "Write a value greater than {gt}"),
    "greater_than_equal": ("too small", "Write {ge} or more"),
    "less_than": ("too large", "Write a value less than {lt}"),
    "less_than_equal": ("too large", "Write {le} or less"),
    "string_too_short": ("the text is empty", "Write something"),
    "string_too_long": ("the text is longer than {max_length} characters", "Say it shorter"),
    "string_pattern_mismatch": ("not in the form asked for", "Write it in the form {pattern}"),
    "literal_error": ("not one of the words allowed", "Use one of {expected}"),
    "too_short": ("too few entries", "Give {min_length} or more"),
    "too_long": ("too many entries", "Give {max_length} or fewer"),
    "tuple_type": ("not a list", "Write a list between square brackets"),
    "finite_number": ("not a finite number", "Write a finite number"),
    "datetime_from_date_parsing": ("not a date and time", "Write it like 2026-07-10T14:00:00+01:00"),
    "datetime_parsing": ("not a date and time", "Write it like 2026-07-10T14:00:00+01:00"),
    "date_from_datetime_parsing": ("not a date", "Write it like 2026-07-10"),
    "date_parsing": ("not a date", "Write it like 2026-07-10"),
    "datetime_type": ("not a date and time", "Write it like 2026-07-10T14:00:00+01:00"),
    "date_type": ("not a date", "Write it like 2026-07-10"),
    "date_from_datetime_inexact": ("a date with a time of day", "Write it like 2026-07-10"),
    "int_parsing_size": ("far too large", "Write a smaller whole number"),
    "list_type": ("not a list", "Write a list between square brackets"),
    "set_type": ("not a list", "Write a list between square brackets"),
    "frozen_set_type": ("not a list", "Write a list between square brackets"),
    "decimal_parsing": ("not an amount", "Write a number like 12.50"),
    "decimal_type": ("not an amount", "Write a number like 12.50"),
    "decimal_max_places": ("too many digits behind the point", "Write {decimal_places} or fewer"),
    "enum": ("not one of the words allowed", "Use one of {expected}"),
    "time_parsing": ("not a clock time", "Write it like 17:30"),
    "time_type": ("not a clock time", "Write it like 17:30"),
    "timezone_aware": ("a time without its UTC offset", "Write it like 2026-07-10T14:00:00+01:00"),
    "model_type": ("not a table of fields", "Write fields between braces or under a heading"),
    "dict_type": ("not a table of fields", "Write fields between braces or under a heading"),
}

#: Forms that our records ask for, in words.
FORMS = {
    r"^[A-Za-z0-9][A-Za-z0-9_\-]*$": "with letters, digits, - and _ only, beginning with a letter or digit",
    r"^[A-Z]$": "as one capital letter",
    r"^[A-Z]{2}$": "as two capital letters, for example GB",
    r"^[A-Z]{3}$": "as three capital letters, for example GBP",
    r"^[0-9]{4}$": "as four digits: week and year, for example 0824",
    r"^[0-9]{4}-[0-9]{2}$": "as year and month, for example 2023-03",
    r"^(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$": "as month and day, for example 06-20",
    r"^([01][0-9]|2[0-3]):[0-5][0-9]$": "as a clock time, for example 17:30",
}


def read_toml(text: str, file: str) -> dict[str, Any]:
    """Return the tables of a TOML text.

    Raises
    ------
    BrokenFolder
        The text is not TOML; the problem names the line.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"line (\d+)", str(error))
        line = int(found.group(1)) if found else text.count("\n") + 1
        said = re.sub(r"\s*\(at .*\)$", "", str(error))
        lines = text.splitlines()
        seen = lines[line - 1].strip() if 0 < line <= len(lines) else ""
        problem = Problem(file, line, "", "the line cannot be read as TOML", seen, f"Mend it ({said})", "not-toml")
        raise BrokenFolder([problem]) from error


def read_record(text: str, file: str, model: type[M], *, table: str | None = None) -> M:
    """Return the record that a TOML text (or its one ``table``) holds.

    Raises
    ------
    BrokenFolder
        With every problem of the text at once.
    """
    tables = read_toml(text, file)
    prefix: Loc = (table,) if table else ()
    try:
        return model.model_validate(tables.get(table, {}) if table else tables)
    except ValidationError as error:
        raise BrokenFolder(problems_of(error, text, file, model, prefix)) from error


def read_records(text: str, file: str, model: type[M], table: str) -> tuple[M, ...]:
    """Return the records of an array of tables ``[[table]]``; every problem of all of them at once otherwise."""
    records: list[M] = []
    problems: list[Problem] = []
    for index, entry in enumerate(read_toml(text, file).get(table, [])):
        try:
            records.append(model.model_validate(entry))
        except ValidationError as error:
            problems.extend(problems_of(error, text, file, model, (table, index)))
    if problems:
        raise BrokenFolder(problems)
    return tuple(records)


def problems_of(
    error: ValidationError, text: str, file: str, model: type[BaseModel] | None = None, prefix: Loc = ()
) -> list[Problem]:
    """Return one problem for each thing pydantic found wrong, with the line of the field in the text."""
    index = _index_of(text)
    return [_problem(entry, index, file, model, prefix) for entry in error.errors(include_url=False)]


def problem_at(
    text: str, file: str, loc: Loc, *, wrong: str, seen: object, todo: str, code: str = "bad-reference"
) -> Problem:
    """Return a problem at the line where ``loc`` (keys and list positions) stands in the text."""
    return Problem(file, _index_of(text).line_of(loc), _dotted(loc), wrong, str(seen), todo, code)


def _problem(entry: Any, index: LineIndex, file: str, model: type[BaseModel] | None, prefix: Loc) -> Problem:
    kind, loc = str(entry["type"]), (*prefix, *(part for part in entry["loc"] if not _is_a_label(part)))
    wrong, todo = _in_our_words(kind, entry)
    seen = "" if kind == "missing" or isinstance(entry.get("input"), dict) else _short(entry.get("input"))
    if kind == "extra_forbidden" and (near := _nearest(str(loc[-1]), model, loc[len(prefix) :])):
        todo = f"Did you mean {near}?"
    return Problem(file, index.line_of(loc), _dotted(loc), wrong, seen, todo, f"field-{kind.replace('_', '-')}")


def _in_our_words(kind: str, entry: Any) -> tuple[str, str]:
    if kind == "missing" and isinstance(entry["loc"][-1], int):
        return "a value is missing at the end of the list", "Add it"
    context = {key: _plain(value) for key, value in entry.get("ctx", {}).items() if key != "error"}
    if kind in {"value_error", "assertion_error"}:
        return str(entry["msg"]).split(" error, ", 1)[-1].removeprefix("Assertion failed, "), "Mend the value"
    if kind not in WORDS:
        return str(entry["msg"]).lower(), "Mend the value"
    wrong, todo = WORDS[kind]
    if context.get("pattern") in FORMS:
        return wrong, f"Write it {FORMS[str(context['pattern'])]}"
    return wrong.format(**context), todo.format(**context)


def _plain(value: object) -> object:
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _is_a_label(part: int | str) -> bool:
    """Tell whether pydantic put the part there to name a branch of a union, not a field."""
    return isinstance(part, str) and ("[" in part or "(" in part)


def _nearest(name: str, model: type[BaseModel] | None, loc: Sequence[int | str]) -> str:
    holder = model
    for part in loc[:-1]:
        if holder is None:
            return ""
        holder = holder if isinstance(part, int) else _model_of(holder, part)
    close = difflib.get_close_matches(name, list(holder.model_fields) if holder else [], n=1, cutoff=0.5)
    return close[0] if close else ""


def _model_of(model: type[BaseModel], field: str) -> type[BaseModel] | None:
    info = model.model_fields.get(field)
    stack = [info.annotation] if info else []
    while stack:
        kind = stack.pop()
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            return kind
        stack.extend(getattr(kind, "__args__", ()))
    return None


def _short(value: object, most: int = 60) -> str:
    text = str(value)
    return text if len(text) <= most else text[: most - 1] + "…"


def _dotted(loc: Loc) -> str:
    parts = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in loc)
    return parts.removeprefix(".")


class LineIndex:
    """Where keys and list entries stand in a TOML text, by the path to them."""

    def __init__(self, text: str) -> None:
        self._lines: dict[Loc, int] = {}
        self._counts: dict[Loc, int] = {}
        parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_toml.language()))
        for node in parser.parse(text.encode()).root_node.named_children:
            self._top(node)

    def line_of(self, loc: Loc) -> int:
        """Return the line of the path, else of the nearest thing around it, else 1."""
        for end in range(len(loc), 0, -1):
            if loc[:end] in self._lines:
                return self._lines[loc[:end]]
        return 1

    def _top(self, node: tree_sitter.Node) -> None:
        if node.type == "pair":
            self._pair(node, ())
        elif node.type in {"table", "table_array_element"}:
            self._table(node)

    def _table(self, node: tree_sitter.Node) -> None:
        keys = [child for child in node.named_children if child.type.endswith("key")]
        path = self._entered(_key_parts(keys[0]), is_list=node.type == "table_array_element")
        self._lines.setdefault(path, node.start_point[0] + 1)
        for child in node.named_children:
            if child.type == "pair":
                self._pair(child, path)

    def _entered(self, parts: Loc, *, is_list: bool) -> Loc:
        """Return the path of a heading: names of earlier lists get the position of their last entry."""
        path: Loc = ()
        for number, part in enumerate(parts):
            path = (*path, part)
            if is_list and number == len(parts) - 1:
                self._counts[path] = self._counts.get(path, -1) + 1
            if path in self._counts:
                path = (*path, self._counts[path])
        return path

    def _pair(self, node: tree_sitter.Node, path: Loc) -> None:
        key, value = node.named_children[0], node.named_children[-1]
        inner = (*path, *_key_parts(key))
        self._lines.setdefault(inner, node.start_point[0] + 1)
        self._value(value, inner)

    def _value(self, node: tree_sitter.Node, path: Loc) -> None:
        if node.type == "inline_table":
            for child in node.named_children:
                if child.type == "pair":
                    self._pair(child, path)
        elif node.type == "array":
            entries = [child for child in node.named_children if child.type != "comment"]
            for number, child in enumerate(entries):
                self._lines.setdefault((*path, number), child.start_point[0] + 1)
                self._value(child, (*path, number))


@lru_cache(maxsize=4)
def _index_of(text: str) -> LineIndex:
    """Return the lines of a text; a text with many problems is asked once for each of them."""
    return LineIndex(text)


def _key_parts(node: tree_sitter.Node) -> Loc:
    if node.type == "dotted_key":
        return tuple(part for child in node.named_children for part in _key_parts(child))
    text = (node.text or b"").decode()
    return (next(iter(tomllib.loads(f"{text} = 0"))),) if node.type == "quoted_key" else (text,)
