"""The hirer's pack on the command line: what stands on their phone, and the messages that go with it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from keyhook.catalogue import load_catalogue
from keyhook.cli.options import depot_at, depot_option, said_plainly
from keyhook.cli.render import as_json
from keyhook.dossier import hire_pack
from keyhook.errors import BadInput
from keyhook.pack import Pack, timed_messages
from keyhook.pack.leaving import Cost
from keyhook.pack.messages import Sender
from keyhook.phrases import LANGUAGES, say


@click.command()
@click.argument("hire")
@click.option(
    "--language", type=click.Choice(sorted(LANGUAGES)), default="en", show_default=True, help="As the hirer reads it."
)
@click.option("--messages", is_flag=True, help="Print the timed messages instead.")
@click.option("--json", "json_out", is_flag=True, help="Print one JSON document.")
@depot_option
@said_plainly
def pack(hire: str, language: str, folder: Path, *, messages: bool, json_out: bool) -> None:
    """Print the pack of HIRE: emergencies, cards of the fittings, what may stop, what to leave as found."""
    depot = depot_at(folder)
    found = depot.hire(hire)
    if found.vehicle is None:
        raise BadInput("This hire has no vehicle yet, and a pack is of one vehicle", seen=hire, todo="Choose one first")
    sheet, vehicle = depot.built(found.vehicle), depot.vehicle(found.vehicle)
    own = depot.depot.words.get(language)
    held = hire_pack(sheet, found, load_catalogue(), depot.tariff, quirks=vehicle.quirks, language=language, own=own)
    if messages:
        sender = Sender(depot.depot.name, depot.depot.phone, vehicle.id, "https://desk.example/pack/LINK/")
        sent = timed_messages(held, found, sender)
        click.echo(as_json(sent) if json_out else "\n\n".join(f"{one.at:%Y-%m-%d %H:%M}\n{one.text}" for one in sent))
    else:
        click.echo(as_json({"hire": hire, "vehicle": vehicle.id, "pack": held}) if json_out else pack_text(held))


def pack_text(held: Pack) -> str:
    """Return a pack as text, in its language."""
    return "\n".join(_lines(held))


def _lines(held: Pack) -> Iterator[str]:
    def said(key: str) -> str:
        return say(f"pack.{key}", language=held.language)

    if held.unchecked:
        yield said("language.unchecked")
    yield said("emergency.title")
    for one in held.emergencies:
        yield f"  {one.says}\n    {one.first}\n    {said('emergency.then')} {one.stop}"
    for number, _, text in held.quirks:
        yield f"{said('how.quirks')}: {number or ''} {text}"
    yield f"\n{said('how.title')}"
    for card in held.cards:
        yield f"{card.find_it:>3}  {card.name}: {card.where}"
        yield from (f"     {'!' if point.must else '-'} {point.text}" for point in card.points)
    yield f"\n{said('stopped.title')}"
    yield from (f"{one.find_it:>3}  {one.says}" for one in held.troubles)
    yield f"\n{said('leave.title')}"
    yield from (f"  - {said(f'leave.{key}')}" for key in held.leaving.checklist)
    yield from (f"  {cost.name}: {_span(cost)}" for cost in held.leaving.costs)


def _span(cost: Cost) -> str:
    return " - ".join(dict.fromkeys(str(amount) for amount in (cost.low, cost.high) if amount is not None)) or "?"
