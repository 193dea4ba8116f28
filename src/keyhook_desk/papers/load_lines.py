"""What goes where: the lines that add up to the loads of the tightest moment.

What single people weigh is not printed, only what the party weighs together: the paper passes through many hands.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from keyhook.basis import Basis, Input
from keyhook.loading.items import Item
from keyhook.loading.outcome import AXLES, LoadingAnswer
from keyhook.phrases import say
from keyhook.vehicle.build_sheet import BuildSheet, Store
from keyhook_desk.papers.documents import LoadKind, LoadLine

_BASIS = {
    Basis.TOLD: "told",
    Basis.MEASURED: "measured",
    Basis.COMPUTED: "trip",
    Basis.ASSUMPTION: "assumed",
}


@dataclass(frozen=True, slots=True)
class _Part:
    """One mass with what it adds to front and rear, kg."""

    item: Item | None
    label: str
    front_kg: float
    rear_kg: float
    total_kg: float
    basis: Basis


def load_lines(answer: LoadingAnswer, sheet: BuildSheet, letters: dict[str, str]) -> tuple[LoadLine, ...]:
    """Return vehicle, people, stores, rack, kit and liquids, then sum, limits and margins."""
    base, *parts = _parts(answer)
    stores = {store.id: store for store in sheet.stores}
    aboard = [part for part in parts if part.item is not None]
    people = [part for part in aboard if _kind(part) == "person"]
    stowed = [part for part in aboard if part.item and part.item.store in stores]
    rest = [part for part in aboard if part not in people and part not in stowed]
    return (
        _line("", _say("base"), _say("base_note"), "", [base], basis=_say("measured")),
        *_people(people),
        *(_store(store, letters.get(store.id, ""), [p for p in stowed if p.item and p.item.store == store.id])
          for store in sheet.stores),
        *_rest(rest),
        *_liquids([part for part in parts if part.item is None]),
        *_sums(answer),
    )  # fmt: skip


def _say(key: str, **values: object) -> str:
    return say(f"papers.loading.{key}", values)


def _parts(answer: LoadingAnswer) -> Iterator[_Part]:
    """Yield the inputs of the three loads side by side: weighed first, then everything aboard, then the liquids."""
    of_axle = [answer.figures[f"{axle}_load"].because.inputs for axle in AXLES]
    items: list[Item | None] = [None, *answer.items]
    for number, (front, rear, total) in enumerate(zip(*of_axle, strict=True)):
        item = items[number] if number < len(items) else None
        yield _Part(item, total.name, _value(front), _value(rear), _value(total), total.basis)


def _value(given: Input) -> float:
    return float(given.value)


def _line(mark: str, what: str, note: str, at: str, parts: Sequence[_Part], *, basis: str = "") -> LoadLine:
    front, rear, total = (
        _kg(sum(getattr(part, f"{axle}_kg") for part in parts)) if parts else "0" for axle in ("front", "rear", "total")
    )
    return LoadLine(mark, what, note, at, total, front, rear, basis or _bases(parts))


def _kg(mass_kg: float) -> str:
    return f"{round(mass_kg):d}".replace("-", "\u2212")


def _at(parts: Iterable[_Part]) -> str:
    places = {part.item.x_m for part in parts if part.item}
    return f"{places.pop():.2f}".replace("-", "\u2212") if len(places) == 1 else ""


def _bases(parts: Sequence[_Part]) -> str:
    words = dict.fromkeys(_say(_BASIS.get(part.basis, "typical")) for part in parts)
    return ", ".join(words)


def _people(parts: Sequence[_Part]) -> Iterator[LoadLine]:
    """Yield all of the party as one line: by rows of seats, whoever sits alone would be told apart."""
    if parts:
        numbers = "1" if len(parts) == 1 else f"1\u2013{len(parts)}"
        what = _say("people_one" if len(parts) == 1 else "people_all", count=len(parts))
        yield _line(numbers, what, _say("people_note"), _at(parts), parts)


def seat_words(seat: str) -> str:
    """Return a seat's id as words: ``row3_b`` is row 3 b."""
    spaced = seat.replace("_", " ")
    return "".join(
        f" {letter}" if letter.isdigit() and before.isalpha() else letter
        for before, letter in zip(" " + spaced, spaced, strict=False)
    )


def _store(store: Store, letter: str, parts: Sequence[_Part]) -> LoadLine:
    limit = f"{store.limit_kg:.0f}"
    if not parts:
        return LoadLine(letter, store.name, _say("store_empty", limit=limit), f"{store.x_m:.2f}", "0", "0", "0", "")
    load_kg = sum(part.total_kg for part in parts)
    inside = ", ".join(dict.fromkeys(_contents(part, store) for part in parts))
    note = _say("store_note", what=inside, load=round(load_kg), limit=limit)
    line = _line(letter, store.name, note, _at(parts), parts)
    return LoadLine(
        line.mark, line.what, line.note, line.at, line.total, line.front, line.rear, line.basis,
        over=load_kg > store.limit_kg,
    )  # fmt: skip


def _contents(part: _Part, store: Store) -> str:
    own = part.label.removesuffix(f" in {store.name}")
    return own.strip() or part.label


def _kind(part: _Part) -> str:
    """Return the first word of an item's key: person, pet, load, untold, bike, rack, kit, ball."""
    return part.item.key.partition(".")[0] if part.item else ""


def _rest(parts: Sequence[_Part]) -> Iterator[LoadLine]:
    """Yield the rack with its bikes as one line, the kit that lies in no store as another, all else on its own."""
    racked = [part for part in parts if _kind(part) in {"rack", "bike"}]
    kit = [part for part in parts if _kind(part) == "kit"]
    for part in parts:
        if part not in racked and part not in kit:
            yield _line("", part.label[:1].upper() + part.label[1:], "", _at([part]), [part])
    bikes = sum(1 for part in racked if _kind(part) == "bike")
    if racked:
        note = _say("rack_bikes", count=bikes) if bikes else _say("rack_bare")
        yield _line("", _say("rack"), note, _at(racked), racked)
    if kit:
        yield _line("", _say("kit"), _itemised((part.label, part) for part in kit), _at(kit), kit)


def _liquids(parts: Sequence[_Part]) -> Iterator[LoadLine]:
    if parts:
        note = _itemised((_say(part.label), part) for part in parts)
        yield _line("", _say("tanks"), note, "", parts, basis=_say("trip"))


def _itemised(named: Iterable[tuple[str, _Part]]) -> str:
    return ", ".join(_say("part", what=name, kg=_kg(part.total_kg)) for name, part in named)


def _sums(answer: LoadingAnswer) -> Iterator[LoadLine]:
    worst, limits = answer.worst, answer.limits
    rows: tuple[tuple[LoadKind, str, Callable[[str], float]], ...] = (
        ("sum", "sum", worst.load_kg),
        ("limit", "limit", limits.of),
        ("spare", "to_spare", lambda axle: worst.margin_kg[axle]),
    )
    for kind, word, of in rows:
        front, rear, total = (_kg(of(axle)) for axle in AXLES)
        over = kind == "spare" and worst.least_margin_kg < 0
        yield LoadLine("", _say(word), "", "", total, front, rear, "", kind, over)
