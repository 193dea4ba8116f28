"""Minutes of one local day, in time that really passes: a day on which the clocks change has 23 or 25 hours."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo


@dataclass(frozen=True, slots=True)
class Clock:
    """Minutes of one local day: 0 is its first moment."""

    day: dt.date
    zone: str

    @property
    def midnight(self) -> dt.datetime:
        """The first moment of the day."""
        return dt.datetime.combine(self.day, dt.time(), tzinfo=ZoneInfo(self.zone))

    def minute(self, moment: dt.datetime) -> int:
        """Return the minute of the day of a moment, in time that really passes."""
        return (moment.astimezone(dt.UTC) - self.midnight.astimezone(dt.UTC)) // dt.timedelta(minutes=1)

    def moment(self, minute: int) -> dt.datetime:
        """Return the local moment of a minute of the day."""
        return (self.midnight.astimezone(dt.UTC) + dt.timedelta(minutes=minute)).astimezone(ZoneInfo(self.zone))

    def says(self, minute: int) -> str:
        """Return a minute as people read it off the wall; with its zone where the clock shows that time twice."""
        moment = self.moment(minute)
        twice = moment.replace(fold=0).utcoffset() != moment.replace(fold=1).utcoffset()
        return f"{moment:%H:%M %Z}" if twice else f"{moment:%H:%M}"

    def holds(self, moment: dt.datetime) -> bool:
        """Tell whether a moment lies in the day."""
        return moment.astimezone(ZoneInfo(self.zone)).date() == self.day

    def at(self, clock: dt.time) -> int:
        """Return the minute of a clock time of the day."""
        return self.minute(dt.datetime.combine(self.day, clock, tzinfo=ZoneInfo(self.zone)))
