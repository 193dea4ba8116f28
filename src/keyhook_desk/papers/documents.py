"""What stands on each paper, as plain values: the boundary between the answers and the setting.

Whoever makes a paper fills one of these; :func:`keyhook_desk.papers.setting.set_paper` sets it. Texts are finished
sentences of the reader's language; figures are finished too, so that a paper says what the page says.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import ClassVar, Literal

Verdict = Literal["fits", "tight", "over"]
Stands = Literal["good", "look", "bad"]
LoadKind = Literal["part", "sum", "limit", "spare"]
MarkKind = Literal["seat", "store", "axle"]


@dataclass(frozen=True, slots=True)
class Imprint:
    """What every paper carries.

    Parameters
    ----------
    title
        Title of the file, told first to those who hear it; also what the footer calls the paper.
    depot
        Name of the depot.
    region
        Its country, two letters.
    day
        The day for which the paper is set: the only date of the file, so the same content and day give the same bytes.
    tag
        The vehicle's short name for its key tag; empty when the paper is of no single vehicle.
    name, plate
        What its type is called, and its registration; empty when they are not told.
    """

    title: str
    depot: str
    region: str
    day: dt.date
    tag: str = ""
    name: str = ""
    plate: str = ""
    language: str = "en"


@dataclass(frozen=True, slots=True)
class Mark:
    """A mark on a picture, placed by its share of the width and height of the picture, from the top left."""

    kind: MarkKind
    text: str
    x_share: float
    y_share: float


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing with its words for those who hear it, its size [drawing units] and what is marked on it."""

    svg: str
    words: str
    width: float
    height: float
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True, slots=True)
class AxleBar:
    """One load against its limit.

    The shares are of the limit: the load as told, the expected load, and where it lies nine times in ten. ``why`` are
    the numbers of its reasons.
    """

    label: str
    load: str
    limit: str
    binds: str
    spare: str
    over: bool
    told_share: float
    expected_share: float
    low_share: float
    high_share: float
    why: str = ""


@dataclass(frozen=True, slots=True)
class SeatLine:
    """One person: number on the picture, what to call them, seat with belt, what they need, a word on a change."""

    number: str
    who: str
    seat: str
    belt: str
    needs: str
    change: str = ""


@dataclass(frozen=True, slots=True)
class LoadLine:
    """One line of what goes where: mark on the picture, what it is, where from the front axle [m], kg, its basis.

    ``kind`` sets the look: a part, or the lines of sum, limit and margin; ``note`` stands under ``what``.
    """

    mark: str
    what: str
    note: str
    at: str
    total: str
    front: str
    rear: str
    basis: str
    kind: LoadKind = "part"
    over: bool = False


@dataclass(frozen=True, slots=True)
class StateLine:
    """One state of the trip; the worst one decides."""

    words: str
    front: str
    rear: str
    total: str
    spare: str
    chance: str
    worst: bool
    planned: bool
    over: bool


@dataclass(frozen=True, slots=True)
class FactLine:
    """A checked fact: its heading, its sentence, and how it stands."""

    label: str
    words: str
    stands: Stands = "good"


@dataclass(frozen=True, slots=True)
class LoadingSheet:
    """Will it carry them? One hire in one vehicle."""

    template: ClassVar[str] = "loading_sheet"

    imprint: Imprint
    lead: str
    facts: tuple[str, ...]
    verdict: Verdict
    verdict_words: str
    verdict_sentence: str
    chance: str
    chance_why: str
    tightest: str
    bars: tuple[AxleBar, ...]
    picture: Picture
    stops: tuple[str, ...]
    warns: tuple[str, ...]
    steps: tuple[str, ...]
    seats: tuple[SeatLine, ...]
    loads: tuple[LoadLine, ...]
    states: tuple[StateLine, ...]
    checks: tuple[FactLine, ...]
    reasons: tuple[FactLine, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Size:
    """One size on the cab card, metric and imperial; ``note`` is the same in a further unit, or empty."""

    label: str
    metric: str
    metric_unit: str
    imperial: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class CabCardPaper:
    """What the driver needs at eye level."""

    template: ClassVar[str] = "cab_card"

    imprint: Imprint
    height: Size
    sizes: tuple[Size, ...]
    rack_on: bool
    rack_words: str
    advice: str


@dataclass(frozen=True, slots=True)
class Promise:
    """A vehicle promised to somebody: when [min from midnight], to whom, how surely, what is still open, or empty."""

    at_min: int
    tag: str
    who: str
    chance: str = ""
    still_open: str = ""
    late: bool = False


@dataclass(frozen=True, slots=True)
class DayTask:
    """One task of one person, minutes from midnight [min]; ``tag`` is empty for a break or a task in the yard.

    ``gate``: the vehicle may not leave without it.
    """

    start_min: int
    end_min: int
    what: str
    tag: str = ""
    place: str = ""
    note: str = ""
    kind: Literal["task", "break", "hand_over"] = "task"
    gate: bool = False


@dataclass(frozen=True, slots=True)
class PersonDay:
    """One person of the depot: their shift [min from midnight] and tasks in order."""

    name: str
    role: str
    shift_start_min: int
    shift_end_min: int
    tasks: tuple[DayTask, ...]


@dataclass(frozen=True, slots=True)
class DaySheet:
    """Who does what when, and what was promised; notes are whole sentences."""

    template: ClassVar[str] = "day_sheet"

    imprint: Imprint
    heading: str
    promises: tuple[Promise, ...]
    people: tuple[PersonDay, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TourPointLine:
    """One thing to show: its find-it number (0 for none), its title and what to say; ``must`` is never left out.

    ``brief`` says it in a sentence, for a sheet that would else be too long; empty where there is nothing shorter.
    """

    find_it: int
    title: str
    text: str
    must: bool = False
    brief: str = ""


@dataclass(frozen=True, slots=True)
class TourStopLines:
    """One station in walking order: its name, what side or room it is on, the minute of arrival, what is shown."""

    station: str
    where: str
    arrive: str
    points: tuple[TourPointLine, ...]


@dataclass(frozen=True, slots=True)
class ReadingLine:
    """A value to write down at the hand-over: its name, its unit, and what it was last time (empty for nothing)."""

    label: str
    unit: str
    last: str = ""


@dataclass(frozen=True, slots=True)
class HandOverSheet:
    """What to show this party in this vehicle, station by station, with boxes to tick.

    On one page where it can be; ``whole`` asks for every word on as many pages as it takes.
    """

    template: ClassVar[str] = "hand_over_sheet"

    imprint: Imprint
    lead: str
    facts: tuple[str, ...]
    minutes: str
    picture: Picture | None
    stops: tuple[TourStopLines, ...]
    later: tuple[str, ...] = ()
    quirks: tuple[str, ...] = ()
    readings: tuple[ReadingLine, ...] = ()
    caution: str = ""
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Sticker:
    """One find-it sticker: the number, what it is, a word where it is, and the address its code opens."""

    number: int
    name: str
    where: str
    address: str


@dataclass(frozen=True, slots=True)
class StickerSheet:
    """Stickers of one vehicle, three across and seven down on A4, each 63.5 mm by 38.1 mm."""

    template: ClassVar[str] = "sticker_sheet"

    imprint: Imprint
    stickers: tuple[Sticker, ...]
    skip: int = 0


Paper = LoadingSheet | CabCardPaper | DaySheet | HandOverSheet | StickerSheet
