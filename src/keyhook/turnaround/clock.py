"""Minutes of one local day, in time that really passes: a day on which the clocks change has 23 or 25 hours."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from keyhook.errors import BadInput


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

    def read(self, text: str, what: str) -> int:
        """Return the minute of a time as people write it, like 14:30; ``what`` names it when it is none.

        A time that the clock shows twice is the first one, unless its zone stands behind it as :meth:`says` writes it.

        Raises
        ------
        BadInput
            It is no time, or the clock leaves it out on this day.
        """
        word, _, zone = text.strip().partition(" ")
        try:
            told = dt.time.fromisoformat(word.zfill(len("14:30")) if ":" in word else word)
            told = told.replace(second=0, microsecond=0, tzinfo=None)
        except ValueError:
            raise BadInput(f"{what} is not a time", seen=text[:20], todo="Write it like 14:30") from None
        moments = [dt.datetime.combine(self.day, told, tzinfo=ZoneInfo(self.zone)).replace(fold=n) for n in (0, 1)]
        named = [one for one in moments if zone in {"", one.tzname()}]
        if not named:
            wrong = f"The clock of {self.zone} does not show that zone then"
            raise BadInput(wrong, seen=text[:20], todo="Leave the zone out")
        minute = self.minute(named[0])
        if self.moment(minute).time() != told:
            wrong = f"{what} does not come on this day, the clock goes forward over it"
            raise BadInput(wrong, seen=text[:20], todo=f"Write {self.moment(minute):%H:%M}")
        return minute
