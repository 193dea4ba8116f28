"""Will it carry them? One hire, one vehicle, every state of the trip."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from zoneinfo import ZoneInfo

from keyhook.basis import Basis, Because, Figure, Input
from keyhook.catalogue import Catalogue
from keyhook.hire.hire import Hire
from keyhook.hire.typical import person_mass
from keyhook.loading import findings as said
from keyhook.loading.calibration import Calibration, calibrate
from keyhook.loading.chance import load_spread, overload_chance
from keyhook.loading.items import Item, filling_items, hire_items
from keyhook.loading.licence import Driven, may_drive_all_hire
from keyhook.loading.outcome import (
    AXLES,
    CabCard,
    DriverLine,
    EffectiveLimits,
    LoadingAnswer,
    RackLine,
    StateLoads,
    Verdict,
)
from keyhook.loading.seating import seat_party, sleep_party
from keyhook.loading.settings import LoadingSettings
from keyhook.loading.states import TripState, planned_fresh_l, trip_states
from keyhook.loading.statics import axle_loads_of
from keyhook.loading.tyres import AxleTyres, axle_tyres
from keyhook.vehicle.build_sheet import BuildSheet, Ticket

_DEFAULT = LoadingSettings()


def loading_answer(
    sheet: BuildSheet,
    hire: Hire,
    catalogue: Catalogue,
    *,
    on_day: dt.date | None = None,
    settings: LoadingSettings = _DEFAULT,
) -> LoadingAnswer:
    """Return whether the vehicle carries the party, by how much, how surely and why.

    Parameters
    ----------
    sheet
        The vehicle as built (:func:`keyhook.vehicle.build_sheet.as_built`).
    hire
        Party, drivers, things, options and trip.
    on_day
        The day from which ages of tyres and tickets are counted; the day of collection when not given.

    Raises
    ------
    UnknownName
        The hire names a store that the vehicle has not.
    """
    day = on_day or _local_day(hire.collect_at, hire.zone)
    calibration = calibrate(sheet)
    tyres = axle_tyres(sheet, catalogue.load_index_kg, day)
    limits = effective_limits(sheet, tyres)
    items = hire_items(sheet, hire, catalogue, settings)
    fresh_l = planned_fresh_l(sheet, hire)
    states = tuple(
        state_loads(sheet, calibration, items, state, limits, settings) for state in trip_states(sheet, fresh_l)
    )
    drivers = driver_lines(sheet, hire)
    able = [line.person for line in drivers if line.answer.may != "no"]
    seating = seat_party(hire.party, sheet.seats, able, hire.trip.countries)
    masses = [person_mass(person.age_years, person.mass_kg).mass_kg for person in hire.party]
    sleeping = sleep_party(masses, sheet.berths, [person.berth for person in hire.party])
    rack = rack_line(sheet, hire)
    planned = [state for state in states if state.state.planned]
    worst = min(planned, key=lambda state: state.least_margin_kg)
    parts = said.Parts(
        sheet,
        hire,
        day,
        settings,
        limits,
        states,
        worst,
        calibration,
        seating,
        sleeping,
        drivers,
        tyres,
        rack,
        fresh_l,
        items,
    )
    return LoadingAnswer(
        verdict=verdict_of(planned, settings),
        findings=tuple(said.all_findings(parts)),
        figures={figure.key: figure for figure in _figures(sheet, worst, limits, items, calibration, fresh_l)},
        limits=limits,
        states=states,
        items=items,
        calibration=calibration,
        seating=seating,
        sleeping=sleeping,
        drivers=drivers,
        tyres=tyres,
        rack=rack,
        cab_card=cab_card(sheet, hire),
        fresh_l=fresh_l,
    )


def verdict_of(planned: list[StateLoads], settings: LoadingSettings) -> Verdict:
    """Return over, tight or fits: by the told masses first, then by the chance."""
    if any(
        state.least_margin_kg < 0 or state.chance.any_probability >= settings.stop_from_probability for state in planned
    ):
        return "over"
    tight = any(state.chance.any_probability >= settings.weigh_from_probability for state in planned)
    return "tight" if tight else "fits"


def effective_limits(sheet: BuildSheet, tyres: tuple[AxleTyres, ...]) -> EffectiveLimits:
    """Return the limits that count: the least of plate, axle and tyres; the rear group folded over its axles."""
    front = [(sheet.limits.front_kg, "plate"), (sheet.axles[0].limit_kg, "axle"), (tyres[0].capacity_kg, "tyres")]
    shares = sum(axle.load_share for axle in sheet.axles[1:])
    rear = [(sheet.limits.rear_kg, "plate")]
    for axle, fitted in zip(sheet.axles[1:], tyres[1:], strict=True):
        share = axle.load_share / shares
        rear += [(axle.limit_kg / share, "axle"), (fitted.capacity_kg / share, "tyres")]
    (front_kg, front_binds), (rear_kg, rear_binds) = (min(pairs, key=lambda pair: pair[0]) for pairs in (front, rear))
    return EffectiveLimits(front_kg, rear_kg, sheet.limits.mam_kg, front_binds, rear_binds)


def state_loads(
    sheet: BuildSheet,
    calibration: Calibration,
    items: tuple[Item, ...],
    state: TripState,
    limits: EffectiveLimits,
    settings: LoadingSettings,
) -> StateLoads:
    """Return loads, margins and chance of one state: the common weighed masses plus everything that differs."""
    aboard = (*items, *filling_items(sheet, state.filling, common_ticket(calibration), settings))
    told = calibration.base + axle_loads_of(((item.mass_kg, item.x_m) for item in aboard), sheet.wheelbase_m)
    spread = load_spread(calibration.base, calibration.variance, aboard, sheet.wheelbase_m, settings)
    chance = overload_chance(spread, front_kg=limits.front_kg, rear_kg=limits.rear_kg, total_kg=limits.total_kg)
    values = {"front": told.front_kg, "rear": told.rear_kg, "total": told.total_kg}
    return StateLoads(state, told, {axle: limits.of(axle) - values[axle] for axle in AXLES}, spread, chance)


def common_ticket(calibration: Calibration) -> Ticket:
    """Return a ticket in the common condition (diesel, gas, exhaust fluid full, the rest empty)."""
    return calibration.newest.model_copy(
        update={
            "fuel_share": 1.0, "gas_share": 1.0, "exhaust_fluid_share": 1.0,
            "fresh_l": 0.0, "grey_l": 0.0, "boiler_l": 0.0, "cassette_l": 0.0,
        }
    )  # fmt: skip


def driver_lines(sheet: BuildSheet, hire: Hire) -> tuple[DriverLine, ...]:
    """Return each named driver with the stricter answer of the first and the last day."""
    first, last = _local_day(hire.collect_at, hire.zone), _local_day(hire.return_at, hire.zone)
    driven = Driven(
        mam_kg=sheet.limits.mam_kg,
        passenger_seats=len(sheet.seats) - 1,
        manual=sheet.gearbox == "manual",
        electric=sheet.powered_by == "electric",
        trailer_mam_kg=hire.trailer.mam_kg if hire.trailer else 0.0,
    )
    lines = []
    for licence in hire.drivers:
        person = hire.party[licence.person] if licence.person < len(hire.party) else None
        label = (person.name if person else "") or f"person {licence.person + 1}"
        lines.append(DriverLine(licence.person, label, may_drive_all_hire(licence, driven, first, last)))
    return tuple(lines)


def rack_line(sheet: BuildSheet, hire: Hire) -> RackLine | None:
    """Return what hangs on the rack against its limit; None without bikes or without a rack."""
    if sheet.rack is None or not hire.bikes:
        return None
    load_kg = sum(bike.mass_kg for bike in hire.bikes)
    batteries_kg = sum(bike.battery_kg for bike in hire.bikes)
    return RackLine(load_kg, load_kg - batteries_kg, sheet.rack.limit_kg, len(hire.bikes), sheet.rack.bikes)


def cab_card(sheet: BuildSheet, hire: Hire) -> CabCard:
    """Return height, width, length and mass as driven on this hire."""
    size = sheet.dimensions
    rack_on = sheet.rack is not None and ("bike_rack" in hire.options or bool(hire.bikes))
    longer_m = sheet.rack.adds_length_m if sheet.rack is not None and rack_on else 0.0
    return CabCard(
        size.height_m,
        size.width_m,
        size.width_mirrors_m,
        size.length_m,
        round(size.length_m + longer_m, 3),
        sheet.limits.mam_kg,
        rack_on,
    )


def _local_day(moment: dt.datetime, zone: str) -> dt.date:
    return moment.astimezone(ZoneInfo(zone)).date()


def _figures(
    sheet: BuildSheet,
    worst: StateLoads,
    limits: EffectiveLimits,
    items: tuple[Item, ...],
    calibration: Calibration,
    fresh_l: float,
) -> Iterator[Figure]:
    ticket = calibration.newest
    origin = f"weighbridge tickets, newest {ticket.id} of {ticket.taken_on.isoformat()}"
    weighed = {
        "front": calibration.base.front_kg,
        "rear": calibration.base.rear_kg,
        "total": calibration.base.total_kg,
    }
    liquids = filling_items(sheet, worst.state.filling, common_ticket(calibration), _DEFAULT)
    wheelbase_m = sheet.wheelbase_m
    for axle in AXLES:
        inputs = [Input("weighed empty", weighed[axle], "kg", origin, Basis.MEASURED)]
        for item in (*items, *liquids):
            share = {"front": 1 - item.x_m / wheelbase_m, "rear": item.x_m / wheelbase_m, "total": 1.0}[axle]
            where = "" if axle == "total" else f"{item.mass_kg:.0f} kg at {item.x_m:.2f} m of {wheelbase_m:.2f} m"
            inputs.append(Input(item.label, item.mass_kg * share, "kg", where or item.origin.origin, item.origin.basis))
        formula = {
            "front": "weighed front + sum of m (1 - x / L)",
            "rear": "weighed rear + sum of m x / L",
            "total": "weighed total + sum of m",
        }[axle]
        sd_kg = {"front": worst.spread.front_sd_kg, "rear": worst.spread.rear_sd_kg, "total": worst.spread.total_sd_kg}
        because = Because(formula, tuple(inputs), Basis.COMPUTED, "statics-textbook" if axle != "total" else "")
        yield Figure(f"{axle}_load", _LABEL[axle], worst.load_kg(axle), "kg", because, sd_kg[axle])
        binds = {"front": limits.front_binds, "rear": limits.rear_binds, "total": "plate"}[axle]
        given = (Input("limit", limits.of(axle), "kg", _LIMIT_ORIGIN[binds], Basis.MEASURED),)
        load = Input("load as told", worst.load_kg(axle), "kg")
        yield Figure(
            f"{axle}_margin",
            f"{_LABEL[axle]}: margin",
            worst.margin_kg[axle],
            "kg",
            Because("limit - load", (*given, load)),
        )
    yield _chance_figure(worst)
    yield Figure(
        "fresh_water", "Fresh water on the road", fresh_l, "l", Because("as asked, else the depot's travel level", ())
    )


_LABEL = {"front": "Front axle", "rear": "Rear axle", "total": "Total mass"}
_LIMIT_ORIGIN = {"plate": "plate", "axle": "axle limit of the build sheet", "tyres": "load index of the tyres fitted"}


def _chance_figure(worst: StateLoads) -> Figure:
    spread = worst.spread
    inputs = (
        Input("expected front", spread.expected.front_kg, "kg", "told masses plus what is usually left unsaid"),
        Input("expected rear", spread.expected.rear_kg, "kg", "told masses plus what is usually left unsaid"),
        Input("spread front", spread.front_sd_kg, "kg", "one standard deviation"),
        Input("spread rear", spread.rear_sd_kg, "kg", "one standard deviation"),
        Input("covariance", spread.covariance, "kg2", "things behind the rear axle push both"),
    )
    formula = "1 - P(front, rear and total all within), bivariate normal"
    because = Because(formula, inputs, Basis.ASSUMPTION)
    return Figure("overload_chance", "Chance of overload", 100 * worst.chance.any_probability, "%", because)
