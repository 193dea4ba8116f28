"""From a loading answer to the loading sheet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from string import ascii_uppercase
from zoneinfo import ZoneInfo

from keyhook.basis import Basis, Figure, Finding, Level
from keyhook.cli.render import number
from keyhook.hire.hire import Hire
from keyhook.loading.findings import person_label
from keyhook.loading.lightening import Lightening
from keyhook.loading.outcome import AXLES, DriverLine, LoadingAnswer
from keyhook.loading.packing import steps
from keyhook.loading.seating import Place
from keyhook.loading.tyres import CHANGE_AFTER_YEARS, LOOK_AFTER_YEARS, AxleTyres
from keyhook.phrases import say
from keyhook.vehicle.build_sheet import BuildSheet
from keyhook_desk.papers.documents import AxleBar, FactLine, Imprint, LoadingSheet, SeatLine, Stands, StateLine
from keyhook_desk.papers.load_lines import load_lines, seat_words
from keyhook_desk.papers.picture import loading_picture

#: The findings that are the verdict in words; the first of them stands beside it.
_VERDICT = ("front_over", "rear_over", "total_over", "probably_over", "weigh_it", "fits")
_NINE_IN_TEN_SD = 1.645
_KPA_PER_BAR, _KPA_PER_PSI = 100.0, 6.894757


def loading_paper(
    answer: LoadingAnswer,
    lightening: Lightening | None,
    hire: Hire,
    sheet: BuildSheet,
    imprint: Imprint,
) -> LoadingSheet:
    """Return what stands on the loading sheet; ``lightening`` is None when nothing needs to change."""
    letters = dict(zip((store.id for store in sheet.stores), ascii_uppercase, strict=False))
    first, said = _verdict_and_rest(answer)
    stops, warns = (
        tuple(_sentence(found) for found in said if found.level is level) for level in (Level.STOP, Level.WARN)
    )
    change = steps(lightening, sheet, answer) if lightening is not None else ()
    return LoadingSheet(
        imprint=imprint,
        lead=hire.lead,
        facts=hire_facts(hire),
        verdict="over" if answer.overall == "stopped" else answer.verdict,
        verdict_words=say(f"loading.verdict.{answer.overall}"),
        verdict_sentence=_sentence(first) if first else "",
        chance=_percent(answer.worst.chance.any_probability),
        chance_why=_why(answer, "overload_chance"),
        tightest=say(f"loading.state.{answer.worst.state.key}"),
        bars=tuple(_bars(answer)),
        picture=loading_picture(sheet, _seat_numbers(answer), letters, _axle_words(answer)),
        stops=stops,
        warns=warns,
        steps=tuple(_sentence(step) for step in change if "price" not in step.code),
        seats=tuple(_seat(place, hire, sheet) for place in answer.seating.places),
        loads=load_lines(answer, sheet, letters),
        states=_states(answer),
        checks=(*_drivers(answer, sheet), *_tyres(answer), *_rack(answer)),
        reasons=tuple(_reasons(answer, sheet, change)),
        cautions=_cautions(said),
    )


def hire_facts(hire: Hire) -> tuple[str, ...]:
    """Return the hire in a few words: number, times on the depot's clock, nights, people."""
    zone = ZoneInfo(hire.zone)
    start, end = hire.collect_at.astimezone(zone), hire.return_at.astimezone(zone)
    nights = (end.date() - start.date()).days
    return (
        hire.id,
        _say("when", start=moment(start), end=moment(end)),
        _say("one_night") if nights == 1 else _say("nights", nights=nights),
        people_words(len(hire.party)),
    )


def people_words(people: int) -> str:
    """Return how many they are in words."""
    return _say("one_person") if people == 1 else _say("people", people=people)


def moment(local: dt.datetime) -> str:
    """Return a local time in words: Fri 10 July 2026, 15:00."""
    return f"{local:%a} {local.day} {local:%B %Y, %H:%M}"


def _say(key: str, **values: object) -> str:
    return say(f"papers.loading.{key}", values)


def _sentence(finding: Finding) -> str:
    return say(finding.code, finding.values)


def _percent(probability: float) -> str:
    """Return a chance in whole per cent that never says none or all where it is neither."""
    share = 100 * probability
    if 0 < share < 1:
        return "under 1 %"
    return "over 99 %" if 99 < share < 100 else f"{share:.0f} %"  # noqa: PLR2004  # per cent


def _verdict_and_rest(answer: LoadingAnswer) -> tuple[Finding | None, list[Finding]]:
    of_verdict = {f"loading.{name}" for name in _VERDICT}
    if answer.overall == "stopped":
        speaks = [found for found in answer.findings if found.level is Level.STOP]
    else:
        speaks = [found for found in answer.findings if found.code in of_verdict]
    first = next(iter(speaks), None)
    return first, [found for found in answer.findings if found is not first]


def _cautions(said: list[Finding]) -> tuple[str, ...]:
    """Return the notes, the general caution first; what a line of its own says already is left out."""
    notes = [found for found in said if found.level is Level.NOTE and not found.code.startswith("loading.driver_")]
    return tuple(_sentence(found) for found in sorted(notes, key=lambda found: found.code != "loading.caution"))


def _bars(answer: LoadingAnswer) -> Iterator[AxleBar]:
    worst, limits = answer.worst, answer.limits
    binds = {"front": limits.front_binds, "rear": limits.rear_binds, "total": "plate"}
    spread = worst.spread
    expected = {"front": spread.expected.front_kg, "rear": spread.expected.rear_kg, "total": spread.expected.total_kg}
    sd = {"front": spread.front_sd_kg, "rear": spread.rear_sd_kg, "total": spread.total_sd_kg}
    for axle in AXLES:
        load_kg, limit_kg, spare_kg = worst.load_kg(axle), limits.of(axle), worst.margin_kg[axle]
        reach_kg = _NINE_IN_TEN_SD * sd[axle]
        yield AxleBar(
            label=say(f"loading.axle.{axle}"),
            load=f"{load_kg:.0f}",
            limit=f"{limit_kg:.0f}",
            binds=_say(binds[axle]),
            spare=_say("over", kg=round(-spare_kg)) if spare_kg < 0 else _say("spare", kg=round(spare_kg)),
            over=spare_kg < 0,
            told_share=load_kg / limit_kg,
            expected_share=expected[axle] / limit_kg,
            low_share=(expected[axle] - reach_kg) / limit_kg,
            high_share=(expected[axle] + reach_kg) / limit_kg,
            why=_why(answer, f"{axle}_load"),
        )


def _explained(answer: LoadingAnswer) -> list[str]:
    """Return the keys of the figures explained at the end; a margin is limit less load, and needs no words."""
    return [key for key in answer.figures if not key.endswith("_margin")]


def _why(answer: LoadingAnswer, key: str) -> str:
    """Return the number under which a figure is explained at the end of the sheet."""
    return str(_explained(answer).index(key) + 1)


def _axle_words(answer: LoadingAnswer) -> tuple[str, str]:
    loads = answer.worst.loads
    return _say("on_front", kg=round(loads.front_kg)), _say("on_rear", kg=round(loads.rear_kg))


def _seat_numbers(answer: LoadingAnswer) -> dict[str, str]:
    numbers: dict[str, str] = {}
    for place in answer.seating.places:
        seat = place.proposed or place.told
        if seat:
            numbers[seat] = f"{numbers[seat]}, {place.person + 1}" if seat in numbers else str(place.person + 1)
    return numbers


def _seat(place: Place, hire: Hire, sheet: BuildSheet) -> SeatLine:
    seats = {seat.id: seat for seat in sheet.seats}
    chosen = place.proposed or place.told
    belt = _say(seats[chosen].belt) if chosen in seats else ""
    change = ""
    if place.wrong or (place.told and place.proposed and place.told != place.proposed):
        reason = f"; {say(f'loading.seat.{place.wrong}')}" if place.wrong else ""
        change = _say("seat_change", told=seat_words(place.told)) + reason
    return SeatLine(
        str(place.person + 1),
        person_label(hire, place.person),
        seat_words(chosen) or _say("seat_any"),
        belt,
        say(f"loading.restraint.{place.restraint}"),
        change,
    )


def _states(answer: LoadingAnswer) -> tuple[StateLine, ...]:
    return tuple(
        StateLine(
            say(f"loading.state.{state.state.key}"),
            f"{state.loads.front_kg:.0f}",
            f"{state.loads.rear_kg:.0f}",
            f"{state.loads.total_kg:.0f}",
            f"{round(state.least_margin_kg):d}".replace("-", "\u2212"),
            _percent(state.chance.any_probability),
            worst=state is answer.worst,
            planned=state.state.planned,
            over=state.least_margin_kg < 0,
        )
        for state in sorted(answer.states, key=lambda state: not state.state.planned)
    )


def _drivers(answer: LoadingAnswer, sheet: BuildSheet) -> Iterator[FactLine]:
    if not answer.drivers:
        yield FactLine(_say("driver"), _say("no_driver"), "look")
    for line in answer.drivers:
        yield FactLine(_say("driver"), _driver_words(line, sheet), _STANDS[line.answer.may])


_STANDS: Mapping[str, Stands] = {"yes": "good", "check": "look", "no": "bad"}


def _driver_words(line: DriverLine, sheet: BuildSheet) -> str:
    mam_kg = f"{sheet.limits.mam_kg:,.0f}"
    reason = say(f"loading.licence.{line.answer.reason}", {"mam_kg": mam_kg})
    return say(f"loading.driver_{line.answer.may}", {"driver": line.label, "reason": reason})


def _tyres(answer: LoadingAnswer) -> Iterator[FactLine]:
    last = len(answer.tyres) - 1
    for fitted in answer.tyres:
        axle = say("loading.axle_front" if fitted.axle == 0 else "loading.axle_rear")
        if last > 1 and fitted.axle > 0:
            axle = f"{axle} {fitted.axle}"
        yield FactLine(_say("tyre_label", axle=axle), _tyre_words(fitted), _tyre_stands(fitted))


def _tyre_words(fitted: AxleTyres) -> str:
    tyre = fitted.tyre
    words = _say(
        "tyre",
        count=tyre.count,
        size=tyre.size,
        index=tyre.load_index,
        capacity=round(fitted.capacity_kg),
        years=f"{fitted.age_years:.1f}",
    )
    if tyre.pressure_kpa is None:
        return f"{words}."
    kpa = tyre.pressure_kpa
    pressure = _say("pressure", kpa=f"{kpa:.0f}", bar=f"{kpa / _KPA_PER_BAR:.2f}", psi=f"{kpa / _KPA_PER_PSI:.0f}")
    return f"{words}{pressure}."


def _tyre_stands(fitted: AxleTyres) -> Stands:
    if fitted.age_years >= CHANGE_AFTER_YEARS:
        return "bad"
    return "look" if fitted.binds or fitted.age_years >= LOOK_AFTER_YEARS else "good"


def _rack(answer: LoadingAnswer) -> Iterator[FactLine]:
    rack = answer.rack
    if rack is None:
        return
    words = _say(
        "rack_line",
        bikes=rack.bikes,
        most=rack.bikes_limit,
        load=number(rack.load_kg),
        limit=f"{rack.limit_kg:.0f}",
    )
    over = rack.load_kg > rack.limit_kg or rack.bikes > rack.bikes_limit
    if over and rack.without_batteries_kg < rack.load_kg:
        words = f"{words} {_say('rack_batteries', without=number(rack.without_batteries_kg))}"
    yield FactLine(_say("rack_label"), words, "bad" if over else "good")


def _reasons(answer: LoadingAnswer, sheet: BuildSheet, change: tuple[Finding, ...]) -> Iterator[FactLine]:
    yield from (_reason(answer.figures[key]) for key in _explained(answer))
    yield FactLine("m, x, L", _say("statics", wheelbase=f"{sheet.wheelbase_m:.2f}"))
    yield from (FactLine("", _sentence(step)) for step in change if "price" in step.code)


def _reason(figure: Figure) -> FactLine:
    because = figure.because
    basis = because.basis.value if because.basis is not Basis.COMPUTED else _say("computed")
    value = _whole(figure.value) if figure.unit != "%" else _percent(float(figure.value) / 100).removesuffix(" %")
    values = {"value": value, "unit": figure.unit, "formula": because.formula, "basis": basis}
    if figure.sd is not None:
        return FactLine(figure.label, _say("reason_spread", **values, sd=f"{figure.sd:.0f} {figure.unit}"))
    return FactLine(figure.label, _say("reason", **values))


def _whole(value: object) -> str:
    return f"{round(value):d}".replace("-", "\u2212") if isinstance(value, float) else str(value)
