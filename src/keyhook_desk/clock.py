"""The one clock of the desk. Everything else is told what time it is."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.utils import timezone


def now() -> dt.datetime:
    """Return the present moment, or the one that KEYHOOK_NOW makes stand for it."""
    if not settings.NOW:
        return timezone.now()
    try:
        moment = dt.datetime.fromisoformat(settings.NOW)
    except ValueError as error:
        raise ImproperlyConfigured(
            f"KEYHOOK_NOW is not a moment (saw {settings.NOW}). Write it like 2026-07-10T08:00:00+01:00"
        ) from error
    if moment.tzinfo is None:
        raise ImproperlyConfigured(f"KEYHOOK_NOW has no UTC offset (saw {settings.NOW}). Add one, for example +01:00")
    return moment
