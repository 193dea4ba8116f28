"""Minutes of a local day and what the wall clock says: the day the clocks change (tz database, 2026)."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from keyhook.turnaround.clock import Clock

BERLIN, LONDON = "Europe/Berlin", "Europe/London"
SPRING, AUTUMN = dt.date(2026, 3, 29), dt.date(2026, 10, 25)


def test_in_autumn_half_past_two_comes_twice_and_each_says_which_it_is():
    clock = Clock(AUTUMN, BERLIN)
    first = dt.datetime(2026, 10, 25, 2, 30, tzinfo=ZoneInfo(BERLIN), fold=0)
    second = first.replace(fold=1)
    assert (clock.minute(first), clock.minute(second)) == (150, 210)
    assert clock.says(150) == "02:30 CEST"
    assert clock.says(210) == "02:30 CET"
    assert clock.moment(150) == first
    assert clock.moment(210).utcoffset() == second.utcoffset()


@pytest.mark.parametrize(("minute", "says"), [(119, "01:59"), (120, "03:00"), (8 * 60, "09:00")])
def test_in_spring_the_hour_that_is_left_out_is_never_said(minute, says):
    assert Clock(SPRING, BERLIN).says(minute) == says


@pytest.mark.parametrize(("day", "hours"), [(SPRING, 23), (AUTUMN, 25), (dt.date(2026, 7, 10), 24)])
def test_every_minute_of_the_day_is_itself_again(day, hours):
    clock = Clock(day, LONDON)
    minutes = range(hours * 60)
    assert [clock.minute(clock.moment(minute)) for minute in minutes] == list(minutes)
    assert clock.holds(clock.moment(hours * 60 - 1))
    assert not clock.holds(clock.moment(hours * 60))
    assert len({clock.says(minute) for minute in minutes}) == hours * 60


def test_a_shift_begins_when_the_wall_clock_says_so_whatever_the_clocks_did_in_the_night():
    for day in (SPRING, AUTUMN):
        clock = Clock(day, LONDON)
        assert clock.says(clock.at(dt.time(8))) == "08:00"
