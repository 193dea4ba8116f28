"""System check of the guard of the hand-over ledger."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.apps.config import AppConfig
from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections

from keyhook_desk.walkround import guard


@register(Tags.database)
def the_ledger_is_guarded(
    app_configs: Sequence[AppConfig] | None, databases: Sequence[str] | None = None, **kwargs: Any
) -> list[CheckMessage]:
    """keyhook.E010: the database would let an entry of the hand-over ledger be changed."""
    _ = app_configs, kwargs
    return [
        Error(
            "The database lets an entry of the hand-over ledger be changed.",
            hint="Put the guard of keyhook_desk.walkround.guard up again in a migration.",
            id="keyhook.E010",
        )
        for alias in databases or ()
        if guard.is_missing(connections[alias])
    ]
