"""What a hirer reads by themselves, on a card or in a message, reads as if nobody stood beside them with the thing.

A sentence made for a station points: here, this lever, now, watch me. Which words point is plain grammar of each
language: demonstratives, adverbs of here and now, and the first person of whoever shows it (``from memory``).
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from keyhook.catalogue import load_catalogue
from keyhook.catalogue.texts import all_texts, book_of, read_book
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.dossier import hire_pack, sheet_tour
from keyhook.pack import pack_calendar, timed_messages
from keyhook.pack.content import PackAsked, compose_pack
from keyhook.pack.messages import SLOTS, Sender
from keyhook.phrases import LANGUAGES
from keyhook.tour.coverage import tour_check
from keyhook.tour.film import FilmAsked
from keyhook.tour.script import subtitles_vtt

CATALOGUE = load_catalogue()
ENGLISH = all_texts(CATALOGUE)
FOLDER = read_depot(read_folder(Path(__file__).resolve().parents[2] / "demo"), CATALOGUE)
SENDER = Sender("Thistlequay Hire Yard", "", "W4-06", "https://desk.example/pack/x/")
OTHERS = [language for language in LANGUAGES if language != "en"]

#: What points at a thing or at now, or speaks as one person: the words, and a sentence that they must catch.
POINTS = {
    "en": (r"\b(?:[Hh]ere|[Tt]his|[Tt]hese|[Nn]ow|I|[Mm]e|[Mm]y)\b", "Set the heat here and watch me."),
    "de": (r"\b(?i:hier|dies(?:e[rsmn]?)?|jetzt|ich|mir|mich|meine?\w?)\b", "Ziehen Sie diesen Hebel."),
    "fr": (
        r"\b(?i:ici|voici|cel(?:ui|le)-ci|cet|cette|ces|ce(?= (?!qu|sont|dont|n.est|jour-là))|maintenant|je|moi)\b",
        "Tirez ce levier.",
    ),
    "nl": (r"\b(?i:hier|deze|dit|nu|ik|mij|me|mijn)\b", "Trek aan deze hendel."),
    "es": (r"\b(?i:aquí|est[aeo]s?|ahora|yo|mí|conmigo)\b", "Tire de esta palanca."),
}


def _read_alone(language):
    said = {key: one.text for key, one in book_of(language).said.items()} if language != "en" else ENGLISH
    for fitting in CATALOGUE.fittings.values():
        for point in fitting.teach:
            key = f"{fitting.id}.teach.{point.id}.{point.read_by}"
            if key in said:
                yield point.id, said[key]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_point_reads_as_a_message_without_anybody_beside_it(language):
    points = re.compile(POINTS[language][0])
    told = list(_read_alone(language))
    assert len(told) == len(CATALOGUE.teach_points)
    assert [(point, text) for point, text in told if points.search(text)] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_watch_over_words_that_point_catches_them(language):
    pattern, sentence = POINTS[language]
    assert re.search(pattern, sentence)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", ["H12", "H13", "H17"])
def test_whatever_falls_off_a_tour_reads_well_in_the_message_and_in_the_calendar(name, language):
    """Point by point, as if each were the one that did not fit."""
    hire = FOLDER.hire(name)
    pack = hire_pack(FOLDER.sheet_of(hire), hire, CATALOGUE, FOLDER.tariff, language=language)
    points = re.compile(POINTS[language][0])
    for point in pack.points.values():
        others = set(pack.points) - {point.id}
        told = timed_messages(pack, hire, SENDER, confirmed=others, fallen={point.id: SLOTS[1]})
        (line,) = [line for line in told[1].text.splitlines() if point.text in line]
        assert not points.search(line), line
        if point.must:
            calendar = pack_calendar(hire, told, SENDER, stamp=hire.collect_at, language=language).decode()
            assert _squeezed(point.text) in _squeezed(calendar)


def _squeezed(text):
    """Return letters alone: a calendar folds its lines and escapes commas (RFC 5545, 3.1 and 3.3.11)."""
    return re.sub(r"[\s\\]", "", text)


def test_a_card_without_its_second_wording_is_english_as_a_whole_and_in_the_second_wording():
    hire = FOLDER.hire("H12")
    whole = {key: one for key, one in book_of("de").said.items() if key.startswith("grey_tank.")}
    assert whole.pop("grey_tank.teach.gt_lever.alone")
    page = "\n".join(f"[\"{key}\"]\nof = '''{one.of}'''\ntext = '''{one.text}'''" for key, one in whole.items())
    asked = PackAsked(hire.tags, hire.options, language="de", book=read_book("de", {"a.toml": page}))
    pack = compose_pack(FOLDER.sheet_of(hire), CATALOGUE, FOLDER.tariff, asked)
    card = next(card for card in pack.cards if card.fitting == "grey_tank")
    assert card.language == "en"
    assert pack.points["gt_lever"].text == CATALOGUE.teach_point("gt_lever").alone
    assert "this lever" not in pack.points["gt_lever"].text


@pytest.mark.parametrize("language", OTHERS)
def test_every_question_that_is_asked_back_is_there_in_the_language(language):
    said = book_of(language).said
    keys = [key for key in ENGLISH if key.endswith(".ask")]
    assert len(keys) >= 180
    assert [key for key in keys if key not in said or said[key].of != ENGLISH[key]] == []


@pytest.mark.parametrize("name", FOLDER.sheets)
def test_a_film_asks_nobody_to_do_it_now_and_says_all_that_its_tour_holds(name):
    """Whoever watches it is alone with it; and its own script, checked like any recording, covers its points."""
    answer = sheet_tour(FOLDER, CATALOGUE, FilmAsked(available_min=40), sheet=name).answer
    points = re.compile(POINTS["en"][0])
    assert [line.text for line in answer.lines if points.search(line.text)] == []
    told = {line.id for line in answer.lines}
    heard = {point.id for point in tour_check(subtitles_vtt(answer), FOLDER.sheets[name], CATALOGUE).covered}
    assert len(told & heard) >= 0.95 * len(told)
