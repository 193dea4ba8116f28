"""What comes back and what is said on the phone."""

from __future__ import annotations

import datetime as dt

import pytest
from pydantic import ValidationError

from keyhook.hire.news import Call, NewMark, ReturnNews

SOUND = {
    "at": "2026-07-10T09:40:00+01:00",
    "driven_km": 636,
    "fuel_eighths": 8,
    "cassette": "Full",
    "grey": "Half",
    "inside": "Sand",
}


def test_news_carries_marks_and_missing_pieces_one_by_one():
    news = ReturnNews.model_validate({**SOUND, "missing": ["mug", "mug", "glass"]})
    assert news.missing.count("mug") == 2
    assert news.at == dt.datetime(2026, 7, 10, 8, 40, tzinfo=dt.UTC)


@pytest.mark.parametrize("change", [{"at": "2026-07-10T09:40:00"}, {"fuel_eighths": 9}, {"driven_km": -1}, {"fuel": 8}])
def test_news_that_cannot_be_is_refused(change):
    with pytest.raises(ValidationError):
        ReturnNews.model_validate({**SOUND, **change})


def test_a_call_needs_its_offset():
    with pytest.raises(ValidationError, match="UTC offset"):
        Call(at=dt.datetime.fromisoformat("2026-07-09T22:05:00"), says="it is dark")


def test_a_mark_without_a_photo_says_so_by_default():
    assert NewMark(place="door", what="scratch", age_months=3, charge="panel_damage").photo_out is False
