"""Every command of the one script: the calculators, and those that need the desk."""

from __future__ import annotations

import datetime as dt
import io
import os
import socket
import sys
from pathlib import Path

import click

from keyhook.catalogue import load_catalogue
from keyhook.cli.commands import calculators
from keyhook.cli.day_commands import busiest_day, day_text
from keyhook.cli.options import DEMO, said_plainly
from keyhook.depot.disk import read_folder, write_folder
from keyhook.depot.reading import read_depot
from keyhook.depot.writing import write_depot
from keyhook.dossier import depot_day

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "keyhook_desk.settings")

#: People of the demo who may log in: login, name, role. Their password stands in the README and is for the demo alone.
DEMO_PEOPLE = (
    ("mabs", "Mabs Quillfeather", "manager"),
    ("odo", "Odo Crumblewick", "desk"),
    ("hob", "Hob Puddlethwack", "yard"),
    ("juniper", "Juniper Sprocketby", "technician"),
)
DEMO_PASSWORD = "key-on-its-hook"  # noqa: S105  # printed at every start of the demo
DEMO_NOW = "2026-07-10T08:00:00+01:00"


def _setup() -> None:
    import django  # noqa: PLC0415  # the calculators start without it

    django.setup()


def _migrate() -> None:
    from django.core.management import call_command  # noqa: PLC0415
    from django.core.management.base import SystemCheckError  # noqa: PLC0415

    call_command("migrate", verbosity=0, interactive=False)
    try:
        call_command("check", databases=["default"], stdout=io.StringIO())
    except SystemCheckError as error:
        raise click.ClickException(str(error)) from error


def _collect() -> None:
    from django.core.management import call_command  # noqa: PLC0415

    call_command("collectstatic", verbosity=0, interactive=False, clear=False)


def free_port(first: int) -> int:
    """Return the first free port of this machine from ``first`` on."""
    for port in range(first, first + 200):
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
    raise click.ClickException(f"No free port from {first} to {first + 199}. Give one with --port.")


@calculators.command()
@click.option("--port", type=int, help="Port to serve at; the first free one from 8020 without it.")
@click.option("--no-serve", is_flag=True, help="Set up and print the day, then stop.")
@said_plainly
def demo(port: int | None, *, no_serve: bool) -> None:
    """Load the invented depot, print its changeover day, serve the desk. What you enter is kept."""
    os.environ.setdefault("KEYHOOK_INSECURE", "1")
    os.environ.setdefault("KEYHOOK_NOW", DEMO_NOW)
    folder = read_depot(read_folder(DEMO), load_catalogue())
    _setup()
    _migrate()
    from keyhook_desk.yard.services import take_in_folder  # noqa: PLC0415

    taken = take_in_folder(actor=None, folder=folder)
    _demo_people()
    click.echo(day_text(depot_day(folder, busiest_day(folder), load_catalogue()), folder))
    click.echo()
    if taken.hires:
        click.echo(f"Loaded {taken.sheets} build sheets, {taken.vehicles} vehicles, {taken.hires} hires.")
    click.echo(
        f"Log in as {', '.join(f'{login} ({role})' for login, _, role in DEMO_PEOPLE)}; password {DEMO_PASSWORD}"
    )
    if not no_serve:
        _plan_a_day(busiest_day(folder))
        _serve(port or free_port(8020), workers=2)


def _plan_a_day(day: dt.date) -> None:
    """Have a day planned beside the server, so that its board is one tap away; what is there already stays."""
    from keyhook_desk.people.models import User  # noqa: PLC0415
    from keyhook_desk.yard.models import HeldPlan, Proposal  # noqa: PLC0415
    from keyhook_desk.yard.plan_services import lay_out  # noqa: PLC0415

    there = HeldPlan.objects.filter(day=day).exists() or Proposal.objects.filter(day=day).exists()
    by = User.objects.filter(username=DEMO_PEOPLE[0][0]).first()
    if not there and by is not None:
        lay_out(day=day, by=by)


def _demo_people() -> None:
    from keyhook_desk.people.models import Role, User  # noqa: PLC0415
    from keyhook_desk.people.services import add_person  # noqa: PLC0415

    there = set(User.objects.values_list("username", flat=True))
    for login, name, role in DEMO_PEOPLE:
        if login not in there:
            add_person(actor=None, username=login, full_name=name, role=Role(role), password=DEMO_PASSWORD)


@calculators.command()
@click.option("--port", type=int, default=8020, show_default=True, help="Port to serve at.")
@click.option("--workers", type=int, default=2, show_default=True, help="Worker processes.")
@said_plainly
def serve(port: int, workers: int) -> None:
    """Serve the desk with its own data; migrates first. Put a proxy with https before it."""
    _setup()
    _migrate()
    _serve(port, workers)


def _serve(port: int, workers: int) -> None:
    _collect()
    click.echo(f"The desk is at http://localhost:{port}/  (stop with Ctrl+C)")
    sys.stdout.flush()
    arguments = [
        sys.executable, "-m", "granian", "--interface", "wsgi", "--host", "127.0.0.1", "--port", str(port),
        "--workers", str(workers), "--blocking-threads", "4", "--respawn-failed-workers", "--log-level", "warning",
        "keyhook_desk.wsgi:application",
    ]  # fmt: skip
    os.execv(sys.executable, arguments)  # noqa: S606  # the server takes this process's place


@calculators.command()
@said_plainly
def migrate() -> None:
    """Bring the desk's database up to date."""
    _setup()
    _migrate()
    click.echo("The database is up to date.")


@calculators.command("import")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@said_plainly
def take_in(folder: Path) -> None:
    """Take a depot folder into the desk; all of it or nothing. What people edited since is kept."""
    found = read_depot(read_folder(folder), load_catalogue())
    _setup()
    _migrate()
    from keyhook_desk.yard.services import take_in_folder  # noqa: PLC0415

    taken = take_in_folder(actor=None, folder=found)
    click.echo(f"Written: {taken.sheets} build sheets, {taken.vehicles} vehicles, {taken.hires} hires.")


@calculators.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@said_plainly
def export(folder: Path) -> None:
    """Write everything the desk holds as a depot folder of plain text."""
    _setup()
    _migrate()
    from keyhook_desk.yard.services import folder_of_desk  # noqa: PLC0415

    texts = write_depot(folder_of_desk())
    write_folder(folder, texts)
    click.echo(f"{len(texts)} files are in {folder}.")


@calculators.command()
@said_plainly
def audit() -> None:
    """Check the hand-over ledger: every entry hashed anew, the chain followed from the first to the last."""
    _setup()
    _migrate()
    from keyhook_desk.walkround.ledger import trouble_in  # noqa: PLC0415
    from keyhook_desk.walkround.models import HandOverRecord  # noqa: PLC0415

    entries = list(HandOverRecord.objects.select_related("hire"))
    if found := trouble_in(entries):
        raise click.ClickException("\n".join(found))
    last = f" The last one is {entries[-1].entry_hash}: note it elsewhere." if entries else ""
    click.echo(f"The hand-over ledger is whole: {len(entries)} entries.{last}")


@calculators.command()
@click.argument("login")
@click.option("--name", required=True, help="Full name.")
@click.option(
    "--role",
    type=click.Choice(["desk", "yard", "technician", "manager"]),
    default="manager",
    show_default=True,
    help="What they may do.",
)
@click.password_option(help="Password; asked for when not given, which keeps it out of the history of the shell.")
@said_plainly
def person(login: str, name: str, role: str, password: str) -> None:
    """Add somebody who may log in to the desk; the first one on a new desk should be a manager."""
    _setup()
    _migrate()
    from keyhook_desk.people.models import Role  # noqa: PLC0415
    from keyhook_desk.people.services import add_person  # noqa: PLC0415

    add_person(actor=None, username=login, full_name=name, role=Role(role), password=password)
    click.echo(f"{login} may log in as {role}.")


@calculators.command(hidden=True)
@click.argument("number", type=int)
@click.option("--chances", type=int, help="Work out the chances of this version of a held plan.")
def planning(number: int, chances: int | None) -> None:
    """Search for the plan of a proposal (the desk starts this by itself)."""
    _setup()
    from keyhook_desk.yard import plan_runs  # noqa: PLC0415

    if chances is None:
        plan_runs.work(number)
    else:
        plan_runs.work_chances(number, chances)


@calculators.command()
def test() -> None:
    """Run every check of the project (handled by the script itself: ./keyhook test --help)."""
    raise click.ClickException("Run it through the script: ./keyhook test")


@calculators.command()
def bench() -> None:
    """Run the benches (handled by the script itself: ./keyhook bench --help)."""
    raise click.ClickException("Run it through the script: ./keyhook bench")


def main() -> None:
    """Run the command line."""
    calculators(prog_name="keyhook")
