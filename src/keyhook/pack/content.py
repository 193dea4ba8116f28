"""The content of one pack: what stands on the phone of one hirer, for their vehicle and their trip alone."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from keyhook.catalogue import Catalogue, Fitting, Symptom, TeachPoint
from keyhook.catalogue.conditions import Facts, applies
from keyhook.catalogue.texts import Book, book_of
from keyhook.depot.tariff import Tariff
from keyhook.pack.leaving import Leaving, what_to_leave
from keyhook.pack.spoken import ENGLISH, Spoken, folded
from keyhook.vehicle.build_sheet import BuildSheet, Fitted, Quirk
from keyhook.vehicle.composition import fitted_with

#: Order of the emergencies: the words for all of them are fixed, those that kill most quickly stand first.
_FIRST = ("fg_fire", "gl_gas_smell", "al_beeps")


@dataclass(frozen=True, slots=True)
class CardPoint:
    """One thing to know about a fitting, in words for whoever reads it alone; ``must`` ones are said in any case."""

    id: str
    text: str
    why: str
    who: str
    moment: str
    must: bool
    weight: tuple[int, float]


@dataclass(frozen=True, slots=True)
class Trouble:
    """What may stop, in the words of the hirer, with the fixed words that stand before every question."""

    id: str
    find_it: int
    title: str
    says: str
    first: str
    stop: str
    language: str
    search: str


@dataclass(frozen=True, slots=True)
class Emergency:
    """One emergency with its fixed words: what to do at once, and what holds after."""

    id: str
    says: str
    first: str
    stop: str
    language: str


@dataclass(frozen=True, slots=True)
class Card:
    """One fitting of this vehicle: where it is and how to use it.

    ``language`` is that of the name, the words and the points. ``where`` and ``station`` are mostly the depot's own
    words, each with its language; ``usually`` is where such a thing usually is, for those who cannot read these.
    ``search`` holds the words by which it is found, folded.
    """

    fitting: str
    find_it: int
    name: str
    what: str
    where: str
    where_language: str
    usually: str
    station: str
    station_language: str
    group: str
    language: str
    points: tuple[CardPoint, ...]
    search: str

    @property
    def must(self) -> bool:
        """Whether it holds anything that must be known."""
        return any(point.must for point in self.points)


@dataclass(frozen=True, slots=True)
class PackAsked:
    """For whom and what the pack is.

    ``tags`` and ``options`` are of the hire; ``quirks`` of the vehicle; ``language`` as the hirer chose it, with
    ``checked`` when the depot has had it read by a native speaker; ``book`` the texts of that language, the shipped
    ones when None; ``own`` the depot's own words and what they are in that language.
    """

    tags: Collection[str] = ()
    options: Collection[str] = ()
    quirks: Sequence[Quirk] = ()
    language: str = ENGLISH
    checked: bool = False
    book: Book | None = None
    own: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Pack:
    """All of it, in reading order; ``groups`` are the cards by kind of equipment.

    ``unchecked`` tells that some of it is a translation that no native speaker has read, ``fell_back`` that some of
    it is in English because the language lacks it.
    """

    language: str
    emergencies: tuple[Emergency, ...]
    cards: tuple[Card, ...]
    groups: tuple[tuple[str, tuple[Card, ...]], ...]
    quirks: tuple[tuple[int, str, str], ...]
    troubles: tuple[Trouble, ...]
    leaving: Leaving
    unchecked: bool
    fell_back: bool
    points: Mapping[str, CardPoint] = field(default_factory=dict)

    def card_of(self, find_it: int) -> Card | None:
        """Return the card of a find-it number, or None when this vehicle has no such number."""
        return next((card for card in self.cards if card.find_it == find_it), None)


def compose_pack(sheet: BuildSheet, catalogue: Catalogue, tariff: Tariff, asked: PackAsked) -> Pack:
    """Return the pack of one hire in one vehicle.

    Raises
    ------
    UnknownName
        The sheet names a fitting that the catalogue does not have.
    """
    spoken = Spoken(asked.language, asked.book or book_of(asked.language), asked.checked, asked.own)
    facts = Facts(tags=asked.tags, fittings={one.fitting for one in sheet.fittings}, options=asked.options)
    fitted = list(fitted_with(sheet, catalogue))
    stations = {station.id: station.name for station in sheet.stations}
    cards = tuple(
        sorted(
            (_card(at, fitting, stations.get(at.station, ""), facts, spoken) for at, fitting in fitted),
            key=lambda card: card.find_it,
        )
    )
    groups = {card.group: tuple(one for one in cards if one.group == card.group) for card in cards}
    emergencies, troubles = _emergencies(fitted, spoken), _troubles(fitted, spoken)
    leaving = what_to_leave(sheet, catalogue, tariff, spoken)
    return Pack(
        language=asked.language,
        emergencies=emergencies,
        cards=cards,
        groups=tuple(groups.items()),
        quirks=_quirks(sheet, asked.quirks, spoken),
        troubles=troubles,
        leaving=leaving,
        unchecked=bool(spoken.unchecked),
        fell_back=bool(spoken.fell_back),
        points={point.id: point for card in cards for point in card.points},
    )


def _card(at: Fitted, fitting: Fitting, station: str, facts: Facts, spoken: Spoken) -> Card:
    shown = [point for point in fitting.teach if applies(point.when, facts)]
    keyed = {f"{fitting.id}.name": fitting.name, f"{fitting.id}.what": fitting.what}
    keyed |= {f"{fitting.id}.teach.{point.id}.{point.read_by}": point.alone or point.text for point in shown}
    keyed |= {f"{fitting.id}.teach.{point.id}.why": point.why for point in shown}
    keyed[f"{fitting.id}.where"] = fitting.where
    language, said = spoken.card(keyed)
    usually = said[f"{fitting.id}.where"]
    where_language, where = spoken.words(at.where) if at.where else (language, usually)
    station_language, station = spoken.words(station)
    points = tuple(_point(fitting.id, point, said) for point in shown)
    words = [str(at.find_it), *said.values(), fitting.name, where, station, *(one.says for one in fitting.symptoms)]
    return Card(
        fitting=fitting.id,
        find_it=at.find_it,
        name=said[f"{fitting.id}.name"],
        what=said[f"{fitting.id}.what"],
        where=where,
        where_language=where_language,
        usually=usually if where_language != language else "",
        station=station,
        station_language=station_language,
        group=fitting.group,
        language=language,
        points=points,
        search=folded(" ".join(words)),
    )


def _point(fitting: str, point: TeachPoint, said: Mapping[str, str]) -> CardPoint:
    key = f"{fitting}.teach.{point.id}"
    return CardPoint(
        id=point.id,
        text=said[f"{key}.{point.read_by}"],
        why=said[f"{key}.why"],
        who=point.who.replace(" ", "_"),
        moment=point.moment,
        must=point.must,
        weight=(point.severity, point.miss_share * point.bite_share),
    )


def _spoken_symptom(fitting: Fitting, symptom: Symptom, spoken: Spoken) -> tuple[str, dict[str, str]]:
    told = {"says": symptom.says, "first": symptom.first, "stop": symptom.stop}
    prefix = f"{fitting.id}.symptoms.{symptom.id}."
    language, said = spoken.card({f"{prefix}{name}": words for name, words in told.items() if words})
    return language, {name: said.get(f"{prefix}{name}", "") for name in told}


def _emergencies(fitted: Iterable[tuple[Fitted, Fitting]], spoken: Spoken) -> tuple[Emergency, ...]:
    """Return the emergencies that this vehicle can have, then those of every trip."""
    found: dict[str, Emergency] = {}
    for _, fitting in fitted:
        for symptom in fitting.symptoms:
            if symptom.emergency:
                language, said = _spoken_symptom(fitting, symptom, spoken)
                found[symptom.id] = Emergency(symptom.id, said["says"], said["first"], said["stop"], language)
    order = {name: place for place, name in enumerate(_FIRST)}
    own = sorted(found.values(), key=lambda one: order.get(one.id, len(order)))
    return (*own, *(_of_every_trip(name, spoken) for name in ("ill", "crash")))


def _of_every_trip(name: str, spoken: Spoken) -> Emergency:
    language, said = spoken.phrases("pack.emergency", (f"{name}_says", f"{name}_first", f"{name}_stop"))
    return Emergency(name, said[f"{name}_says"], said[f"{name}_first"], said[f"{name}_stop"], language)


def _troubles(fitted: Iterable[tuple[Fitted, Fitting]], spoken: Spoken) -> tuple[Trouble, ...]:
    """Return what may stop, what is most often rung about first."""
    found: list[tuple[float, Trouble]] = []
    for at, fitting in fitted:
        _, named = spoken.card({f"{fitting.id}.name": fitting.name})
        title = named[f"{fitting.id}.name"]
        for symptom in fitting.symptoms:
            if not symptom.emergency:
                language, said = _spoken_symptom(fitting, symptom, spoken)
                words = folded(" ".join([str(at.find_it), title, fitting.name, symptom.says, *said.values()]))
                one = Trouble(symptom.id, at.find_it, title, said["says"], said["first"], said["stop"], language, words)
                found.append((symptom.calls_per_100, one))
    return tuple(one for _, one in sorted(found, key=lambda pair: -pair[0]))


def _quirks(sheet: BuildSheet, quirks: Sequence[Quirk], spoken: Spoken) -> tuple[tuple[int, str, str], ...]:
    """Return what is true of this one vehicle: the find-it number it belongs to, 0 for none, language and words."""
    numbers = {one.fitting: one.find_it for one in sheet.fittings}
    return tuple(
        (numbers.get(quirk.fitting or "", 0), *spoken.words(quirk.text)) for quirk in quirks if quirk.tell_hirer
    )
