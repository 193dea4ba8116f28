"""The walk with the hirer: ticks written once whoever sends them, two tablets, planning again."""

from __future__ import annotations

import datetime as dt
import html
import json
import re
import tomllib
import uuid
from pathlib import Path

import pytest

import keyhook
from keyhook.catalogue.texts import Book, book_of
from keyhook.errors import BadInput
from keyhook_desk.hires.models import HireRow
from keyhook_desk.pack.models import LanguageTick
from keyhook_desk.walkround.models import Kind, WalkTick
from keyhook_desk.walkround.walk import walk_of

WALK = "/hires/H13/walk/"
NOON = dt.datetime(2026, 7, 10, 12, tzinfo=dt.UTC)


@pytest.fixture
def h13(depot):
    return HireRow.objects.select_related("vehicle__sheet").get(name="H13")


@pytest.fixture
def tablet(browser_of, yardhand):
    return browser_of(yardhand)


@pytest.fixture
def other_tablet(browser_of, colleague):
    return browser_of(colleague)


def tick(browser, point, kind="told", *, at=NOON, uid=None, note="", hire="H13"):
    fields = {"uid": uid or str(uuid.uuid4()), "point": point, "kind": kind, "at": at.isoformat(), "note": note}
    return browser.post(f"/hires/{hire}/walk/tick/", fields)


def test_a_tick_sent_three_times_is_written_once(tablet, yardhand, h13):
    mark = str(uuid.uuid4())
    answers = [tick(tablet, "hu_order", uid=mark) for _ in range(3)]
    assert {(answer.status_code, answer.json()["uid"]) for answer in answers} == {(200, mark)}
    row = WalkTick.objects.get()
    assert (row.point, row.kind, row.by, row.at, row.hire) == ("hu_order", "told", yardhand, NOON, h13)


def test_a_tick_used_for_another_hire_is_refused_in_words(tablet, h13):
    mark = str(uuid.uuid4())
    tick(tablet, "hu_order", uid=mark)
    answer = tick(tablet, "hu_order", uid=mark, hire="H12")
    assert answer.status_code == 422
    assert "belongs to another hire" in answer.json()["said"]
    assert WalkTick.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"kind": "sung"}, "saw sung"),
        ({"point": "Robert'); DROP"}, "saw Robert'); DROP"),
        ({"at": "noon"}, "saw noon"),
        ({"at": "2026-07-10T12:00:00"}, "saw 2026-07-10T12:00:00"),
        ({"uid": "1"}, "saw 1"),
        ({"kind": "note", "note": "  "}, "A note has no words"),
        ({"note": "x" * 501}, "saw 501 letters"),
    ],
)
def test_what_a_tablet_cannot_have_meant_is_refused_with_what_was_seen(tablet, h13, changes, said):
    whole = {"uid": str(uuid.uuid4()), "point": "hu_order", "kind": "told", "at": NOON.isoformat()}
    answer = tablet.post(f"{WALK}tick/", whole | changes)
    assert answer.status_code == 422
    assert said in answer.json()["said"]
    assert not WalkTick.objects.exists()


def test_two_tablets_on_one_tour_are_put_together_and_each_sees_the_other(tablet, other_tablet, h13):
    tick(tablet, "hu_order", at=NOON)
    tick(other_tablet, "gl_smell", "hirer_did", at=NOON + dt.timedelta(minutes=1))
    for browser in (tablet, other_tablet):
        told = {one["point"]: (one["kind"], one["by"]) for one in browser.get(f"{WALK}state/").json()["ticks"]}
        assert told == {"hu_order": ("told", "Tam"), "gl_smell": ("hirer_did", "Orla")}


def test_of_two_ticks_for_one_point_the_later_counts_however_they_arrive(tablet, other_tablet, h13):
    later, earlier = NOON + dt.timedelta(minutes=2), NOON
    tick(tablet, "hu_order", "hirer_did", at=later)
    tick(other_tablet, "hu_order", "skipped", at=earlier)
    assert walk_of(WalkTick.objects.all()).points["hu_order"].kind == "hirer_did"


def test_a_tick_taken_back_leaves_the_point_open_and_both_lines_stand(tablet, h13):
    tick(tablet, "hu_order", at=NOON)
    tick(tablet, "hu_order", "open", at=NOON + dt.timedelta(seconds=5))
    assert "hu_order" not in walk_of(WalkTick.objects.all()).points
    assert WalkTick.objects.count() == 2


def test_the_first_start_counts_and_notes_are_kept_by_point(tablet, other_tablet, h13):
    tick(tablet, "", "started", at=NOON + dt.timedelta(seconds=30))
    tick(other_tablet, "", "started", at=NOON)
    tick(tablet, "hu_order", "note", note="adapter was missing")
    walk = walk_of(WalkTick.objects.all())
    assert walk.started_at == NOON
    assert walk.notes == {"hu_order": ("adapter was missing",)}


def test_a_line_of_the_walk_is_never_changed_or_taken_out(tablet, h13):
    tick(tablet, "hu_order")
    row = WalkTick.objects.get()
    row.kind = Kind.SKIPPED
    with pytest.raises(BadInput, match="stays as it is"):
        row.save()
    with pytest.raises(BadInput, match="stays"):
        row.delete()
    row.refresh_from_db()
    assert row.kind == "told"


def test_the_page_shows_what_is_ticked_and_holds_every_point_that_may_come_in(tablet, h13):
    tick(tablet, "hu_order", "hirer_did")
    text = tablet.get(WALK).content.decode()
    card = text[text.index('id="p-hu_order"') :]
    assert 'data-kind="hirer_did"' in card[: card.index(">")]
    ids = re.findall(r'id="p-([a-z0-9_]+)"', text)
    assert len(ids) == len(set(ids))
    stops = text[text.index('id="stops"') : text.index('id="spare"')]
    assert len(re.findall(r'id="p-', stops)) < len(ids)


def test_the_rest_is_planned_again_from_where_they_stand(tablet, h13):
    page = tablet.get(WALK).content.decode()
    stops = page[page.index('id="stops"') : page.index('id="spare"')]
    planned = re.findall(r'id="p-([a-z0-9_]+)"', stops)
    done, skipped = planned[:4], planned[4:6]
    query = {"elapsed_s": "600", "paused_s": "0", "left_min": "12", "at": "living_door_outside",
             "done": ",".join(done), "skipped": ",".join(skipped)}  # fmt: skip
    told = tablet.get(f"{WALK}again/", query).json()
    rest = [name for stop in told["stops"] for name in stop["points"]]
    assert not set(done) & set(rest)
    assert told["stops"][0]["arrive_s"] >= 600
    assert any("after 10 min: 12 min left" in sentence for sentence in told["said"])
    assert not WalkTick.objects.exists()


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({"elapsed_s": "soon"}, "saw soon"),
        ({"elapsed_s": "-1"}, "saw -1"),
        ({"elapsed_s": "60", "at": "moon"}, "saw moon"),
        ({"elapsed_s": "60", "done": "nothing_like_it"}, "saw nothing_like_it"),
        ({"elapsed_s": "60", "paused_s": "90"}, "saw 90 of 60"),
        ({"elapsed_s": "60", "left_min": "nan"}, "saw nan"),
    ],
)
def test_a_rest_that_cannot_be_planned_says_what_was_wrong(tablet, h13, query, said):
    answer = tablet.get(f"{WALK}again/", query)
    assert answer.status_code == 422
    assert said in answer.json()["said"]


def test_without_script_a_tick_is_a_form_that_leads_back_to_its_point(tablet, yardhand, h13):
    answer = tablet.post(f"{WALK}tick/", {"by_hand": "yes", "point": "hu_order", "kind": "told"})
    assert answer.status_code == 302
    assert answer["Location"] == f"{WALK}#p-hu_order"
    assert WalkTick.objects.get().by == yardhand


def test_the_page_carries_the_ticks_as_data_that_no_note_can_break_out_of(tablet, h13):
    tick(tablet, "hu_order", "note", note="</script><script>alert(1)</script>")
    text = tablet.get(WALK).content.decode()
    assert "<script>alert(1)" not in text
    data = re.search(r'<script id="ticks" type="application/json">(.*?)</script>', text, re.DOTALL)[1]
    assert json.loads(data)[0]["note"] == "</script><script>alert(1)</script>"


@pytest.mark.parametrize("language", ["de", "fr", "nl", "es"])
def test_a_point_stands_in_the_language_of_the_party_under_the_english(desk, depot, language):
    """The words are those of the translators' own page, read here as plain TOML."""
    page = Path(keyhook.__file__).parent / "catalogue" / "texts" / language / "awning.toml"
    told = tomllib.loads(page.read_text(encoding="utf-8"))["awning.teach.aw_wind.text"]
    shown = html.unescape(desk.get("/hires/H12/walk/", {"language": language}).content.decode())
    assert f'<p class="say">{told["of"]}</p>\n  <p class="say-too" lang="{language}">{told["text"]}</p>' in shown
    assert f'{told["of"]} <span class="say-too" lang="{language}">{told["text"]}</span>' in shown
    assert "not yet checked by a native speaker" in shown


@pytest.mark.parametrize("language", ["de", "fr", "nl", "es"])
def test_what_is_asked_back_stands_in_the_language_of_the_party_under_the_english(desk, depot, language):
    """The words are those of the translators' own pages, read here as plain TOML."""
    folder = Path(keyhook.__file__).parent / "catalogue" / "texts" / language
    entries = [one for page in folder.glob("*.toml") for one in tomllib.loads(page.read_text("utf-8")).items()]
    told = {one["of"]: one["text"] for key, one in entries if key.endswith(".ask")}
    asked = _questions(desk, language)
    assert len(asked) == 3
    assert [too for _, too in asked] == [told[english] for english, _ in asked]


def test_a_question_that_the_language_lacks_stays_english_and_the_others_do_not(desk, depot, monkeypatch):
    (first, _), *others = _questions(desk, "de")
    whole = book_of("de")
    fewer = Book("de", {key: one for key, one in whole.said.items() if one.of != first})
    monkeypatch.setattr("keyhook_desk.walkround.pages.book_of", lambda _: fewer)
    assert _questions(desk, "de") == [(first, ""), *others]


def _questions(browser, language):
    """Return each question that is asked back with its words in the language, as the page shows them."""
    page = browser.get("/hires/H12/walk/", {"language": language}).content.decode()
    listed = re.search(r'<ol class="questions".*?</ol>', page, re.DOTALL)[0]
    one = rf'<p class="say">([^<]+)</p>\s*(?:<p class="say-too" lang="{language}">([^<]+)</p>)?\s*<fieldset'
    return [(html.unescape(text), html.unescape(too)) for text, too in re.findall(one, listed)]


def test_a_language_that_a_native_speaker_has_read_carries_no_mark(desk, depot, manager):
    LanguageTick.objects.create(language="de", by=manager, at=dt.datetime(2026, 7, 1, tzinfo=dt.UTC))
    assert "not yet checked" not in desk.get("/hires/H12/walk/", {"language": "de"}).content.decode()


@pytest.mark.parametrize("language", ["", "en", "xx"])
def test_without_a_language_that_is_there_the_walk_is_english_alone(desk, depot, language):
    assert "say-too" not in desk.get("/hires/H12/walk/", {"language": language}).content.decode()
