"""The cast of the desk tests: a depot as imported, one person of each role, and a stranger who is not logged in."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from django.test import Client

from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook_desk.hires.models import HireRow
from keyhook_desk.people.models import Role, User
from keyhook_desk.yard.services import take_in_folder

DEMO = Path(__file__).resolve().parents[2] / "demo"
PASSWORD = "kettle-on-the-hob"


@pytest.fixture(scope="session")
def folder():
    return read_depot(read_folder(DEMO), load_catalogue())


@pytest.fixture
def depot(db, folder):
    """The demo depot in the rows."""
    take_in_folder(actor=None, folder=folder)
    return folder


def _person(username: str, role: Role) -> User:
    return User.objects.create_user(username, password=PASSWORD, role=role, first_name=username.capitalize())


@pytest.fixture
def own(depot):
    """Somebody on the desk: the person most tests are about."""
    return _person("fenwick", Role.DESK)


@pytest.fixture
def colleague(depot):
    """Another one on the desk, at the next screen."""
    return _person("orla", Role.DESK)


@pytest.fixture
def yardhand(depot):
    return _person("tam", Role.YARD)


@pytest.fixture
def technician(depot):
    return _person("bex", Role.TECHNICIAN)


@pytest.fixture
def manager(depot):
    return _person("ines", Role.MANAGER)


def _browser_of(person: User | None) -> Client:
    """A browser in which this person is logged in; nobody for None."""
    client = Client()
    if person is not None:
        client.force_login(person)
    return client


@pytest.fixture
def browser_of():
    return _browser_of


@pytest.fixture
def desk(own):
    return _browser_of(own)


@pytest.fixture
def stranger():
    return _browser_of(None)


@pytest.fixture
def h25(depot):
    return HireRow.objects.get(name="H25")


@pytest.fixture
def typed():
    """What the page of a hire would send back unchanged."""
    from keyhook_desk.hires.hire_form import form_of  # noqa: PLC0415  # after Django is set up
    from keyhook_desk.hires.services import hire_of  # noqa: PLC0415

    def fields(row: HireRow, **changes: str) -> dict[str, object]:
        form = form_of(hire_of(row))
        return {**form.values, **form.multi, "version": str(row.version), **changes}

    return fields


_FRIDAY: dict[str, object] = {}


@pytest.fixture
def friday(own):
    """The changeover Friday planned and kept by the desk; searched for once, checked again by every acceptance."""
    from keyhook_desk.yard import plan_runs, plan_services  # noqa: PLC0415  # after Django is set up
    from keyhook_desk.yard.models import Proposal  # noqa: PLC0415

    proposal = plan_services.lay_out(day=dt.date(2026, 7, 10), by=own)
    if _FRIDAY:
        Proposal.objects.filter(pk=proposal.pk).update(state="ready", **_FRIDAY)
    else:
        plan_runs.work(proposal.pk, steps=4000, beats=False)
        proposal.refresh_from_db()
        assert proposal.state == "ready", proposal.said
        _FRIDAY.update(document=proposal.document, best=proposal.best, bound=proposal.bound)
    return plan_services.accept(proposal_id=proposal.pk, seen_version=0, by=own)
