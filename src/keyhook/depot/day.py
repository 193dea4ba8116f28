"""What a local day of a depot holds: vehicles that come back, vehicles that go out, and which one follows which."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from keyhook.depot.crosscheck import HOLDS_VEHICLE
from keyhook.depot.depot import Staff
from keyhook.depot.folder import DepotFolder
from keyhook.hire.hire import Hire
from keyhook.hire.news import ReturnNews

MINUTE = dt.timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Return:
    """A vehicle that is due back on the day.

    ``due`` is on the depot's clock. ``news`` is there once it is back. ``next_hire`` is the next one of the same
    vehicle, whatever its day; ``turn_min`` the minutes from the return (as it was, else as due) to its collection.
    ``in_hours`` is false when the depot is closed at that time: the key safe then, or somebody stays.
    """

    hire: Hire
    due: dt.datetime
    in_hours: bool
    news: ReturnNews | None
    next_hire: Hire | None
    turn_min: int | None

    @property
    def late_min(self) -> int | None:
        """Minutes after the time it was due, negative when early; None while it is not back."""
        return None if self.news is None else _minutes_between(self.due, self.news.at)


@dataclass(frozen=True, slots=True)
class Departure:
    """A vehicle that is promised for the day, on the depot's clock; ``before`` is the last hire of it, if any."""

    hire: Hire
    due: dt.datetime
    in_hours: bool
    before: Hire | None


def returns_on(folder: DepotFolder, day: dt.date) -> tuple[Return, ...]:
    """Return the hires that are due back on a local day of the depot, by time, then by id."""
    zone = ZoneInfo(folder.depot.zone)
    due = [(hire.return_at.astimezone(zone), hire) for hire in _holding(folder)]
    return tuple(_return(folder, hire, at) for at, hire in _sorted(due) if at.date() == day)


def departures_on(folder: DepotFolder, day: dt.date) -> tuple[Departure, ...]:
    """Return the hires that are promised for a local day of the depot, by time, then by id."""
    zone = ZoneInfo(folder.depot.zone)
    due = [(hire.collect_at.astimezone(zone), hire) for hire in _holding(folder)]
    return tuple(
        Departure(hire, at, folder.depot.open_at(at), _before(folder, hire))
        for at, hire in _sorted(due)
        if at.date() == day
    )


def staff_on(folder: DepotFolder, day: dt.date) -> tuple[Staff, ...]:
    """Return the people who work on a local day, in the order of the file."""
    return tuple(person for person in folder.staff if person.works_on(day, folder.depot))


def _return(folder: DepotFolder, hire: Hire, due: dt.datetime) -> Return:
    news = folder.returns.get(hire.id)
    following = _next(folder, hire)
    free_from = news.at if news else due
    turn_min = _minutes_between(free_from, following.collect_at) if following else None
    return Return(hire, due, folder.depot.open_at(due), news, following, turn_min)


def _minutes_between(start: dt.datetime, end: dt.datetime) -> int:
    """Return whole minutes that really pass; two times of one zone would subtract as wall clocks otherwise."""
    return (end.astimezone(dt.UTC) - start.astimezone(dt.UTC)) // MINUTE


def _holding(folder: DepotFolder) -> Iterable[Hire]:
    return (hire for hire in folder.hires.values() if hire.status in HOLDS_VEHICLE)


def _sorted(due: list[tuple[dt.datetime, Hire]]) -> list[tuple[dt.datetime, Hire]]:
    return sorted(due, key=lambda pair: (pair[0], pair[1].id))


def _next(folder: DepotFolder, hire: Hire) -> Hire | None:
    later = [other for other in _of_vehicle(folder, hire) if other.collect_at >= hire.return_at]
    return min(later, key=lambda other: other.collect_at, default=None)


def _before(folder: DepotFolder, hire: Hire) -> Hire | None:
    earlier = [other for other in _of_vehicle(folder, hire) if other.return_at <= hire.collect_at]
    return max(earlier, key=lambda other: other.return_at, default=None)


def _of_vehicle(folder: DepotFolder, hire: Hire) -> Iterable[Hire]:
    if hire.vehicle is None:
        return ()
    return (other for other in _holding(folder) if other.vehicle == hire.vehicle and other.id != hire.id)
