"""Around a day: what can be done the evening before, what goes straight out again, what stands as it came back."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from keyhook.catalogue import load_catalogue
from keyhook.day_plan import known_news
from keyhook.turnaround.around import EarlyTask, evening_before, standing, straight_out_again
from keyhook.turnaround.compose import day_problem
from keyhook_desk import clock
from keyhook_desk.people.rights import needs
from keyhook_desk.yard.days import day_or_none
from keyhook_desk.yard.models import WorkMark
from keyhook_desk.yard.plan_reading import held, marks_of, read_held
from keyhook_desk.yard.services import folder_of_desk


@dataclass(frozen=True)
class Early:
    """A task of the evening before: whether it can be marked (a plan is held that has it) and whether it is done."""

    task: EarlyTask
    uid: uuid.UUID
    markable: bool
    done: bool


@require_GET
@needs("plan.see")
def around(request: HttpRequest, day: str) -> HttpResponse:
    """Show the evening before a day and the morning of it."""
    date = day_or_none(day)
    if date is None:
        return redirect("yard:today")
    folder, catalogue = folder_of_desk(), load_catalogue()
    news = known_news(folder, date)
    early = _early(date, evening_before(day_problem(folder, date, catalogue, suits={}, news=news), catalogue))
    context = {
        "date": date,
        "before": date - dt.timedelta(days=1),
        "after": date + dt.timedelta(days=1),
        "depot": folder.depot,
        "is_past": date < clock.now().date(),
        "early": early,
        "minutes": sum(one.task.minutes for one in early if not one.done),
        "turns": straight_out_again(folder, date, catalogue, news),
        "standing": standing(folder, date),
    }
    return render(request, "yard/around.html", context)


def _early(date: dt.date, found: tuple[EarlyTask, ...]) -> list[Early]:
    row = held(date)
    planned = read_held(row).problem.task_by_id if row else {}
    done = {mark.task for mark in marks_of(date) if mark.kind == WorkMark.Kind.DONE}
    return [Early(task, uuid.uuid4(), task.task in planned, task.task in done) for task in found]
