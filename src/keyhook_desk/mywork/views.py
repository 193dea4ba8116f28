"""A person's own list on the phone, what they say of its tasks, and photos of problems."""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_GET, require_POST

from keyhook.errors import KeyhookError
from keyhook_desk import clock
from keyhook_desk.mywork.lists import day_of_person
from keyhook_desk.mywork.models import WorkPhoto
from keyhook_desk.mywork.services import take_mark
from keyhook_desk.people.rights import needs
from keyhook_desk.yard.models import StaffRow
from keyhook_desk.yard.plan_reading import held, staff_of
from keyhook_desk.yard.services import the_depot


@require_GET
@needs("plan.see")
def mine(request: HttpRequest) -> HttpResponse:
    """Go to one's own list of today; who is not on the plan chooses whose."""
    user: Any = request.user
    today, me = clock.today(the_depot().zone), staff_of(user)
    if me is not None:
        return redirect("mywork:person", day=today.isoformat(), person=me.name)
    return render(request, "mywork/choose.html", {"day": today, "staff": StaffRow.objects.order_by("name")})


@require_GET
@needs("plan.see")
def person(request: HttpRequest, day: str, person: str) -> HttpResponse:
    """Show one person's list of a day."""
    return render(request, "mywork/person.html", _context(day, person))


@require_GET
@needs("plan.see")
def state(request: HttpRequest, day: str, person: str) -> HttpResponse:
    """Return the list alone when anything has changed since ``seen``; nothing otherwise."""
    context = _context(day, person)
    shown = context["mine"]
    if shown is not None and request.GET.get("seen") == shown.stamp:
        return HttpResponse(status=204)
    return render(request, "mywork/_list.html", context)


def _context(day: str, person: str) -> dict[str, Any]:
    try:
        date = dt.date.fromisoformat(day)
    except ValueError:
        raise Http404("There is no such day") from None
    who = get_object_or_404(StaffRow, name=person)
    row = held(date)
    return {
        "date": date,
        "before": date - dt.timedelta(days=1),
        "after": date + dt.timedelta(days=1),
        "zone": the_depot().zone,
        "who": who,
        "who_name": who.document.get("name", who.name),
        "mine": day_of_person(row, who.name, clock.now()) if row is not None else None,
        "version": row.version if row is not None else 0,
        "uid": uuid4(),
    }


@require_POST
@needs("task.mark")
def mark(request: HttpRequest, day: str, person: str) -> HttpResponse:
    """Take what somebody says of a task: from the outbox of a phone, or from a page without script."""
    user: Any = request.user
    by_hand = "by_hand" in request.POST
    try:
        date = dt.date.fromisoformat(day)
        who = get_object_or_404(StaffRow, name=person)
        told = {key: value for key, value in request.POST.items() if isinstance(value, str)}
        upload: Any = request.FILES.get("photo")
        taken = take_mark(actor=user, day=date, person=who.name, told=told, photo=upload.read() if upload else None)
    except ValueError:
        raise Http404("There is no such day") from None
    except KeyhookError as error:
        if not by_hand:
            return JsonResponse({"said": str(error), "code": error.code}, status=422)
        messages.error(request, str(error))
        return redirect("mywork:person", day=day, person=person)
    if not by_hand:
        return JsonResponse({"uid": str(taken.uid)})
    messages.success(request, "Written down.")
    return redirect("mywork:person", day=day, person=person)


@require_GET
@needs("plan.see")
@cache_control(private=True, max_age=86400, immutable=True)
def photo(request: HttpRequest, digest: str) -> HttpResponse:
    """Show a photo of a problem."""
    _ = request
    found = get_object_or_404(WorkPhoto, digest=digest)
    return HttpResponse(bytes(found.content), content_type=found.kind)
