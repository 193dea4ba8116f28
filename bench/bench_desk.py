"""The Day page with 40 vehicles and five years of hires, as a ratio to a bare list page of the same server.

Both pages go through the same middleware, login and base template, in the same process and run, on SQLite.
The bare page lists as many hires as the Day page shows, one ORM query, one template loop.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))
_HOME = tempfile.TemporaryDirectory(prefix="keyhook-bench-")
os.environ.update(
    KEYHOOK_HOME=_HOME.name,
    KEYHOOK_INSECURE="1",
    KEYHOOK_NOW="2026-07-10T08:00:00+01:00",
    DJANGO_SETTINGS_MODULE="keyhook_desk.settings",
)

import django  # noqa: E402

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.http import HttpRequest, HttpResponse  # noqa: E402
from django.template import Engine, RequestContext, Template  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402
from django.urls import path  # noqa: E402

from keyhook.catalogue import load_catalogue  # noqa: E402
from keyhook.cli.commands import DEMO  # noqa: E402
from keyhook.depot.disk import read_folder  # noqa: E402
from keyhook.depot.reading import read_depot  # noqa: E402
from keyhook_desk import urls  # noqa: E402
from keyhook_desk.fleet.models import VehicleRow  # noqa: E402
from keyhook_desk.hires.models import HireRow  # noqa: E402
from keyhook_desk.people.models import Role  # noqa: E402
from keyhook_desk.people.services import add_person  # noqa: E402
from keyhook_desk.yard.services import take_in_folder  # noqa: E402

VEHICLES, YEARS, NIGHTS = 40, 5, 8
AIM = 3.0
BARE = """{% extends "web/base.html" %}{% block main %}<ul>{% for row in rows %}<li>{{ row.name }} {{ row.lead }}
{{ row.vehicle.name }} {{ row.collect_at }} {{ row.return_at }}</li>{% endfor %}</ul>{% endblock %}"""


def bare(request: HttpRequest) -> HttpResponse:
    """List hires, nothing more."""
    rows = HireRow.objects.select_related("vehicle").order_by("-collect_at")[:19]
    return HttpResponse(Template(BARE, engine=Engine.get_default()).render(RequestContext(request, {"rows": rows})))


def fill() -> int:
    """Write 40 vehicles and five years of hires beside the demo's; return how many hires there are."""
    call_command("migrate", verbosity=0)
    call_command("collectstatic", verbosity=0, interactive=False)
    take_in_folder(actor=None, folder=read_depot(read_folder(DEMO), load_catalogue()))
    add_person(actor=None, username="bench", full_name="Bench", role=Role.MANAGER, password="key-on-its-hook")
    patterns = list(VehicleRow.objects.select_related("sheet"))
    for number in range(VEHICLES - len(patterns)):
        like = patterns[number % len(patterns)]
        name = f"X-{number:02d}"
        vehicle = VehicleRow(name=name, sheet=like.sheet, plate=name)
        vehicle.put({**like.document, "id": name})
        vehicle.save()
    demo = list(HireRow.objects.filter(name__in=["H10", "H12", "H13", "H16", "H18"]))
    rows, counter = [], 0
    for v, vehicle in enumerate(VehicleRow.objects.filter(name__startswith="X-")):
        start = dt.datetime(2021, 7, 1 + v % 8, 14, tzinfo=dt.UTC)
        while start.year < 2021 + YEARS + 1:
            end = start + dt.timedelta(days=NIGHTS - 1, hours=20)
            like = demo[counter % len(demo)]
            counter += 1
            rows.append(
                HireRow(name=f"B{counter:05d}", lead=like.lead, search=like.search, vehicle=vehicle, status="closed",
                        collect_at=start, return_at=end, document=like.document, digest=like.digest)
            )  # fmt: skip
            start += dt.timedelta(days=NIGHTS)
    HireRow.objects.bulk_create(rows, batch_size=500)
    return HireRow.objects.count()


def timed(client: Client, address: str, rounds: int) -> float:
    """Return the median milliseconds of a page."""
    spans = []
    for _ in range(rounds):
        started = time.perf_counter()
        response = client.get(address, headers={"host": "localhost"})
        spans.append(1000 * (time.perf_counter() - started))
        assert response.status_code == 200, response.status_code
    return statistics.median(spans)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--full", action="store_true")
    given = parser.parse_args()
    hires = fill()
    urls.urlpatterns.append(path("bare/", bare))
    client = Client()
    client.login(username="bench", password="key-on-its-hook")
    day = "/day/2026-07-10/"
    cold = timed(client, day, 1)
    page = client.get(day, headers={"host": "localhost"}).content.decode()
    assert page.count('class="tag"') >= 10, "the Day page shows its vehicles"
    timed(client, "/bare/", 3)
    rounds = 60 if given.full else 25
    bare_ms, day_ms = timed(client, "/bare/", rounds), timed(client, day, rounds)
    with CaptureQueriesContext(connection) as queries:
        client.get(day, headers={"host": "localhost"})
    found = {
        "hires": hires,
        "vehicles": VehicleRow.objects.count(),
        "day_cold_ms": round(cold, 1),
        "day_ms": round(day_ms, 1),
        "bare_ms": round(bare_ms, 1),
        "ratio": round(day_ms / bare_ms, 2),
        "aim": AIM,
        "queries": len(queries),
    }
    print(json.dumps(found) if given.json else "\n".join(f"{key:12} {value}" for key, value in found.items()))


if __name__ == "__main__":
    main()
