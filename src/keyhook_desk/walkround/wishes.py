"""What the desk says about a tour, as a value."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from keyhook.hire.hire import Hire
from keyhook_desk.walkround.models import TourWish

#: Minutes that a tour may be given.
LEAST_MIN, MOST_MIN = 1.0, 240.0


@dataclass(frozen=True, slots=True)
class Settings:
    """Minutes (None: the usual ones), first time, slow party, and the ids of points that the hirer knows already.

    ``confirmed`` were ticked on the desk, ``read`` by the hirer in their pack.
    """

    available_min: float | None = None
    first_time: bool = False
    slow: bool = False
    confirmed: tuple[str, ...] = ()
    read: tuple[str, ...] = ()

    @property
    def known(self) -> frozenset[str]:
        """All that the hirer knows already."""
        return frozenset((*self.confirmed, *self.read))


@dataclass(frozen=True, slots=True)
class WishForm:
    """The settings as typed: what was typed for the minutes, the settings where they are sound, slips by field."""

    minutes: str
    settings: Settings
    errors: Mapping[str, str] = field(default_factory=dict)


def settings_of(wish: TourWish | None, hire: Hire, read: Iterable[str] = ()) -> Settings:
    """Return what the desk said, else what follows from the hire; ``read`` comes from their pack."""
    if wish is None:
        return Settings(first_time="first_timer" in hire.tags, read=tuple(sorted(read)))
    return Settings(wish.available_min, wish.first_time, wish.slow, tuple(sorted(wish.confirmed)), tuple(sorted(read)))


def form_of(settings: Settings) -> WishForm:
    """Return the form as it shows these settings."""
    minutes = "" if settings.available_min is None else f"{settings.available_min:g}"
    return WishForm(minutes, settings)


def read_form(
    data: Mapping[str, str], confirmed: Iterable[str], known: Iterable[str], read: Iterable[str] = ()
) -> WishForm:
    """Return the form as typed; a slip in the minutes leaves the usual ones to be shown."""
    typed = data.get("minutes", "").strip()
    minutes, slip = minutes_of(typed)
    settings = Settings(
        available_min=minutes,
        first_time=data.get("first_time") == "yes",
        slow=data.get("slow") == "yes",
        confirmed=tuple(sorted(set(confirmed) & set(known))),
        read=tuple(sorted(read)),
    )
    return WishForm(typed, settings, {"minutes": slip} if slip else {})


def minutes_of(typed: str) -> tuple[float | None, str]:
    """Return minutes as typed, None for none, and what is wrong with them."""
    if not typed:
        return None, ""
    try:
        minutes = float(typed.replace(",", "."))
    except ValueError:
        minutes = math.nan
    if LEAST_MIN <= minutes <= MOST_MIN:
        return minutes, ""
    todo = f"Give {LEAST_MIN:g} to {MOST_MIN:g}, or leave the field empty for the usual time."
    return None, f"The minutes for the tour cannot be this (saw {typed[:20]}). {todo}"
