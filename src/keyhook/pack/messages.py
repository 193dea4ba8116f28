"""Short messages a desk sends: before they come, at the first stop, on the first evening, before the return."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

from keyhook.hire.hire import Hire
from keyhook.pack.content import CardPoint, Pack
from keyhook.phrases import say

Slot = Literal["before_collection", "first_stop", "first_night", "before_return"]
SLOTS: tuple[Slot, ...] = ("before_collection", "first_stop", "first_night", "before_return")
#: The message that carries a point by its moment; a point of another moment is carried only when it falls off the tour.
_OF_MOMENT: Mapping[str, Slot] = {"pre": "before_collection", **{slot: slot for slot in SLOTS[1:]}}
#: What has to be settled before they come is asked so many days before, at this time (assumption: it can be answered).
AHEAD_DAYS, AHEAD_AT = 3, dt.time(18, 0)
#: A first stop comes about so long after they have driven off (assumption).
FIRST_STOP_AFTER = dt.timedelta(minutes=90)
#: The first evening: nineteen hundred, or so long after a late collection.
EVENING, SETTLED_AFTER = dt.time(19, 0), dt.timedelta(hours=2)
#: The message before the return comes on the eve of it.
EVE = dt.time(18, 0)
#: So many points a message holds before nobody reads it (assumption).
MESSAGE_HOLDS = 5
#: At the first stop they have just driven for the first time: so many of what is said before driving stand there too.
BEFORE_DRIVING_AGAIN = 2
EMERGENCY_NUMBER = "112"
#: Of the checklist of the return, what the last message repeats.
_LEFT_SO = frozenset({"do_fuel", "do_petrol", "do_electric", "do_water", "do_cassette", "do_gas"})


@dataclass(frozen=True, slots=True)
class TimedMessage:
    """One message: its slot, when it should arrive (aware, in the zone of the depot), subject and text.

    ``points`` stand in it in full; of those in ``named`` it says at which number of the pack they are found.
    """

    slot: Slot
    at: dt.datetime
    subject: str
    text: str
    points: tuple[str, ...]
    named: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sender:
    """Who sends: depot, its telephone (empty when not told), vehicle and the address of the pack."""

    depot: str
    phone: str
    vehicle: str
    address: str
    first_name: str = ""


def timed_messages(
    pack: Pack,
    hire: Hire,
    sender: Sender,
    *,
    confirmed: Collection[str] = (),
    fallen: Mapping[str, Slot] | None = None,
) -> tuple[TimedMessage, ...]:
    """Return the messages of a hire in the order in which they are sent.

    Parameters
    ----------
    confirmed
        Points they have confirmed already: these are not sent again.
    fallen
        Points that did not fit into the tour, with the message that carries them instead.
    """
    times = message_times(hire)
    slots = _points_by_slot(pack, confirmed, fallen or {})
    return tuple(_message(slot, times[slot], slots[slot], hire, sender, pack) for slot in SLOTS)


def _message(
    slot: Slot, at: dt.datetime, points: list[CardPoint], hire: Hire, sender: Sender, pack: Pack
) -> TimedMessage:
    """Return one message: what must be known and the dearest in full, where more is found by number and name."""
    held = max(MESSAGE_HOLDS, sum(point.must for point in points))
    full, rest = points[:held], points[held:]
    return TimedMessage(
        slot,
        at,
        say(f"pack.message.subject_{slot}", {"vehicle": sender.vehicle}, pack.language),
        "\n".join(_lines(slot, full, rest, hire, sender, pack)),
        tuple(point.id for point in full),
        tuple(point.id for point in rest),
    )


def message_times(hire: Hire) -> dict[Slot, dt.datetime]:
    """Return when each message should arrive, on the clock of the depot's zone; none after the return.

    Sums are made in UTC, so that a clock change in between moves nothing.
    """
    zone = ZoneInfo(hire.zone)
    start, end = hire.collect_at.astimezone(dt.UTC), hire.return_at.astimezone(dt.UTC)
    local_start, local_end = start.astimezone(zone), end.astimezone(zone)
    evening = dt.datetime.combine(local_start.date(), EVENING, zone).astimezone(dt.UTC)
    eve = dt.datetime.combine(local_end.date() - dt.timedelta(days=1), EVE, zone).astimezone(dt.UTC)
    ahead = dt.datetime.combine(local_start.date() - dt.timedelta(days=AHEAD_DAYS), AHEAD_AT, zone).astimezone(dt.UTC)
    wanted: dict[Slot, dt.datetime] = {
        "before_collection": ahead,
        "first_stop": start + FIRST_STOP_AFTER,
        "first_night": max(evening, start + SETTLED_AFTER),
        "before_return": max(eve, start + SETTLED_AFTER),
    }
    return {slot: min(at, end).astimezone(zone) for slot, at in wanted.items()}


def _points_by_slot(pack: Pack, confirmed: Collection[str], fallen: Mapping[str, Slot]) -> dict[Slot, list[CardPoint]]:
    found: dict[Slot, list[CardPoint]] = {slot: [] for slot in SLOTS}
    open_points = [point for point in pack.points.values() if point.id not in confirmed]
    for point in open_points:
        slot = fallen.get(point.id) or _OF_MOMENT.get(point.moment)
        if slot is not None:
            found[slot].append(point)
    driving = [point for point in open_points if point.moment == "drive_off" and point.id not in fallen]
    room = max(0, MESSAGE_HOLDS - len(found["first_stop"]))
    found["first_stop"] += _dearest(driving)[: min(BEFORE_DRIVING_AGAIN, room)]
    return {slot: _dearest(points) for slot, points in found.items()}


def _dearest(points: list[CardPoint]) -> list[CardPoint]:
    """Return points with what must be known and what harms most first."""
    return sorted(points, key=lambda point: (not point.must, tuple(-part for part in point.weight), point.id))


def _lines(
    slot: Slot, points: list[CardPoint], rest: list[CardPoint], hire: Hire, sender: Sender, pack: Pack
) -> Iterator[str]:
    language, cards = pack.language, {point.id: card for card in pack.cards for point in card.points}

    def said(key: str, **values: object) -> str:
        return say(f"pack.message.{key}", values, language)

    due = (hire.collect_at if slot == "before_collection" else hire.return_at).astimezone(ZoneInfo(hire.zone))
    hello = f"hello_{slot}" if sender.first_name else f"hello_{slot}_nobody"
    yield said(hello, name=sender.first_name, when=moment_words(due, language))
    yield said("point", text=_as_left(pack) if slot == "before_return" else said(f"walk_{slot}"))
    for point in points:
        card = cards[point.id]
        yield said("point_numbered", number=card.find_it, name=card.name, text=point.text)
    if rest:
        places = dict.fromkeys((cards[point.id].find_it, cards[point.id].name) for point in rest)
        names = "; ".join(said("at_number", number=number, name=name) for number, name in sorted(places))
        yield said("also", names=names)
    yield said("everything", address=sender.address)
    if slot == "first_night":
        yield said("night", number=EMERGENCY_NUMBER)
    yield said("bye_phone" if sender.phone else "bye", depot=sender.depot, phone=sender.phone)


def _as_left(pack: Pack) -> str:
    """Return what this vehicle comes back full, empty and shut."""
    keys = [key for key in pack.leaving.checklist if key in _LEFT_SO]
    return " ".join(f"{say(f'pack.leave.{key}', language=pack.language)}." for key in keys)


def moment_words(moment: dt.datetime, language: str = "en") -> str:
    """Return a moment, on the clock it carries, in the words of a language."""
    month = say(f"pack.date.month_{moment.month}", language=language)
    values = {"day": moment.day, "month": month, "year": moment.year, "time": f"{moment:%H:%M}"}
    return say("pack.date.moment", values, language)
