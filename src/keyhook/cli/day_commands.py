"""One day on the command line: who comes and goes, its plan, the plan kept, and the day planned again from it."""

from __future__ import annotations

import datetime as dt
import shlex
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import get_args
from zoneinfo import ZoneInfo

import click

from keyhook.basis import Level
from keyhook.catalogue import load_catalogue
from keyhook.cli.again_text import again_document, again_text, held_text
from keyhook.cli.around_text import evening_text, standing_text, turns_text
from keyhook.cli.held_file import may_be_kept_in, minute_now, read_held, write_held
from keyhook.cli.news_options import News, events_told, news_options
from keyhook.cli.options import answer_options, depot_at, depot_option, said_plainly
from keyhook.cli.plan_text import plan_text
from keyhook.cli.render import MARK, as_json, figures_text
from keyhook.day_again import PROPOSED, first_held, held_day, planned_again
from keyhook.day_plan import PlannedDay, known_news, planned_day
from keyhook.depot.folder import DepotFolder
from keyhook.dossier import DepotDay, depot_day
from keyhook.errors import BadInput
from keyhook.phrases import say
from keyhook.turnaround.anneal import Limits
from keyhook.turnaround.around import evening_before, evening_spares_min, standing, straight_out_again
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.held_plan import HeldPlan
from keyhook.turnaround.tradeoff import ChoiceName


@dataclass(frozen=True)
class _Asked:
    """How a day is to be planned and shown."""

    depot: DepotFolder
    steps: int
    seed: int
    keep: Path | None
    json_out: bool
    why: bool

    @property
    def limits(self) -> Limits:
        """The limits of the search."""
        return Limits(step_count=self.steps)


@click.command()
@click.argument("day", required=False)
@click.option("--plan", is_flag=True, help="Plan the day: who does what when, how surely each promise holds.")
@click.option("--evening", is_flag=True, help="What of the day can be done the evening before.")
@click.option("--keep", type=click.Path(path_type=Path), metavar="FILE", help="Write the plan that is now held.")
@click.option(
    "--held", type=click.Path(path_type=Path), metavar="FILE", help="Show the plan people hold, or plan it again."
)
@click.option("--now", metavar="HH:MM", help="Plan the rest of the held plan's day again from this time.")
@news_options
@click.option(
    "--choose",
    type=click.Choice(get_args(ChoiceName)),
    help=f"Which of the plans to take; {PROPOSED} without it.",
)
@click.option(
    "--steps", type=click.IntRange(min=1), default=60_000, show_default=True, help="How long to look for a better plan."
)
@click.option("--seed", default=0, show_default=True, help="The same seed gives the same plan.")
@depot_option
@answer_options
@said_plainly
def day(  # noqa: PLR0913  # one parameter an option
    day: str | None,
    folder: Path,
    *,
    plan: bool,
    evening: bool,
    keep: Path | None,
    held: Path | None,
    now: str | None,
    news: News,
    choose: ChoiceName | None,
    steps: int,
    seed: int,
    json_out: bool,
    why: bool,
) -> None:
    """Who comes back and who leaves on DAY (like 2026-07-10), and whether each vehicle carries its party.

    --plan plans the day and --keep writes the plan. When the day breaks, --held reads it back: with --now and what
    has happened the rest of the day is planned again, with as little moved as you choose.
    """
    _go_together(plan=plan, evening=evening, keep=keep, held=held, again=bool(now or news or choose))
    asked = _Asked(depot_at(folder), steps, seed, keep, json_out, why)
    date = _date(day) if day else None
    if held is not None:
        known = read_held(held, date)
        if now or news or choose:
            _again(asked, known, now, news, choose or PROPOSED)
        else:
            _show_held(asked, known)
        return
    date = date or busiest_day(asked.depot)
    if evening:
        _evening(asked, date)
    elif plan:
        _plan(asked, date)
    else:
        found = depot_day(asked.depot, date, load_catalogue())
        click.echo(as_json(found) if json_out else day_text(found, asked.depot, why=why))


def _go_together(*, plan: bool, evening: bool, keep: Path | None, held: Path | None, again: bool) -> None:
    """Refuse options that mean nothing together."""
    if again and held is None:
        wrong = "What has happened, --now and --choose are about a plan that people hold"
        raise BadInput(wrong, todo="Name its file with --held; --plan --keep FILE writes one")
    if evening and (held is not None or keep is not None or plan):
        seen = "--plan" if plan else "--keep" if held is None else "--held"
        raise BadInput("--evening is a question of its own", seen=seen, todo="Leave one of them out")
    if keep is not None and not plan and not again:
        raise BadInput("There is no plan to keep", seen=keep, todo="Add --plan, or --held with --now")


def _plan(asked: _Asked, date: dt.date) -> None:
    if asked.keep is not None:
        may_be_kept_in(asked.keep, date)
    found = _planned(asked, date)
    turns = straight_out_again(asked.depot, date, load_catalogue(), known_news(asked.depot, date))
    around = [*turns_text(turns), *standing_text(standing(asked.depot, date) if not found.problem.departures else ())]
    said = "\n".join([plan_text(found, why=asked.why), "", *around]).rstrip()
    click.echo(as_json(found) if asked.json_out else said)
    if asked.keep is not None:
        _keep(asked, asked.keep, first_held(asked.depot, found))


def _planned(asked: _Asked, date: dt.date) -> PlannedDay:
    news = known_news(asked.depot, date)
    return planned_day(asked.depot, date, load_catalogue(), asked.limits, news=news, seed=asked.seed)


def _evening(asked: _Asked, date: dt.date) -> None:
    planned = _planned(asked, date)
    found = evening_before(planned.problem, load_catalogue())
    early = [task.task for task in found]
    spares = evening_spares_min(planned.problem, planned.plan, early, draws=planned.chances.draws, seed=asked.seed)
    click.echo(as_json(found) if asked.json_out else evening_text(found, planned.clock, spares, why=asked.why))


def _show_held(asked: _Asked, known: HeldPlan) -> None:
    found = held_day(asked.depot, known, load_catalogue(), seed=asked.seed)
    click.echo(as_json(found) if asked.json_out else held_text(known, found, why=asked.why))


def _again(asked: _Asked, known: HeldPlan, now: str | None, news: News, choose: ChoiceName) -> None:
    if asked.keep is not None:
        may_be_kept_in(asked.keep, known.clock.day)
    now_min, catalogue = minute_now(known, now), load_catalogue()
    events = events_told(news, known, now_min, asked.depot, catalogue)
    found = planned_again(
        asked.depot,
        known,
        catalogue,
        asked.limits,
        now_min=now_min,
        events=events,
        choose=choose,
        seed=asked.seed,
    )
    click.echo(as_json(again_document(found)) if asked.json_out else again_text(found, why=asked.why))
    if asked.keep is not None:
        _keep(asked, asked.keep, found.to_hold())
    elif not asked.json_out:
        click.echo("\n" + say("day_again.not_kept", {"file": "FILE"}))


def _keep(asked: _Asked, path: Path, held: HeldPlan) -> None:
    """Write a plan and say so; beside a document the word goes to the other stream."""
    write_held(path, held)
    values = {"file": shlex.quote(str(path)), "version": held.version, "day": held.clock.day}
    said = [say("day_again.kept", values)]
    if held.version == 1:
        said.append(say("day_again.kept_how", values))
    click.echo("\n" + "\n".join(said), err=asked.json_out)


def _date(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError as error:
        raise click.BadParameter(f"{text} is not a day. Write it like 2026-07-10.") from error


def busiest_day(depot: DepotFolder) -> dt.date:
    """Return the local day with the most collections and returns; the earliest of equals."""
    zone = ZoneInfo(depot.depot.zone)
    days: Counter[dt.date] = Counter()
    for hire in depot.hires.values():
        days.update({hire.collect_at.astimezone(zone).date(), hire.return_at.astimezone(zone).date()})
    return max(sorted(days), key=lambda date: days[date])


def day_text(found: DepotDay, depot: DepotFolder, *, why: bool = False) -> str:
    """Return the day as text: returns, departures with verdicts, what has to be settled."""
    lines = [f"{depot.depot.name}, {found.day:%A %d %B %Y}", "", f"Back ({len(found.returns)})"]
    clock, rang = Clock(found.day, depot.depot.zone), known_news(depot, found.day).arrivals
    for back in found.returns:
        then = f"out again {back.out_again_at:%H:%M}" if back.out_again_at else "stays in"
        if back.hire.id in rang:
            then += say("day_plan.around.rang", {"at": clock.says(rang[back.hire.id])})
        lines.append(f"  {back.due:%H:%M}  {back.hire.vehicle or '-':7} {back.hire.id} {back.hire.lead:28} {then}")
    lines += ["", f"Out ({len(found.departures)})"]
    for out in found.departures:
        verdict = say(f"loading.verdict.{out.loading.overall}") if out.loading else "no vehicle yet"
        lines.append(f"  {out.due:%H:%M}  {out.hire.vehicle or '-':7} {out.hire.id} {out.hire.lead:28} {verdict}")
        if out.loading:
            stops = [f for f in out.loading.findings if f.level is Level.STOP]
            lines += [f"           {MARK[f.level]}  {say(f.code, f.values)}" for f in stops]
            lines += figures_text(out.loading.figures, why=True) if why else []
    return "\n".join(lines)
