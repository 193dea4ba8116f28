"""The dates of a hire as a calendar file (RFC 5545): collection, the reminders, return, in the depot's zone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from zoneinfo import ZoneInfo

from icalendar import Alarm, Calendar, Event

from keyhook.hire.hire import Hire
from keyhook.pack.messages import Sender, TimedMessage
from keyhook.phrases import say

#: So long each entry is shown; and so long before collection and return the phone reminds [timedelta].
LASTS = dt.timedelta(minutes=30)
AHEAD = dt.timedelta(hours=2)
_PRODUCT = "-//Keyhook//Pack//EN"


def pack_calendar(
    hire: Hire, messages: Sequence[TimedMessage], sender: Sender, *, stamp: dt.datetime, language: str = "en"
) -> bytes:
    """Return the calendar file of a hire.

    Parameters
    ----------
    messages
        What :func:`keyhook.pack.messages.timed_messages` returned; each becomes an entry that reminds at its time.
    stamp
        The moment at which the file is made (RFC 5545, 3.8.7.2), aware.
    """
    zone = ZoneInfo(hire.zone)

    def said(key: str) -> str:
        return say(f"pack.calendar.{key}", {"vehicle": sender.vehicle, "depot": sender.depot}, language)

    calendar = Calendar()
    calendar.add("prodid", _PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", said("name"))
    ends = (("collect", hire.collect_at, said("bring")), ("return", hire.return_at, ""))
    entries = [(name, at.astimezone(zone), said(name), words, AHEAD) for name, at, words in ends]
    entries += [(one.slot, one.at, one.subject, one.text, dt.timedelta()) for one in messages]
    for name, at, title, words, ahead in sorted(entries, key=lambda entry: entry[1]):
        event = _event(f"{hire.id}-{name}".lower(), at, title, words, stamp)
        event.add_component(_alarm(title or said("reminder"), ahead))
        calendar.add_component(event)
    first, last = hire.collect_at.date(), hire.return_at.date()
    calendar.add_missing_timezones(dt.date(first.year, 1, 1), dt.date(last.year + 1, 12, 31))
    return bytes(calendar.to_ical())


def _event(name: str, at: dt.datetime, title: str, words: str, stamp: dt.datetime) -> Event:
    event = Event()
    event.add("uid", f"{name}@keyhook.invalid")
    event.add("dtstamp", stamp.astimezone(dt.UTC))
    event.add("dtstart", at)
    event.add("dtend", (at.astimezone(dt.UTC) + LASTS).astimezone(at.tzinfo))
    event.add("summary", title)
    event.add("transp", "TRANSPARENT")
    if words:
        event.add("description", words)
    return event


def _alarm(title: str, ahead: dt.timedelta) -> Alarm:
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", title)
    alarm.add("trigger", -ahead)
    return alarm
