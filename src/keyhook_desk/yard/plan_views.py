"""The Day board: the plan of a day to look at, to change and to answer."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from keyhook.errors import BadInput, KeyhookError, UnknownName
from keyhook.turnaround.clock import Clock
from keyhook_desk import clock
from keyhook_desk.hires.selectors import departures_on, returns_on
from keyhook_desk.mywork.services import take_mark
from keyhook_desk.people.models import User
from keyhook_desk.people.rights import may, needs
from keyhook_desk.yard import plan_services
from keyhook_desk.yard.days import day_or_none
from keyhook_desk.yard.models import HeldPlan, Proposal, StaffRow, WorkMark
from keyhook_desk.yard.plan_board import board_of
from keyhook_desk.yard.plan_changes import Effect, effect_of
from keyhook_desk.yard.plan_choices import Offers, offers_of
from keyhook_desk.yard.plan_news import Told, minute_of, news_of
from keyhook_desk.yard.plan_overs import hand_overs
from keyhook_desk.yard.plan_page import (
    Shown,
    chains_of,
    choices_of,
    picked_of,
    proposed,
    shown_of,
    token_of,
    told_of,
    troubles_of,
)
from keyhook_desk.yard.plan_reading import (
    Laid,
    clock_of,
    held,
    marks_of,
    minute_now,
    open_proposal,
    read_held,
    staff_of,
    taken_along,
)
from keyhook_desk.yard.plan_vehicles import give, given_last, otherwise, read_seen, take_back, versions_of
from keyhook_desk.yard.services import the_depot

VIEWS = ("person", "vehicle")
NOTHING_NEW = 204


@require_GET
@needs("plan.see")
def plan(request: HttpRequest, day: str) -> HttpResponse:
    """Show the board of a day."""
    date = day_or_none(day)
    if date is None:
        return redirect("yard:today")
    return render(request, "yard/plan.html", _page(request, date))


@require_GET
@needs("plan.see")
def live(request: HttpRequest, day: str) -> HttpResponse:
    """Give the board again when something has changed since it was drawn; the page asks every few seconds."""
    date = _date(day)
    row = held(date)
    if request.GET.get("seen") == _drawn_token(request, row, date):
        return HttpResponse(status=NOTHING_NEW)
    return render(request, "yard/_plan_live.html", _page(request, date))


@require_GET
@needs("plan.see")
def proposal(request: HttpRequest, day: str) -> HttpResponse:
    """Give the proposal of a day, how far its search is, and what it changes."""
    date = _date(day)
    row = held(date)
    laid = read_held(row) if row else None
    shown = shown_of(open_proposal(date), row, laid, clock_of(date))
    if shown is not None and request.GET.get("seen") == _seen(shown):
        return HttpResponse(status=NOTHING_NEW)
    offers = _offers(request, shown, row, laid, clock_of(date))
    context = {"date": date, "held": row, "shown": shown, "seen": _seen(shown), "by": _by(request), "offers": offers}
    return render(request, "yard/_plan_proposal.html", context)


@require_GET
@needs("plan.see")
def task(request: HttpRequest, day: str) -> HttpResponse:
    """Give the panel of one task; with a time or a person also what moving it there would do."""
    date = _date(day)
    row = held(date)
    if row is None:
        return redirect("yard:plan", day=day)
    context = {"date": date, "held": row, "by": _by(request), **_panel(request, clock_of(date), row, read_held(row))}
    return render(request, "yard/_plan_task.html", context)


@needs("plan.make")
@require_POST
def change(request: HttpRequest, day: str) -> HttpResponse:
    """Do one thing to the plan, then go back to it."""
    date = _date(day)
    act = _ACTS.get(request.POST.get("act", ""))
    if act is None:
        raise BadInput("There is no such change", seen=request.POST.get("act", "")[:30], todo="Use the page")
    try:
        messages.success(request, act(request, date))
    except KeyhookError as error:
        messages.error(request, str(error))
    return redirect(_back(request, day))


@needs("task.mark")
@require_POST
def mark(request: HttpRequest, day: str) -> HttpResponse:
    """Write down that a task has begun, is done or has a problem, as somebody at the desk was told."""
    date = _date(day)
    user: Any = request.user
    told = {key: request.POST.get(key, "") for key in ("uid", "task", "kind", "note")}
    upload: Any = request.FILES.get("photo")
    try:
        who = _whose(request.POST.get("person", ""), user)
        take_mark(actor=user, day=date, person=who, told=told, photo=upload.read() if upload else None)
        messages.success(request, "Written down.")
    except KeyhookError as error:
        messages.error(request, str(error))
    return redirect(_back(request, day))


def _whose(person: str, user: User) -> str:
    """Return in whose name something is written: somebody of the plan, otherwise whoever is logged in."""
    if not person:
        mine = staff_of(user)
        return mine.name if mine else user.get_username()
    if not StaffRow.objects.filter(name=person).exists():
        raise UnknownName("Nobody of that name works here", seen=person[:40], todo="Choose somebody of the list")
    return person


# ---------------------------------------------------------------- what can be done


def _version(request: HttpRequest) -> int:
    text = request.POST.get("version", "")
    return int(text) if text.isdecimal() else -1


def _lay_out(request: HttpRequest, day: dt.date) -> str:
    plan_services.lay_out(day=day, by=request.user)  # type: ignore[arg-type]
    return "The day is being planned. The first plan comes in a few seconds, a better one while you look."


def _number(request: HttpRequest) -> int:
    text = request.POST.get("proposal", "")
    return int(text) if text.isdecimal() else 0


def _accept(request: HttpRequest, day: dt.date) -> str:
    _ = day
    row = plan_services.accept(
        proposal_id=_number(request),
        seen_version=_version(request),
        by=request.user,  # type: ignore[arg-type]
        choice=request.POST.get("choice", ""),
    )
    return f"Kept. Everybody's list shows it now (version {row.version})."


def _refuse(request: HttpRequest, day: dt.date) -> str:
    _ = day
    plan_services.refuse(proposal_id=_number(request), by=request.user)  # type: ignore[arg-type]
    return "Left as it was."


def _wanted(request: HttpRequest, day: dt.date) -> dict[str, Any]:
    given = request.POST
    return {
        "day": day,
        "seen_version": _version(request),
        "task": given.get("task", ""),
        "person": given.get("person", ""),
        "start_min": minute_of(clock_of(day), given.get("start", ""), "The start"),
        "instead_of": given.get("instead_of", ""),
        "by": request.user,
    }


def _move(request: HttpRequest, day: dt.date) -> str:
    plan_services.move(**_wanted(request, day))
    return "Moved and pinned there."


def _around(request: HttpRequest, day: dt.date) -> str:
    plan_services.around(**_wanted(request, day))
    return "Looking for a plan in which it is there and the rest makes room."


def _pin(request: HttpRequest, day: dt.date) -> str:
    what, pinned = request.POST.get("what", ""), request.POST.get("pinned") == "yes"
    plan_services.pin(day=day, seen_version=_version(request), what=what, pinned=pinned, by=request.user)  # type: ignore[arg-type]
    return "Pinned: the next plan leaves it as it is." if pinned else "Let go: the next plan may change it."


def _undo(request: HttpRequest, day: dt.date) -> str:
    row = plan_services.undo(day=day, seen_version=_version(request), by=request.user)  # type: ignore[arg-type]
    return f"Undone. The plan is as it was before (version {row.version})."


def _news(request: HttpRequest, day: dt.date) -> str:
    row = held(day)
    if row is None:
        raise BadInput("Nobody has planned this day yet", todo="Plan the day first")
    fields = {key: request.POST.get(key, "") for key in request.POST}
    news = news_of(fields.get("kind", ""), Told(fields, read_held(row), clock_of(day), minute_now(day)))
    found = plan_services.propose(day=day, events=news.events, by=request.user, reason=news.says)  # type: ignore[arg-type]
    before = taken_along(found, len(news.events))
    if before is not None:
        return f"{news.says}. What {before.made_by} told ({before.reason}) is taken along in one plan."
    return f"{news.says}. The rest of the day is being planned again."


def _again(request: HttpRequest, day: dt.date) -> str:
    before = open_proposal(day)
    found = plan_services.propose(day=day, events=(), by=request.user)  # type: ignore[arg-type]
    if found.made_by != request.user or (before is not None and found.pk == before.pk):
        who = "You" if found.made_by == request.user else str(found.made_by)
        return f"{who} asked for a new plan a moment ago ({found.reason}). That search goes on, one for everybody."
    return "The rest of the day is being planned again from how things stand."


def _give(request: HttpRequest, day: dt.date) -> str:
    seen = read_seen(request.POST.getlist("seen"))
    given = give(day=day, seen_version=_version(request), seen=seen, by=request.user)  # type: ignore[arg-type]
    for name, why in given.refused.items():
        messages.warning(request, f"{name} keeps its vehicle. {why}")
    if not given.hires:
        return "Nothing was changed."
    return f"Done: {', '.join(given.hires)} now {'has' if len(given.hires) == 1 else 'have'} the vehicle of the plan."


def _take_back(request: HttpRequest, day: dt.date) -> str:
    _ = day
    text = request.POST.get("given", "")
    hires = take_back(number=int(text) if text.isdecimal() else 0, by=request.user)  # type: ignore[arg-type]
    return f"Taken back: {', '.join(hires)} as before."


_ACTS = {
    "lay_out": _lay_out,
    "accept": _accept,
    "refuse": _refuse,
    "move": _move,
    "around": _around,
    "pin": _pin,
    "undo": _undo,
    "news": _news,
    "again": _again,
    "give": _give,
    "take_back": _take_back,
}


# ---------------------------------------------------------------- the page


def _date(day: str) -> dt.date:
    date = day_or_none(day)
    if date is None:
        raise BadInput("This is not a day", seen=day[:20], todo="Write it like 2026-07-10")
    return date


def _by(request: HttpRequest) -> str:
    wanted = request.GET.get("by") or request.POST.get("by_view", "")
    return wanted if wanted in VIEWS else VIEWS[0]


def _back(request: HttpRequest, day: str) -> str:
    by = _by(request)
    if request.POST.get("back") == "around":
        return reverse("yard:around", kwargs={"day": day})
    address = reverse("yard:plan", kwargs={"day": day})
    return f"{address}?by={by}" if by != VIEWS[0] else address


def _token(row: HeldPlan | None, day_clock: Clock) -> str:
    marks = WorkMark.objects.filter(day=day_clock.day).count()
    hires = versions_of(row) if row else 0
    return token_of(row, marks, hires, day_clock.minute(clock.now()))


def _shows_proposal(request: HttpRequest, row: HeldPlan | None) -> bool:
    """Tell whether the board is asked for the plan of the proposal, not for the one that is held."""
    return row is None or request.GET.get("show") == "proposal"


def _drawn_token(request: HttpRequest, row: HeldPlan | None, day: dt.date) -> str:
    if _shows_proposal(request, row):
        return _proposal_token(open_proposal(day), minute_now(day))
    return _token(row, clock_of(day))


def _proposal_token(row: Proposal | None, now_min: int) -> str:
    """Return what tells whether the board has changed since it was drawn with the plan of a proposal."""
    return f"p{row.pk}.{row.state}.{row.best}.{round(row.seconds)}.{now_min // 5}" if row else "none"


def _seen(shown: Any) -> str:
    return f"{shown.row.pk}.{shown.state}.{shown.row.best}.{shown.seconds}" if shown else "none"


def _page(request: HttpRequest, date: dt.date) -> dict[str, Any]:
    depot = the_depot()
    row, day_clock = held(date), Clock(date, depot.zone)
    laid = read_held(row) if row else None
    shown = shown_of(open_proposal(date), row, laid, day_clock)
    now_min, by, offers = day_clock.minute(clock.now()), _by(request), _offers(request, shown, row, laid, day_clock)
    context: dict[str, Any] = {
        "date": date, "before": date - dt.timedelta(days=1), "after": date + dt.timedelta(days=1), "depot": depot,
        "held": row, "shown": shown, "seen": _seen(shown), "by": by, "zone": depot.zone, "now_min": now_min,
        "offers": offers,
    }  # fmt: skip
    draws_proposal = _shows_proposal(request, row) and shown is not None and shown.laid is not None
    drawn = proposed(shown.row, offers.chosen) if draws_proposal and shown else laid
    context |= {
        "drawn": None,
        "draws_proposal": draws_proposal,
        "proposal_token": _proposal_token(shown.row if shown else None, now_min),
    }
    if drawn is not None:
        context |= _drawn(drawn, day_clock, None if draws_proposal else row, by, now_min)
    if row is None or laid is None:
        return {**context, "is_quiet": shown is None and _is_quiet(date, depot.zone)}
    return {
        **context,
        "token": _token(row, day_clock),
        "choices": choices_of(laid, day_clock) if may(request.user, "plan.make") else None,  # type: ignore[arg-type]
        **(_panel(request, day_clock, row, laid) if request.GET.get("task") else {}),
    }


def _offers(
    request: HttpRequest, shown: Shown | None, row: HeldPlan | None, laid: Laid | None, day_clock: Clock
) -> Offers:
    """Return what there is to choose from, with the plan that the board shows."""
    version, chosen = row.version if row else 0, request.GET.get("choice", "")
    return offers_of(shown.row if shown else None, laid, day_clock, version, chosen)


def _is_quiet(date: dt.date, zone: str) -> bool:
    return not departures_on(date, zone) and not returns_on(date, zone)


def _drawn(laid: Laid, day_clock: Clock, row: HeldPlan | None, by: str, now_min: int) -> dict[str, Any]:
    marks = marks_of(day_clock.day)
    chains = chains_of((row.pk, row.version), laid, day_clock) if row else {}
    apart = otherwise(laid) if row else ()
    overs = hand_overs(laid, day_clock, chains)
    return {
        "drawn": laid,
        "told": told_of(laid, day_clock),
        "overs": overs,
        "stopped": [over.name for over in overs if over.stop],
        "board": board_of(laid, day_clock, marks, now_min, by),
        "otherwise": apart,
        "can_give": any(not one.why_not for one in apart),
        "given": given_last(day_clock.day) if row else None,
        "troubles": troubles_of(laid, marks),
        "uids": uuid.uuid4,
    }


def _panel(request: HttpRequest, day_clock: Clock, row: HeldPlan, laid: Laid) -> dict[str, Any]:
    name = request.GET.get("task", "")
    picked = picked_of(laid, day_clock, name, marks_of(day_clock.day))
    context: dict[str, Any] = {"picked": picked, "uid": uuid.uuid4(), "wished": None, "effect": None, "held": row}
    context["zone"] = day_clock.zone
    if picked is None or not request.GET.get("start") or not may(request.user, "plan.make"):  # type: ignore[arg-type]
        return context
    try:
        effect = _effect(request, day_clock, laid, name)
    except KeyhookError as error:
        return {**context, "slip": str(error)}
    wished = {"start": request.GET["start"], "person": request.GET.get("person", "")}
    return {**context, "effect": effect, "wished": wished}


def _effect(request: HttpRequest, day_clock: Clock, laid: Laid, name: str) -> Effect:
    given = request.GET
    start = minute_of(day_clock, given["start"], "The start")
    instead_of, now_min = given.get("instead_of", ""), day_clock.minute(clock.now())
    return effect_of(laid, day_clock, name, given.get("person", ""), start, instead_of=instead_of, now_min=now_min)
