"""Looking never writes, costs a fixed number of queries, and answers the same on every page."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.services import add_hire, hire_of
from keyhook_desk.web.models import HistoryLine

#: Most queries a page may cost (two of them read session and person), whatever the number of rows.
PAGES = {
    "/day/2026-07-10/": 8,
    "/day/2026-07-10/plan/": 8,
    "/day/2026-07-10/around/": 12,
    "/hires/": 6,
    "/hires/?q=bunkworthy+h2&show=booked": 6,
    "/hires/H01/": 9,
    "/hires/H25/": 9,
    "/hires/new/": 6,
    "/hires/H01/swap/": 6,
    "/hires/import/": 2,
    "/vehicles/": 6,
    "/vehicles/W4-02/": 5,
    "/vehicles/W4-02/?show=7": 5,
    "/people/": 3,
    "/hires/H01/tour/": 7,
    "/hires/H01/tour/autocue.txt": 6,
    "/hires/H01/walk/": 7,
    "/hires/H01/walk/state/": 6,
    "/hires/H01/walk/again/": 6,
    "/papers/H01/loading/": 6,
    "/papers/H01/cab-card/": 6,
    "/hires/H01/pack/": 7,
    "/vehicles/W4-02/stickers.pdf": 4,
    "/vehicles/W4-02/photos/": 4,
    "/languages/": 4,
}
READS = ("SELECT", "BEGIN", "PRAGMA", "SAVEPOINT", "RELEASE")


def queries_of(browser, address):
    with CaptureQueriesContext(
        connection,
    ) as seen:
        response = browser.get(address)
    assert response.status_code == 200, address
    return [query["sql"] for query in seen]


@pytest.fixture
def watched(browser_of, manager):
    return browser_of(manager)


@pytest.mark.parametrize("address", PAGES)
def test_a_page_writes_nothing_and_stays_within_its_queries(watched, address):
    lines = HistoryLine.objects.count()
    done = queries_of(watched, address)
    assert [sql for sql in done if not sql.lstrip().upper().startswith(READS)] == []
    assert len(done) <= PAGES[address], done
    assert HistoryLine.objects.count() == lines


def test_working_a_hire_out_without_saving_writes_nothing(desk, h25, typed):
    with CaptureQueriesContext(connection) as seen:
        response = desk.post("/hires/H25/", typed(h25, fresh_l="5", **{"try": "yes"}))
    assert response.status_code == 200
    assert [q["sql"] for q in seen if not q["sql"].lstrip().upper().startswith(READS)] == []
    h25.refresh_from_db()
    assert h25.version == 1


def test_ten_times_the_hires_cost_no_more_queries(watched, manager, folder):
    before = {address: len(queries_of(watched, address)) for address in ("/day/2026-07-10/", "/hires/", "/vehicles/")}
    hire = hire_of(HireRow.objects.get(name="H01"))
    for n in range(30):
        moved = hire.model_copy(
            update={
                "vehicle": None,
                "collect_at": dt.datetime(2026, 7, 10, 13, n, tzinfo=dt.UTC),
                "return_at": dt.datetime(2026, 7, 20, tzinfo=dt.UTC),
                "status": "booked",
            }
        )
        add_hire(actor=manager, hire=moved)
    for address, count in before.items():  # answers worked out once are not fetched again, so it may be fewer
        assert len(queries_of(watched, address)) <= count, address
