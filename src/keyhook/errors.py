"""One family of errors. Each says what was wrong, the value seen and what to do, under a stable code."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


class KeyhookError(Exception):
    """Root of every error a person may read.

    Parameters
    ----------
    wrong
        What was wrong, one clause without the value.
    seen
        The value that was seen, as the person wrote it; empty when there was none.
    todo
        What to do about it, imperative.
    """

    code: ClassVar[str] = "keyhook"

    def __init__(self, wrong: str, *, seen: object = "", todo: str = "") -> None:
        self.wrong, self.seen, self.todo = wrong, str(seen), todo
        super().__init__(wrong, self.seen, todo)

    def __str__(self) -> str:
        """Return one clear sentence (two when there is something to do)."""
        said = self.wrong + (f" (saw {self.seen})" if self.seen else "")
        return f"{said}. {self.todo}" if self.todo else f"{said}."


class BadInput(KeyhookError):
    """A value given to a computation is outside what it can answer for."""

    code = "bad-input"


class UnknownName(KeyhookError):
    """A name (vehicle, hire, fitting, station ...) that nothing here carries."""

    code = "unknown-name"


class NoPlan(KeyhookError):
    """No plan satisfies the constraints; the message names the one that stands in the way."""

    code = "no-plan"


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One thing wrong with a file: where, what, the value seen, what to do.

    ``line`` counts from 1; 0 means the whole file.
    """

    file: str
    line: int
    field: str
    wrong: str
    seen: str
    todo: str
    code: str = "bad-file"

    def __str__(self) -> str:
        """Return ``file:line field: wrong (saw value). What to do.``."""
        place = f"{self.file}:{self.line}" if self.line else self.file
        seen = f" (saw {self.seen})" if self.seen else ""
        field = f" {self.field}" if self.field else ""
        return f"{place}{field}: {self.wrong}{seen}. {self.todo}"


class BrokenFolder(KeyhookError):
    """A depot folder or data file with problems; all of them at once, nothing half read."""

    code = "broken-folder"

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = sorted(problems)
        count = len(self.problems)
        super().__init__(
            f"{count} problem{'s' if count != 1 else ''} in the files, so nothing was read",
            todo="Mend each line below and read again",
        )

    def __str__(self) -> str:
        """Return the heading and one line a problem."""
        return "\n".join([super().__str__(), *(f"  {problem}" for problem in self.problems)])
