"""What the hirer holds: cards of this vehicle, emergencies, what to leave as found, timed messages, calendar."""

from keyhook.pack.calendar import pack_calendar
from keyhook.pack.content import Pack, PackAsked, compose_pack
from keyhook.pack.messages import TimedMessage, timed_messages
from keyhook.pack.trip import TripLoad

__all__ = ["Pack", "PackAsked", "TimedMessage", "TripLoad", "compose_pack", "pack_calendar", "timed_messages"]
