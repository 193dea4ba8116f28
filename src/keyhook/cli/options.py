"""What commands share: the depot folder, ``--json`` and ``--why``, and errors said plainly."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Any

import click

import keyhook
from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder
from keyhook.depot.folder import DepotFolder
from keyhook.depot.reading import read_depot
from keyhook.errors import KeyhookError

#: The demo depot beside the source; where there is none, ``--depot`` has to be given.
DEMO = Path(keyhook.__file__).resolve().parents[2] / "demo"


def said_plainly(command: Callable[..., Any]) -> Callable[..., Any]:
    """Turn an error of the family into its sentence and exit code 2."""

    @wraps(command)
    def wrapped(*args: Any, **kwargs: Any) -> Any:
        try:
            return command(*args, **kwargs)
        except KeyhookError as error:
            click.echo(str(error), err=True)
            raise SystemExit(2) from error

    return wrapped


def depot_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add ``--depot FOLDER``."""
    kind = click.Path(path_type=Path, file_okay=False)
    told = "Depot folder; the demo depot without it."
    return click.option("--depot", "folder", type=kind, default=DEMO, help=told)(command)


def answer_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add ``--json`` and ``--why``."""
    command = click.option("--json", "json_out", is_flag=True, help="Print one JSON document.")(command)
    return click.option("--why", is_flag=True, help="Print why each figure is what it is.")(command)


def depot_at(path: Path) -> DepotFolder:
    """Return the depot folder of a command."""
    return read_depot(read_folder(path), load_catalogue())
