"""One process of a race: tells it is ready, waits for the start, tries to save one hire, says how it went.

Usage: racer.py DATABASE VEHICLE DAY ONCE
"""

from __future__ import annotations

import datetime as dt
import os
import sys

os.environ["DJANGO_SETTINGS_MODULE"] = "keyhook_desk.settings_test"

import django
from django.conf import settings

settings.DATABASES["default"]["NAME"] = sys.argv[1]
django.setup()

from keyhook.errors import KeyhookError  # noqa: E402
from keyhook.hire.hire import Hire, Person  # noqa: E402
from keyhook_desk.hires.services import add_hire  # noqa: E402
from keyhook_desk.people.models import User  # noqa: E402


def main() -> None:
    vehicle, day = sys.argv[2] or None, dt.date.fromisoformat(sys.argv[3])
    start = dt.datetime.combine(day, dt.time(14), tzinfo=dt.UTC)
    end = start + dt.timedelta(days=6)
    hire = Hire(
        id="new", lead="Racer", vehicle=vehicle, status="booked", collect_at=start, return_at=end,
        party=(Person(age_years=40),),
    )  # fmt: skip
    actor = User.objects.get(username="racing")
    print("ready", flush=True)
    sys.stdin.readline()
    try:
        print("wrote", add_hire(actor=actor, hire=hire, once=sys.argv[4]).name)
    except KeyhookError as error:
        print("refused", error)


main()
