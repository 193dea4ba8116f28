"""The catalogue in another language, with a small made-up book."""

from __future__ import annotations

import pytest

from keyhook.catalogue import load_catalogue
from keyhook.catalogue.texts import Book, all_texts, book_of, left_to_do, read_book, texts_of, translated
from keyhook.errors import BrokenFolder

KEY, OTHER = "grey_tank.teach.gt_where.text", "grey_tank.teach.gt_where.why"
ENGLISH = all_texts(load_catalogue())


def _page(key, text, of=None, checked="true"):
    return f'["{key}"]\nof = "{of or ENGLISH[key]}"\ntext = "{text}"\nchecked = {checked}\n'


def _shown(*pages):
    return translated(load_catalogue(), read_book("xx", {f"{n}.toml": page for n, page in enumerate(pages)}))


def test_a_text_of_the_book_is_shown_and_every_other_stays_english():
    shown = all_texts(_shown(_page(KEY, "Grumda vesk.")).catalogue)
    assert shown[KEY] == "Grumda vesk."
    assert {key for key in ENGLISH if shown[key] != ENGLISH[key]} == {KEY}


def test_a_language_may_take_more_room_than_the_english_may():
    long = "Vesk. " * 49 + "Olm."
    assert len(long) > 200
    assert all_texts(_shown(_page(KEY, long)).catalogue)[KEY] == long


def test_what_the_book_does_not_say_is_counted_as_missing():
    missing = _shown(_page(KEY, "Grumda vesk.")).missing
    assert KEY not in missing
    assert len(missing) == len(ENGLISH) - 1


def test_a_text_made_from_older_english_is_not_shown_for_the_new_words():
    shown = _shown(_page(KEY, "Grumda vesk.", of="Empty it anywhere."))
    assert shown.stale == (KEY,)
    assert all_texts(shown.catalogue)[KEY] == ENGLISH[KEY]


def test_a_text_that_no_native_speaker_has_read_is_shown_and_told():
    shown = _shown(_page(KEY, "Grumda vesk.", checked="false"), _page(OTHER, "Olm."))
    assert shown.unchecked == (KEY,)
    assert not shown.checked_by_native_speaker
    assert all_texts(shown.catalogue)[KEY] == "Grumda vesk."


def test_a_whole_book_that_has_been_read_counts_as_checked():
    pages = [_page(key, "Vesk.") for key in ENGLISH]
    shown = _shown("\n".join(pages))
    assert shown.checked_by_native_speaker
    assert set(all_texts(shown.catalogue).values()) == {"Vesk."}


def test_numbers_ids_and_conditions_do_not_change_with_the_language():
    english, shown = (
        load_catalogue().fittings["grey_tank"],
        _shown(_page(KEY, "Grumda vesk.")).catalogue.fittings["grey_tank"],
    )
    words = {"text": ""}
    assert [point.model_copy(update=words) for point in shown.teach] == [
        point.model_copy(update=words) for point in english.teach
    ]
    assert shown.symptoms == english.symptoms


def test_a_key_that_the_catalogue_does_not_have_is_refused():
    with pytest.raises(BrokenFolder) as told:
        _shown(_page("grey_tank.teach.gt_nowhere.text", "Olm.", of="Nothing."))
    assert "gt_nowhere" in str(told.value)


def test_a_key_that_stands_on_two_pages_is_refused_with_page_and_line():
    with pytest.raises(BrokenFolder) as told:
        _shown(_page(KEY, "One."), _page(OTHER, "Olm.") + _page(KEY, "Two."))
    (problem,) = told.value.problems
    assert (problem.file, problem.seen) == ("1.toml", KEY)
    assert problem.line == 5


def test_a_misspelt_field_of_a_page_is_told():
    with pytest.raises(BrokenFolder) as told:
        _shown(_page(KEY, "Olm.").replace("checked", "chekced"))
    assert "chekced" in str(told.value)
    assert "checked" in str(told.value)


def test_a_language_without_a_book_shows_english():
    shown = translated(load_catalogue(), book_of("xx"))
    assert all_texts(shown.catalogue) == ENGLISH
    assert set(shown.missing) == set(ENGLISH)


def test_every_teach_point_symptom_and_cause_of_a_fitting_has_keys_of_its_own():
    fitting = load_catalogue().fittings["hookup"]
    keys = texts_of(fitting)
    assert keys["hookup.teach.hu_order.text"] == fitting.teach[0].text
    causes = [key for key in keys if key.startswith("hookup.symptoms.hu_no_mains.causes.") and key.endswith(".fix")]
    assert len(causes) == len(load_catalogue().symptoms["hu_no_mains"].causes)


def test_what_is_left_to_do_is_a_page_that_makes_the_book_whole_once_filled_in():
    started = read_book("xx", {"a.toml": _page(KEY, "Grumda vesk.") + _page(OTHER, "Olm.", of="Older words.")})
    left = left_to_do(load_catalogue(), started)
    assert '# was: "Olm.", made from: "Older words."' in left
    filled = read_book("xx", {"b.toml": left.replace('text = ""', 'text = "Vesk."')})
    assert KEY not in filled.said
    whole = translated(load_catalogue(), Book("xx", {**started.said, **filled.said}))
    assert (whole.missing, whole.stale) == ((), ())


def test_a_page_handed_back_with_a_text_still_empty_is_refused_with_its_line():
    left = left_to_do(load_catalogue(), book_of("xx"))
    with pytest.raises(BrokenFolder) as told:
        read_book("xx", {"b.toml": left})
    assert len(told.value.problems) == len(ENGLISH)
    assert told.value.problems[0].line == 3


def test_nothing_is_left_of_a_whole_book():
    whole = read_book("xx", {"a.toml": "\n".join(_page(key, "Vesk.") for key in ENGLISH)})
    assert left_to_do(load_catalogue(), whole) == ""
