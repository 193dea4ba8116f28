"""The day that an address names."""

from __future__ import annotations

import datetime as dt

FIRST_YEAR, LAST_YEAR = 2000, 2200


def day_or_none(text: str) -> dt.date | None:
    """Return the day of an address, None when it is none or far away."""
    try:
        date = dt.date.fromisoformat(text)
    except ValueError:
        return None
    return date if FIRST_YEAR <= date.year <= LAST_YEAR else None
