"""A tour and a checked recording as text for a terminal and as documents for a program."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import get_args

from keyhook.cli.render import because_lines, figures_text, finding_lines, number
from keyhook.dossier import HireTour, RecordedTour, SheetTour
from keyhook.phrases import say
from keyhook.tour.coverage import HeardPoint, TourCheck
from keyhook.tour.film import film_note
from keyhook.tour.outcome import AnswerLine, AnswerStop, Elsewhere, Slot, TourAnswer
from keyhook.tour.script import clock


def tour_text(found: HireTour | SheetTour, *, why: bool = False) -> str:
    """Return the tour: what it comes to, the stops in order, what goes elsewhere, what to ask back."""
    answer = found.answer
    lines = [
        *_heads(found),
        *figures_text(answer.figures, why=why),
        *finding_lines(answer.findings),
    ]
    for rank, stop in enumerate(answer.stops, start=1):
        lines += ["", _stop_line(rank, stop), *(text for line in stop.lines for text in _point_lines(line, why=why))]
    lines += _elsewhere_lines(answer.elsewhere)
    if answer.questions:
        lines += [
            "",
            say("tour.script.check"),
            *(f"  {question.title}: {question.text}" for question in answer.questions),
        ]
    return "\n".join(lines)


def _heads(found: HireTour | SheetTour) -> Iterator[str]:
    if isinstance(found, SheetTour):
        yield say("tour.text.film_head", {"name": f"{found.sheet.id} {found.sheet.name}"})
        yield film_note(found.answer, found.sheet.name)
    else:
        yield say("tour.text.head", {"hire": found.hire.id, "lead": found.hire.lead, "vehicle": found.vehicle})


def _stop_line(rank: int, stop: AnswerStop) -> str:
    values = {"time": clock(stop.arrive_s), "number": rank, "station": stop.name}
    return say("tour.script.stop", values)


def _point_lines(line: AnswerLine, *, why: bool) -> Iterator[str]:
    must = f"  [{say('tour.script.must')}]" if line.mandatory else ""
    key = "tour.text.point" if line.find_it else "tour.text.point_plain"
    values = {"time": clock(line.start_s), "find_it": line.find_it, "title": line.title, "text": line.text}
    yield f"  {say(key, values)}{must}"
    if why:
        yield f"    {say('tour.text.id', {'id': line.id, 'value': number(line.value_cost)})}"
        yield from because_lines(line.because)


def _elsewhere_lines(entries: Sequence[Elsewhere]) -> Iterator[str]:
    """Yield what is not on the tour by the place where it is read instead."""
    for slot in get_args(Slot):
        here = [entry for entry in entries if entry.slot == slot]
        if not here:
            continue
        yield ""
        yield say("tour.text.instead", {"slot": say(f"tour.slot.{slot}"), "count": len(here)})
        for entry in here:
            reason = say(f"tour.why_elsewhere.{entry.why}")
            yield f"  {say('tour.text.entry', {'title': entry.title, 'text': entry.text, 'reason': reason})}"


def tour_document(found: HireTour | SheetTour) -> dict[str, object]:
    """Return the tour for a program: without the problem it was planned from."""
    answer: TourAnswer = found.answer
    plan = answer.plan
    return {
        **_of(found),
        "tags": sorted(answer.composed.tags),
        "stops": answer.stops,
        "elsewhere": answer.elsewhere,
        "more": answer.more,
        "questions": answer.questions,
        "end_min": answer.end_min,
        "mandatory_min": answer.mandatory_min,
        "over_min": answer.over_min,
        "value_cost": plan.value_cost,
        "how": plan.how,
        "proven": plan.proven,
        "bound_cost": plan.bound_cost,
        "findings": answer.findings,
        "figures": answer.figures,
    }


def _of(found: HireTour | SheetTour) -> dict[str, str]:
    if isinstance(found, SheetTour):
        return {"sheet": found.sheet.id}
    return {"hire": found.hire.id, "vehicle": found.vehicle}


def check_text(found: RecordedTour, *, why: bool = False) -> str:
    """Return what a recording covers: what was said when, how surely, what is missing, minutes by station."""
    check = found.check
    lines = [
        say("tour.text.check_head", {"shows": found.shows, "minutes": f"{check.duration_min:.0f}"}),
        *figures_text(check.figures, why=why),
        *finding_lines(check.findings),
        "",
        say("tour.text.said", {"count": len(check.covered)}),
        *(text for point in check.covered for text in _heard_lines(point, why=why)),
        "",
        say("tour.text.missing", {"count": len(check.missing)}),
        *(_missing_line(point) for point in check.missing),
        "",
        say("tour.text.stations"),
        *_station_lines(check),
    ]
    return "\n".join(lines)


def _heard_lines(point: HeardPoint, *, why: bool) -> Iterator[str]:
    values = {"time": clock(point.at_s), "percent": f"{100 * point.chance:.0f}", "title": point.title}
    yield f"  {say('tour.text.heard', {**values, 'text': point.text})}"
    if why:
        yield f"    {say('tour.text.words', {'heard': point.heard})}"
        yield from because_lines(point.because)


def _missing_line(point: HeardPoint) -> str:
    must = f"  [{say('tour.script.must')}]" if point.mandatory else ""
    return f"  {say('tour.text.not_heard', {'title': point.title, 'text': point.text})}{must}"


def _station_lines(check: TourCheck) -> Iterator[str]:
    for station in check.stations:
        values = {
            "name": station.name,
            "minutes": f"{station.talk_min:.1f}",
            "told": f"{station.told_cost:.0f}",
            "all": f"{station.value_cost:.0f}",
        }
        yield f"  {say('tour.text.station', values)}"
    yield f"  {say('tour.text.nowhere', {'minutes': f'{check.elsewhere_min:.1f}'})}"


def check_document(recording: str, found: RecordedTour) -> dict[str, object]:
    """Return a checked recording for a program."""
    return {"recording": recording, "shows": found.shows, "sheet": found.sheet.id, "check": found.check}
