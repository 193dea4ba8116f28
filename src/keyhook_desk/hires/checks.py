"""System check of the guard against double hires."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.apps.config import AppConfig
from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections

from keyhook_desk.hires import guard


@register(Tags.database)
def the_guard_is_up(
    app_configs: Sequence[AppConfig] | None, databases: Sequence[str] | None = None, **kwargs: Any
) -> list[CheckMessage]:
    """keyhook.E002: the database would let a vehicle be given twice (SQLite loses triggers when a table is remade)."""
    _ = app_configs, kwargs
    return [
        Error(
            "The database lets one vehicle be given to two hires at one time.",
            hint="Put the guard of keyhook_desk.hires.guard up again in a migration.",
            id="keyhook.E002",
        )
        for alias in databases or ()
        if guard.is_missing(connections[alias])
    ]
