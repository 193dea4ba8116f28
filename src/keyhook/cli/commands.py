"""The calculators as commands: each reads a depot folder and answers one question; ``--why`` says more."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Literal

import click

from keyhook.basis import Level
from keyhook.catalogue import json_schemas, load_catalogue
from keyhook.cli.day_commands import day
from keyhook.cli.language_commands import texts
from keyhook.cli.options import DEMO, answer_options, depot_at, depot_option, said_plainly
from keyhook.cli.pack_commands import pack
from keyhook.cli.render import as_json, because_lines, figures_text, finding_lines, number
from keyhook.cli.tour_commands import tour, tour_check
from keyhook.depot.folder import DepotFolder
from keyhook.depot.schema import KINDS, json_schema
from keyhook.dossier import hire_loading, hire_swaps
from keyhook.drawing import elevation_drawing, plan_drawing
from keyhook.errors import BrokenFolder, KeyhookError
from keyhook.loading.packing import steps
from keyhook.phrases import say


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
def calculators() -> None:
    """Keyhook: answers for a motorhome hire depot."""


calculators.add_command(day)
calculators.add_command(tour)
calculators.add_command(tour_check)
calculators.add_command(texts)
calculators.add_command(pack)


@calculators.command()
@click.argument("hire")
@click.option("--vehicle", help="Answer for this vehicle instead of the hire's own.")
@click.option("--swap", is_flag=True, help="Work through every vehicle of the yard.")
@depot_option
@answer_options
@said_plainly
def loading(hire: str, vehicle: str | None, folder: Path, *, swap: bool, json_out: bool, why: bool) -> None:
    """Tell whether the vehicle carries the party: axles, seats, beds, licence, tyres, rack, the least change."""
    depot = depot_at(folder)
    if swap:
        _print_swaps(depot, hire, json_out=json_out, why=why)
        return
    found = hire_loading(depot, hire, load_catalogue(), vehicle=vehicle)
    if json_out:
        click.echo(as_json({"hire": hire, "vehicle": found.vehicle, "answer": found.answer, "change": found.change}))
        return
    answer = found.answer
    click.echo(f"{hire} {found.hire.lead} in {found.vehicle}: {say(f'loading.verdict.{answer.overall}')}")
    click.echo(f"tightest while {say(f'loading.state.{answer.worst.state.key}')}")
    click.echo("\n".join(figures_text(answer.figures, why=why)))
    click.echo("\n".join(finding_lines(answer.findings)))
    if found.change is not None:
        click.echo("The least change that makes it legal:")
        click.echo("\n".join(f"  {say(step.code, step.values)}" for step in steps(found.change, found.sheet, answer)))
    if why:
        _print_why_seats(answer)


def _print_why_seats(answer: Any) -> None:
    click.echo("Why the seats:")
    click.echo("\n".join(because_lines(answer.seating.because)))
    for line in answer.drivers:
        click.echo(f"Why {line.label} {line.answer.may}:")
        click.echo("\n".join(because_lines(line.answer.because)))


def _print_swaps(depot: DepotFolder, hire: str, *, json_out: bool, why: bool) -> None:
    lines = hire_swaps(depot, hire, load_catalogue())
    if json_out:
        click.echo(as_json(lines))
        return
    for line in lines:
        worst, verdict = line.answer.worst, say(f"loading.verdict.{line.answer.overall}")
        click.echo(f"{line.vehicle:8} {verdict:16} {worst.least_margin_kg:6.0f} kg to spare, {line.stops} to settle")
        stops = [f for f in line.answer.findings if f.level is Level.STOP]
        for stop in stops:
            click.echo(f"           {say(stop.code, stop.values)}")
        if why:
            click.echo("\n".join(figures_text(line.answer.figures, why=True)))


@calculators.command()
@click.argument("folder", type=click.Path(path_type=Path), default=DEMO)
@click.option("--json", "json_out", is_flag=True, help="Print one JSON document.")
def check(folder: Path, *, json_out: bool) -> None:
    """Read a depot folder and name every problem: file, line, field, value, what to do."""
    try:
        found = depot_at(folder)
    except BrokenFolder as error:
        click.echo(as_json(error.problems) if json_out else str(error), err=not json_out)
        raise SystemExit(2) from error
    except KeyhookError as error:
        click.echo(str(error), err=True)
        raise SystemExit(2) from error
    counts = {"sheets": len(found.sheets), "vehicles": len(found.vehicles), "hires": len(found.hires)}
    said = ", ".join(f"{count} {what}" for what, count in counts.items())
    click.echo(as_json(counts) if json_out else f"{found.depot.name}: {said}. No problem found.")


@calculators.command()
@click.argument("kind", type=click.Choice(sorted({*KINDS, *json_schemas()})))
def schema(kind: str) -> None:
    """Print the JSON Schema of a record that people write, or of the catalogue."""
    found = json_schema(kind) if kind in KINDS else json_schemas()[kind]
    click.echo(json.dumps(found, indent=2, ensure_ascii=False))


@calculators.command()
@click.argument("vehicle")
@click.option("--side", type=click.Choice(["plan", "nearside", "offside"]), default="plan", help="Which drawing.")
@click.option("--show", type=int, multiple=True, help="Find-it number to show filled; may be repeated.")
@depot_option
@said_plainly
def draw(vehicle: str, side: str, show: tuple[int, ...], folder: Path) -> None:
    """Print the drawing of a vehicle as SVG, to scale, standing alone."""
    depot, fittings = depot_at(folder), load_catalogue().fittings
    sheet = depot.built(vehicle) if vehicle in depot.vehicles else depot.sheet(vehicle)
    marks = frozenset(show)

    def named(fitting: str) -> str:
        return fittings[fitting].name

    if side == "plan":
        click.echo(plan_drawing(sheet, named, medium="paper", highlight=marks))
        return
    which: Literal["nearside", "offside"] = "nearside" if side == "nearside" else "offside"
    click.echo(elevation_drawing(sheet, which, named, medium="paper", highlight=marks))


@calculators.command()
@click.argument("fitting", required=False)
@click.option("--json", "json_out", is_flag=True, help="Print one JSON document.")
@said_plainly
def fittings(fitting: str | None, *, json_out: bool) -> None:
    """List the fittings of the catalogue, or tell all that is known of one."""
    catalogue = load_catalogue()
    if fitting is None:
        rows = {name: found.name for name, found in catalogue.fittings.items()}
        click.echo(as_json(rows) if json_out else "\n".join(f"{name:22} {said}" for name, said in rows.items()))
        return
    if fitting not in catalogue.fittings:
        raise click.BadParameter(f"No fitting has this id (saw {fitting}). ./keyhook fittings lists them.")
    found = catalogue.fittings[fitting]
    if json_out:
        click.echo(as_json(found))
        return
    click.echo(f"{found.name}\n{found.what}\nWhere: {found.where}  [{found.basis}]")
    for point in found.teach:
        must = " MUST" if point.must else ""
        click.echo(f"  teach{must}: {point.text} ({number(point.duration_s)} s)")
    for symptom in found.symptoms:
        click.echo(f"  '{symptom.says}' {symptom.first}")
