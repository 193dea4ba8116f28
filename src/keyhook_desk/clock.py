"""The one clock of the desk. Everything else is told what time it is."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from django.conf import settings
from django.utils import timezone


def now() -> dt.datetime:
    """Return the present moment, or the one that KEYHOOK_NOW makes stand for it."""
    stands: dt.datetime | None = settings.NOW
    return stands or timezone.now()


def running() -> dt.datetime:
    """Return the present moment even where KEYHOOK_NOW stands still: for waiting, never for what people see."""
    return timezone.now()


def today(zone: str) -> dt.date:
    """Return the day it is on the clocks of a zone."""
    return now().astimezone(ZoneInfo(zone)).date()
