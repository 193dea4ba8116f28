"""Searching for a plan beside the requests: one process for each search, its progress written to the proposal.

A request never waits for a search. The process writes what it has found while it goes on, and a beat; when it is
ended, the beat stops and the desk says so. Whatever happens, the plan that people hold stays as it is.
"""

from __future__ import annotations

import logging
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection, transaction

from keyhook.errors import KeyhookError
from keyhook.turnaround.documents import event_of
from keyhook.turnaround.events import Event
from keyhook_desk import clock
from keyhook_desk.yard.models import HeldPlan, Proposal
from keyhook_desk.yard.plan_reading import has_stopped, read
from keyhook_desk.yard.plan_search import Best, chances_figures, day_to_plan, search

__all__ = ["has_stopped"]
log = logging.getLogger(__name__)
BEAT_S = 2.0
SOURCE = Path(__file__).resolve().parents[2]


def start(proposal_id: int) -> None:
    """Start the search for a proposal in a process of its own."""
    _start("planning", str(proposal_id))


def start_chances(held_id: int, version: int) -> None:
    """Start working out the chances of a held plan."""
    _start("planning", str(held_id), "--chances", str(version))


def _start(*arguments: str) -> None:
    if not settings.PLAN_IN_A_PROCESS:
        return
    path = os.pathsep.join(filter(None, (str(SOURCE), os.environ.get("PYTHONPATH", ""))))
    subprocess.Popen(  # noqa: S603  # our own command with a number
        [sys.executable, "-m", "keyhook_desk", *arguments],
        env={**os.environ, "PYTHONPATH": path},
        stdin=subprocess.DEVNULL,
        start_new_session=True,
    )


def events_from(documents: Iterable[Mapping[str, Any]]) -> list[Event]:
    """Return what happened from its documents."""
    return [event_of(document) for document in documents]


class _Answered(Exception):
    """Somebody has answered the proposal, so nobody waits for the search."""


def work(proposal_id: int, *, steps: int | None = None, beats: bool = True) -> None:
    """Search for the plan of a proposal and write what is found; errors a person should read are written too."""
    mine = Proposal.objects.filter(pk=proposal_id, answer="")
    if not mine.filter(state=Proposal.State.QUEUED).update(state=Proposal.State.RUNNING, beat_at=clock.running()):
        return
    stop = _beat(proposal_id) if beats else (lambda: None)
    try:
        _search(mine, settings.PLAN_STEPS if steps is None else steps)
    except _Answered:
        pass
    except KeyhookError as error:
        mine.update(state=Proposal.State.FAILED, said=str(error)[:500])
    except Exception:
        log.exception("search for proposal %s", proposal_id)
        mine.update(state=Proposal.State.FAILED, said="The search broke off. The plan people hold stays. Plan again.")
    finally:
        stop()


def _search(mine: Any, steps: int | None) -> None:
    row = mine.first()
    if row is None:
        raise _Answered
    began = time.monotonic()
    held = HeldPlan.objects.filter(day=row.day).first()
    day = day_to_plan(row, held)

    def keep(best: Best, state: Proposal.State) -> None:
        document = {
            "problem": day.document,
            "plan": best.plan,
            "figures": best.figures,
            "pins": best.pins,
            "others": list(best.others),
            "news": row.task.get("news", []),
            "events": [*(held.document.get("events", []) if held else []), *row.events],
        }
        spent = time.monotonic() - began
        found = {"document": document, "best": best.lateness, "bound": best.bound, "seconds": spent, "said": best.says}
        if not mine.update(state=state, beat_at=clock.running(), **found):
            raise _Answered

    seconds = settings.PLAN_SECONDS
    last = search(day, seconds=seconds, steps=steps, report=lambda best: keep(best, Proposal.State.RUNNING))
    keep(last, Proposal.State.READY)


def work_chances(held_id: int, version: int) -> None:
    """Work out the chances of a held plan, unless it has been changed since."""
    row = HeldPlan.objects.filter(pk=held_id, version=version).first()
    if row is None:
        return
    figures = chances_figures(read(row.document))
    with transaction.atomic():
        now = HeldPlan.objects.select_for_update().filter(pk=held_id, version=version).first()
        if now is not None:
            now.document = {**now.document, "figures": {**now.document["figures"], **figures}}
            now.save(update_fields=["document"])


def _beat(proposal_id: int) -> Callable[[], None]:
    """Say every few seconds that the search goes on; return what ends the saying."""
    over, began = threading.Event(), time.monotonic()

    def beat() -> None:
        while not over.wait(BEAT_S):
            spent = time.monotonic() - began
            Proposal.objects.filter(pk=proposal_id).update(beat_at=clock.running(), seconds=spent)
        connection.close()

    thread = threading.Thread(target=beat, daemon=True)
    thread.start()

    def stop() -> None:
        over.set()
        thread.join(timeout=5)

    return stop
