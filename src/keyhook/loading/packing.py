"""From a loading answer to the least change that makes it legal, and to plain steps."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator

from keyhook.basis import Finding, Level
from keyhook.loading.answer import common_ticket
from keyhook.loading.chance import load_spread
from keyhook.loading.items import Item, filling_items
from keyhook.loading.lightening import Lightening, LighteningTask, Limit, Thing, lighten
from keyhook.loading.outcome import AXLES, LoadingAnswer, StateLoads
from keyhook.loading.settings import LoadingSettings
from keyhook.phrases import say
from keyhook.vehicle.build_sheet import BuildSheet

_DEFAULT = LoadingSettings()


def lightest_change(sheet: BuildSheet, answer: LoadingAnswer, settings: LoadingSettings = _DEFAULT) -> Lightening:
    """Return the least inconvenient change that keeps every limit in every planned state."""
    return lighten(lightening_task(sheet, answer, settings), settings.inconvenience)


def lightening_task(sheet: BuildSheet, answer: LoadingAnswer, settings: LoadingSettings = _DEFAULT) -> LighteningTask:
    """Return the programme: what may change, what must hold.

    Fresh water is taken out of every state that carries the planned level and given back as a variable.
    """
    fresh = sheet.tank("fresh")
    things = tuple(_things(sheet, answer, settings))
    movable = {item.key for item in answer.items if _is_movable(item)}
    limits = tuple(limit for state in answer.planned for limit in _limits(sheet, answer, state, movable, settings))
    stores = {store.id: store.limit_kg for store in sheet.stores}
    for item in answer.items:  # ordered kit takes its part of the store
        if item.group == "kit" and item.store in stores:
            stores[item.store] = max(0.0, stores[item.store] - item.mass_kg)
    if sheet.rack is not None:
        stores["rack"] = sheet.rack.limit_kg
    asked_l = answer.fresh_l
    return LighteningTask(
        things,
        limits,
        stores,
        sheet.wheelbase_m,
        water_asked_l=asked_l,
        water_least_l=min(settings.least_water_l, asked_l),
        water_x_m=fresh.x_m if fresh else 0.0,
    )


def _is_movable(item: Item) -> bool:
    return item.group in {"bags", "bikes"} or item.key == "rack"


def _things(sheet: BuildSheet, answer: LoadingAnswer, settings: LoadingSettings) -> Iterator[Thing]:
    places = tuple((store.id, store.x_m) for store in sheet.stores)
    for item in answer.items:
        if item.group == "bags":
            yield from _pieces(item, places, settings)
        elif item.group == "bikes":
            yield Thing(
                item.key,
                item.label,
                item.mass_kg,
                item.x_m,
                "rack",
                (),
                settings.inconvenience.leave_bike,
                needs="rack",
            )
        elif item.key == "rack":
            yield Thing("rack", "rack", item.mass_kg, item.x_m, "", (), settings.inconvenience.leave_rack)


def _pieces(item: Item, places: tuple[tuple[str, float], ...], settings: LoadingSettings) -> Iterator[Thing]:
    whole = item.label != item.origin.name and not item.label.startswith("things in ")
    count = 1 if whole or item.mass_kg == 0 else math.ceil(item.mass_kg / settings.piece_kg)
    for number in range(count):
        yield Thing(f"{item.key}.{number}", item.label, item.mass_kg / count, item.x_m, item.store, places)


def _limits(
    sheet: BuildSheet, answer: LoadingAnswer, state: StateLoads, movable: set[str], settings: LoadingSettings
) -> Iterator[Limit]:
    carries = state.state.filling.fresh_l == answer.fresh_l and answer.fresh_l > 0
    still = [item for item in answer.items if item.key not in movable]
    liquids = filling_items(sheet, state.state.filling, common_ticket(answer.calibration), settings)
    fixed = [item for item in (*still, *liquids) if not (carries and item.key == "tank.fresh")]
    base = answer.calibration.base
    spare = _spare_kg(sheet, answer, state, settings)
    for axle in AXLES:
        used = {"front": base.front_kg, "rear": base.rear_kg, "total": base.total_kg}[axle]
        for item in fixed:
            rear = item.x_m / sheet.wheelbase_m
            used += item.mass_kg * {"front": 1 - rear, "rear": rear, "total": 1.0}[axle]
        yield Limit(state.state.key, axle, answer.limits.of(axle) - used - spare[axle], carries)


def _spare_kg(
    sheet: BuildSheet, answer: LoadingAnswer, state: StateLoads, settings: LoadingSettings
) -> dict[str, float]:
    """Return ``z`` standard deviations for each limit, with everything aboard: leaving things only makes it smaller.

    Moving can lengthen a lever, so the things are taken at the store that gives each axle the greatest spread.
    """
    if settings.z_sd == 0:
        return dict.fromkeys(AXLES, 0.0)
    liquids = filling_items(sheet, state.state.filling, common_ticket(answer.calibration), settings)
    far = {"front": min, "rear": max, "total": max}
    spare = {}
    for axle in AXLES:
        x_of = far[axle](store.x_m for store in sheet.stores) if sheet.stores else None
        aboard = [_at(item, x_of) if item.group == "bags" else item for item in (*answer.items, *liquids)]
        spread = load_spread(answer.calibration.base, answer.calibration.variance, aboard, sheet.wheelbase_m, settings)
        sd_kg = {"front": spread.front_sd_kg, "rear": spread.rear_sd_kg, "total": spread.total_sd_kg}[axle]
        bias = {
            "front": spread.expected.front_kg - _told(answer, aboard, sheet, "front"),
            "rear": spread.expected.rear_kg - _told(answer, aboard, sheet, "rear"),
            "total": spread.expected.total_kg - _told(answer, aboard, sheet, "total"),
        }[axle]
        spare[axle] = settings.z_sd * sd_kg + max(0.0, bias)
    return spare


def _at(item: Item, x_m: float | None) -> Item:
    return (
        item
        if x_m is None
        else Item(item.key, item.label, item.group, item.mass_kg, x_m, item.sd_kg, item.origin, item.store)
    )


def _told(answer: LoadingAnswer, aboard: list[Item], sheet: BuildSheet, axle: str) -> float:
    base = answer.calibration.base
    told = {"front": base.front_kg, "rear": base.rear_kg, "total": base.total_kg}[axle]
    for item in aboard:
        rear = item.x_m / sheet.wheelbase_m
        told += item.mass_kg * {"front": 1 - rear, "rear": rear, "total": 1.0}[axle]
    return told


def steps(change: Lightening, sheet: BuildSheet, answer: LoadingAnswer) -> tuple[Finding, ...]:
    """Return the change as plain steps, then what binds and what a little more would cost."""
    if not change.possible:
        return (Finding("loading.step.impossible", Level.STOP, {"short_kg": math.ceil(change.short_by_kg)}),)
    found = [*_left(change), *_moved(change, sheet)]
    if change.water_l < answer.fresh_l - 0.5:  # half a litre is no news
        values = {"litres": math.floor(change.water_l), "asked_l": round(answer.fresh_l)}
        found.append(Finding("loading.step.water", Level.NOTE, values))
    if not found:
        return (Finding("loading.step.nothing", Level.NOTE),)
    return (*found, *_binds(change, sheet), *_prices(change))


def _left(change: Lightening) -> Iterator[Finding]:
    bikes = [thing for thing in change.left if thing.key.startswith("bike.")]
    if bikes:
        values = {"count": len(bikes), "mass_kg": round(sum(bike.mass_kg for bike in bikes))}
        yield Finding("loading.step.leave_bikes", Level.NOTE, values)
    if any(thing.key == "rack" for thing in change.left):
        rack = next(thing for thing in change.left if thing.key == "rack")
        yield Finding("loading.step.leave_rack", Level.NOTE, {"mass_kg": round(rack.mass_kg)})
    by_label: dict[str, float] = defaultdict(float)
    for thing in change.left:
        if thing.key.startswith("load."):
            by_label[thing.label] += thing.mass_kg
    for label, mass_kg in by_label.items():
        yield Finding("loading.step.leave", Level.NOTE, {"what": label, "mass_kg": math.ceil(mass_kg)})


def _moved(change: Lightening, sheet: BuildSheet) -> Iterator[Finding]:
    names = {store.id: store.name for store in sheet.stores}
    by_way: dict[tuple[str, str], float] = defaultdict(float)
    for thing, source, target in change.moves:
        by_way[source, target] += thing.mass_kg
    for (source, target), mass_kg in by_way.items():
        values = {"source": names[source], "target": names[target], "mass_kg": math.ceil(mass_kg)}
        yield Finding("loading.step.move", Level.NOTE, values)


def _binds(change: Lightening, sheet: BuildSheet) -> Iterator[Finding]:
    names = {store.id: store.name for store in sheet.stores} | {"rack": say("loading.rack")}
    words = []
    for one in change.binding:
        state, _, axle = one.partition(".")
        if state == "store":
            words.append(say("loading.step.binds_store", {"store": names[axle]}))
        else:
            values = {"axle": say(f"loading.axle.{axle}").lower(), "state": say(f"loading.state.{state}")}
            words.append(say("loading.step.binds_axle", values))
    if words:
        yield Finding("loading.step.price_binds", Level.NOTE, {"what": "; ".join(words)})


def _prices(change: Lightening) -> Iterator[Finding]:
    for axle, points in change.price_per_kg:
        values = {"axle": say(f"loading.axle.{axle}").lower(), "points": points}
        yield Finding("loading.step.price_kg", Level.NOTE, values)
    if change.price_per_l is not None:
        yield Finding("loading.step.price_l", Level.NOTE, {"points": change.price_per_l})
