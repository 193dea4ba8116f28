"""What must be said about a loading: one small function a subject, each yielding findings with phrase keys."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from keyhook.basis import Finding, Level
from keyhook.hire.hire import Hire
from keyhook.loading.calibration import Calibration
from keyhook.loading.items import Item
from keyhook.loading.outcome import AXLES, DriverLine, EffectiveLimits, RackLine, StateLoads
from keyhook.loading.seating import Seating, Sleeping
from keyhook.loading.settings import LoadingSettings
from keyhook.loading.tyres import CHANGE_AFTER_YEARS, LOOK_AFTER_YEARS, AxleTyres
from keyhook.phrases import say
from keyhook.vehicle.build_sheet import BuildSheet


@dataclass(frozen=True, slots=True)
class Parts:
    """Everything the findings look at."""

    sheet: BuildSheet
    hire: Hire
    day: dt.date
    settings: LoadingSettings
    limits: EffectiveLimits
    states: tuple[StateLoads, ...]
    worst: StateLoads
    calibration: Calibration
    seating: Seating
    sleeping: Sleeping
    drivers: tuple[DriverLine, ...]
    tyres: tuple[AxleTyres, ...]
    rack: RackLine | None
    fresh_l: float
    items: tuple[Item, ...]

    def person(self, number: int) -> str:
        """Return what to call a person of the party."""
        return person_label(self.hire, number)


def person_label(hire: Hire, number: int) -> str:
    """Return what to call a person of the party: their name, else number and age."""
    person = hire.party[number]
    return person.name or say("loading.person", {"number": number + 1, "age": f"{person.age_years:g}"})


def all_findings(parts: Parts) -> Iterator[Finding]:
    """Yield the findings of every subject, gravest first within each."""
    for subject in SUBJECTS:
        yield from subject(parts)


def _overload(parts: Parts) -> Iterator[Finding]:
    for axle in AXLES:
        worst = min((s for s in parts.states if s.state.planned), key=lambda state: state.margin_kg[axle])
        margin_kg = worst.margin_kg[axle]
        values = {
            "over_kg": round(-margin_kg),
            "load_kg": round(worst.load_kg(axle)),
            "limit_kg": round(parts.limits.of(axle)),
            "state": say(f"loading.state.{worst.state.key}"),
        }
        if margin_kg < 0:
            yield Finding(f"loading.{axle}_over", Level.STOP, values, (f"{axle}_load", f"{axle}_margin"))
    if parts.worst.least_margin_kg >= 0:
        yield from _chance(parts)


def _chance(parts: Parts) -> Iterator[Finding]:
    riskiest = max((s for s in parts.states if s.state.planned), key=lambda state: state.chance.any_probability)
    chance = riskiest.chance.any_probability
    values = {"percent": round(100 * chance), "margin_kg": round(parts.worst.least_margin_kg)}
    if chance >= parts.settings.stop_from_probability:
        yield Finding("loading.probably_over", Level.STOP, values, ("overload_chance",))
    elif chance >= parts.settings.weigh_from_probability:
        yield Finding("loading.weigh_it", Level.WARN, values, ("overload_chance",))
    else:
        yield Finding("loading.fits", Level.NOTE, values, ("total_margin", "overload_chance"))


def _avoidable_states(parts: Parts) -> Iterator[Finding]:
    over = [state for state in parts.states if not state.state.planned and state.least_margin_kg < 0]
    if over and parts.worst.least_margin_kg >= 0:
        worst = min(over, key=lambda state: state.least_margin_kg)
        values = {
            "state": say(f"loading.state.{worst.state.key}"),
            "over_kg": round(-worst.least_margin_kg),
            "fresh_l": round(parts.fresh_l),
        }
        yield Finding("loading.over_when_filled", Level.WARN, values)


def _stores(parts: Parts) -> Iterator[Finding]:
    for store in parts.sheet.stores:
        load_kg = sum(item.mass_kg for item in parts.items if item.store == store.id)
        if load_kg > store.limit_kg:
            values = {"store": store.name, "load_kg": round(load_kg), "limit_kg": round(store.limit_kg)}
            yield Finding("loading.store_over", Level.STOP, values)


def _rack(parts: Parts) -> Iterator[Finding]:
    if parts.hire.bikes and parts.sheet.rack is None:
        yield Finding("loading.no_rack", Level.STOP, {"bikes": len(parts.hire.bikes)})
    if parts.rack is None:
        return
    rack = parts.rack
    values = {
        "load_kg": round(rack.load_kg, 1),
        "limit_kg": round(rack.limit_kg),
        "without_kg": round(rack.without_batteries_kg, 1),
        "bikes": rack.bikes,
        "most": rack.bikes_limit,
    }
    if rack.bikes > rack.bikes_limit:
        yield Finding("loading.too_many_bikes", Level.STOP, values)
    if rack.load_kg > rack.limit_kg:
        helps = rack.without_batteries_kg <= rack.limit_kg
        code = "loading.rack_over_batteries" if helps else "loading.rack_over"
        yield Finding(code, Level.WARN if helps else Level.STOP, values)


def _seats(parts: Parts) -> Iterator[Finding]:
    seating, people = parts.seating, len(parts.hire.party)
    if people > seating.belts:
        yield Finding("loading.too_few_belts", Level.STOP, {"people": people, "belts": seating.belts})
    elif not seating.possible and any(line.answer.may != "no" for line in parts.drivers):
        yield Finding("loading.no_seat_order", Level.STOP, {"height_cm": round(seating.until_height_cm)})
    for place in seating.places:
        if place.wrong and place.wrong != "may_not_drive":
            reason = say(f"loading.seat.{place.wrong}")
            values = {"person": parts.person(place.person), "seat": place.told, "reason": reason}
            yield Finding("loading.wrong_seat", Level.WARN if seating.possible else Level.STOP, values)
        if place.needs_height:
            yield Finding("loading.height_not_told", Level.NOTE, {"person": parts.person(place.person)})
    if seating.possible and seating.moves and any(place.wrong for place in seating.places):
        order = ", ".join(
            say("loading.seat_move", {"person": parts.person(p.person), "seat": p.proposed}) for p in seating.moves
        )
        yield Finding("loading.seat_order", Level.WARN, {"order": order})
    if any(place.restraint != "none" for place in seating.places):
        yield Finding("loading.child_seat_caution", Level.NOTE, {"height_cm": round(seating.until_height_cm)})


def _berths(parts: Parts) -> Iterator[Finding]:
    people = len(parts.hire.party)
    if parts.sleeping.sleeps < people:
        yield Finding("loading.too_few_berths", Level.STOP, {"people": people, "sleeps": parts.sleeping.sleeps})
    elif not parts.sleeping.possible:
        yield Finding("loading.berth_limits", Level.STOP, {"people": people})


def _drivers(parts: Parts) -> Iterator[Finding]:
    mam_kg = round(parts.sheet.limits.mam_kg)
    if not parts.drivers:
        yield Finding("loading.no_driver_told", Level.WARN, {"mam_kg": mam_kg})
        return
    nobody = all(line.answer.may == "no" for line in parts.drivers)
    for line in parts.drivers:
        reason = say(f"loading.licence.{line.answer.reason}", {"mam_kg": mam_kg})
        values = {"driver": line.label, "reason": reason, "mam_kg": mam_kg}
        if line.answer.may == "no":
            yield Finding("loading.driver_no", Level.STOP if nobody else Level.WARN, values)
        elif line.answer.may == "check":
            yield Finding("loading.driver_check", Level.WARN, values)
        else:
            yield Finding("loading.driver_yes", Level.NOTE, values)
    told_driver = next((n for n, person in enumerate(parts.hire.party) if person.seat in _driver_seats(parts)), None)
    if not nobody and any(line.person == told_driver and line.answer.may == "no" for line in parts.drivers):
        other = next(line.label for line in parts.drivers if line.answer.may != "no")
        yield Finding("loading.other_driver", Level.STOP, {"driver": other})


def _driver_seats(parts: Parts) -> set[str]:
    return {seat.id for seat in parts.sheet.seats if seat.driver}


def _tyres(parts: Parts) -> Iterator[Finding]:
    for fitted in parts.tyres:
        axle = say("loading.axle_front" if fitted.axle == 0 else "loading.axle_rear")
        values = {
            "axle": axle,
            "capacity_kg": round(fitted.capacity_kg),
            "limit_kg": round(fitted.limit_kg),
            "index": fitted.tyre.load_index,
            "years": round(fitted.age_years, 1),
        }
        if fitted.binds:
            yield Finding("loading.tyres_bind", Level.WARN, values)
        if fitted.age_years >= CHANGE_AFTER_YEARS:
            yield Finding("loading.tyres_change", Level.STOP, values)
        elif fitted.age_years >= LOOK_AFTER_YEARS:
            yield Finding("loading.tyres_old", Level.WARN, values)


def _tow(parts: Parts) -> Iterator[Finding]:
    trailer, bar = parts.hire.trailer, parts.sheet.tow_bar
    if trailer is None:
        return
    if bar is None:
        yield Finding("loading.no_tow_bar", Level.STOP)
        return
    train_kg = parts.worst.loads.total_kg - trailer.ball_kg + trailer.mass_kg
    checks = (
        ("ball_over", trailer.ball_kg, bar.ball_limit_kg),
        ("trailer_over", trailer.mass_kg, bar.braked_trailer_kg),
        ("train_over", train_kg, parts.sheet.limits.train_kg),
    )
    for code, value, limit in checks:
        if value > limit:
            yield Finding(f"loading.{code}", Level.STOP, {"value_kg": round(value), "limit_kg": round(limit)})


def _crossing(parts: Parts) -> Iterator[Finding]:
    crossing, size = parts.hire.trip.crossing, parts.sheet.dimensions
    if crossing is None:
        return
    rack_on = parts.sheet.rack is not None and ("bike_rack" in parts.hire.options or bool(parts.hire.bikes))
    length_m = size.length_m + (parts.sheet.rack.adds_length_m if parts.sheet.rack and rack_on else 0.0)
    if size.height_m > crossing.height_m:
        yield Finding("loading.crossing_height", Level.WARN, {"booked_m": crossing.height_m, "true_m": size.height_m})
    if length_m > crossing.length_m + 1e-9:
        values = {"booked_m": crossing.length_m, "true_m": round(length_m, 2)}
        yield Finding("loading.crossing_length", Level.WARN, values)


def _tickets(parts: Parts) -> Iterator[Finding]:
    for fit in parts.calibration.fits:
        if fit.outlier:
            values = {
                "ticket": fit.ticket.id,
                "date": fit.ticket.taken_on.isoformat(),
                "off_kg": round(fit.residual.total_kg),
                "sd": round(fit.residual_sd, 1),
            }
            yield Finding("loading.ticket_outlier", Level.WARN, values)
    newest = parts.calibration.newest
    days = (parts.day - newest.taken_on).days
    if days > parts.settings.ticket_good_days:
        values = {"ticket": newest.id, "date": newest.taken_on.isoformat(), "months": round(days / 30.4)}
        yield Finding("loading.ticket_old", Level.WARN, values)


def _untold(parts: Parts) -> Iterator[Finding]:
    if any(person.mass_kg is None for person in parts.hire.party):
        yield Finding("loading.typical_masses", Level.NOTE)
    if not parts.hire.loads:
        usual_kg = sum(item.mass_kg for item in parts.items if item.key.startswith("untold."))
        yield Finding("loading.no_loads_told", Level.WARN, {"mass_kg": round(usual_kg)})


def _caution(parts: Parts) -> Iterator[Finding]:
    _ = parts
    yield Finding("loading.caution", Level.NOTE)


SUBJECTS: tuple[Callable[[Parts], Iterator[Finding]], ...] = (
    _overload,
    _drivers,
    _seats,
    _berths,
    _stores,
    _rack,
    _tow,
    _avoidable_states,
    _crossing,
    _tyres,
    _tickets,
    _untold,
    _caution,
)
