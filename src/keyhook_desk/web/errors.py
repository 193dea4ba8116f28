"""Errors of the desk that a person reads."""

from __future__ import annotations

from typing import ClassVar

from keyhook.errors import KeyhookError


class DoubleHire(KeyhookError):
    """The vehicle is already given to another hire at that time."""

    code: ClassVar[str] = "double-hire"


class EditedMeanwhile(KeyhookError):
    """Somebody else saved the same record since it was opened."""

    code: ClassVar[str] = "edited-meanwhile"
