"""The shipped books of the other languages, against the English they were made from.

What may be lost in a translation is known beforehand: a figure, a unit, a caution, a way to get help. Each of them is
looked for in the words of the language. The words themselves (who to ring, who is qualified) are the usual ones of the
language (source: common practice).
"""

from __future__ import annotations

import re
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

from keyhook.catalogue import load_catalogue
from keyhook.catalogue.texts import all_texts, book_of, translated
from keyhook.cli.options import DEMO, depot_at
from keyhook.phrases import LANGUAGES, phrase_book

ENGLISH = all_texts(load_catalogue())
OTHERS = [language for language in LANGUAGES if language != "en"]
BOOKS = [language for language in OTHERS if book_of(language).said]
PHRASES = [language for language in OTHERS if phrase_book(language)]

FIGURE = re.compile(r"\d+(?:[.,\u202f\u00a0 ]\d+)*")
THOUSANDS = re.compile(r"(?<=\d)[.,\u202f\u00a0 ](?=\d{3}(?!\d))")
UNIT = re.compile(
    r"(\d+(?:[.,]\d+)*)[\s\u202f\u00a0-]?(?:°\s?)?"
    r"(km/h|mm2|mm|cm|km|kg|kW|mA|Ah|mbar|bar|m|l|g|W|V|A|C)(?![\w/])"
)
PLACEHOLDER = re.compile(r"\{[^}]*\}")

#: English words that carry a caution, and one of the words by which each language keeps it.
CAUTIONS = {
    r"emergency number": {
        "de": r"Notruf",
        "fr": r"num[ée]ro d.urgence|[Uu]rgences?",
        "nl": r"[Aa]larmnummer|\b112\b",
        "es": r"emergencias?",
    },
    r"[Ee]veryone (?:goes )?(?:out|away)|[Ee]veryone to get out": {
        "de": r"\b[Aa]lle\b",
        "fr": r"[Tt]out le monde|[Tt]ous",
        "nl": r"[Ii]edereen|[Aa]llemaal",
        "es": r"[Tt]odos|[Tt]odo el mundo",
    },
    r"\b(?:[Rr]ing|tell|ask) us\b": {
        "de": r"\buns\b|\bwir erfahren\b",
        "fr": r"\bnous\b|-nous\b",
        "nl": r"\bons\b",
        "es": r"nos\b|avis",
    },
    r"\bqualified (?:person|engineer|electrician|gas engineer)": {
        "de": r"[Ff]achkraft|Fachbetrieb",
        "fr": r"qualifié|professionnel|agréé",
        "nl": r"vakman|vakbekwame|gediplomeerd|erkende?|bevoegde?",
        "es": r"cualificad|autorizad",
    },
    r"[Ii]f nothing smells of gas": {
        "de": r"nichts nach Gas",
        "fr": r"ne sent le gaz|odeur de gaz",
        "nl": r"niets naar gas",
        "es": r"huele a gas|olor a gas",
    },
    r"[Oo]nly if (?:it is )?safe|if it is safe": {
        "de": r"gefahrlos|sicher",
        "fr": r"sans danger|sans risque|sécurité|sûr",
        "nl": r"veilig",
        "es": r"segur|sin peligro|sin riesgo|peligro",
    },
    r"\bas we showed you": {
        "de": r"gezeigt",
        "fr": r"montré",
        "nl": r"toonden|getoond",
        "es": r"mostr|enseñ",
    },
    r"\bslowly\b": {
        "de": r"langsam",
        "fr": r"lentement|doucement",
        "nl": r"langzaam",
        "es": r"despacio|lent|poco a poco",
    },
    r"\b(?:[Nn]ever|[Nn]obody|(?<!for )[Nn]othing|[Dd]o not)\b": {
        "de": r"\b(?:[Nn]ie|[Nn]iemand(?:en|em)?|[Nn]ichts?|[Kk]eine?[nmrs]?|unter nichts|weder)\b|außer Betrieb",
        "fr": r"\b(?:ne|n|[Nn]i|sans|[Rr]ien|[Pp]as|[Aa]ucune?|[Nn]on|jamais|[ÉéEe]vitez)\b|[Jj]amais|[Pp]ersonne",
        "nl": r"\b(?:[Nn]ooit|[Nn]iemand|[Nn]iets|[Nn]iet|[Gg]een)\b",
        "es": r"\b(?:[Nn]unca|[Nn]adie|[Nn]ada|[Nn]o|[Ss]in|[Nn]i)\b",
    },
}

PAGE = Path(__file__).parents[2] / "docs" / "languages.md"


def _terms():
    """Return English term, language and the words it may have there, from the table of the page on languages."""
    rows = [[cell.strip() for cell in line.strip("| \n").split("|")] for line in PAGE.read_text("utf-8").splitlines()]
    head = next(row for row in rows if row[0] == "English")
    terms = rows[rows.index(head) + 2 :]
    return [(row[0], language, row[head.index(language)].split(", ")) for row in terms for language in head[1:]]


@cache
def _pairs(language):
    return [(key, said.of, said.text) for key, said in book_of(language).said.items()]


@cache
def _phrases(language):
    return [(key, phrase_book()[key], text) for key, text in phrase_book(language).items() if key in phrase_book()]


def _figures(text):
    return Counter(THOUSANDS.sub("", found).replace(",", ".") for found in FIGURE.findall(THOUSANDS.sub("", text)))


def _measures(text):
    return Counter((figure.replace(",", "."), unit) for figure, unit in UNIT.findall(THOUSANDS.sub("", text)))


def test_every_language_has_its_book():
    assert set(OTHERS) == set(BOOKS)


@pytest.mark.parametrize("language", BOOKS)
def test_every_page_reads_with_keys_of_the_catalogue_and_english_that_still_stands(language):
    shown = translated(load_catalogue(), book_of(language))
    assert not shown.stale


@pytest.mark.parametrize("language", BOOKS)
def test_what_is_about_danger_is_never_left_in_english(language):
    said = book_of(language).said
    points = [point for fitting in load_catalogue().fittings.values() for point in fitting.teach]
    grave = {point.id for point in points if point.must or point.kind == "safety"}
    wanted = [
        key
        for key in ENGLISH
        if key.endswith((".first", ".stop")) or (key.endswith(".text") and key.split(".")[-2] in grave)
    ]
    assert len(wanted) > 150
    assert [key for key in wanted if key not in said] == []


@pytest.mark.parametrize("language", BOOKS)
def test_nobody_has_ticked_a_book_that_no_native_speaker_has_read(language):
    assert [key for key, said in book_of(language).said.items() if said.checked] == []


@pytest.mark.parametrize("language", BOOKS)
def test_every_figure_of_the_english_stands_in_the_translation_and_no_other(language):
    wrong = [(key, of, text) for key, of, text in _pairs(language) if _figures(of) != _figures(text)]
    assert wrong == []


@pytest.mark.parametrize("language", BOOKS)
def test_every_figure_keeps_its_unit(language):
    wrong = [(key, of, text) for key, of, text in _pairs(language) if _measures(of) != _measures(text)]
    assert wrong == []


@pytest.mark.parametrize("language", BOOKS)
@pytest.mark.parametrize("english", CAUTIONS)
def test_a_caution_is_still_a_caution(language, english):
    word = CAUTIONS[english][language]
    warned = [(key, of, text) for key, of, text in _pairs(language) if re.search(english, of)]
    assert warned
    assert [row for row in warned if not re.search(word, row[2])] == []


@pytest.mark.parametrize("language", BOOKS)
def test_a_check_is_still_a_question(language):
    checks = [(key, text) for key, of, text in _pairs(language) if of.endswith("?")]
    assert checks
    assert [row for row in checks if not row[1].endswith("?")] == []


@pytest.mark.parametrize(("term", "language", "words"), _terms())
def test_one_thing_has_one_word(term, language, words):
    named = [(key, of, text) for key, of, text in _pairs(language) if re.search(rf"\b{term}\b", of, re.IGNORECASE)]
    assert named
    assert [row for row in named if not any(word.casefold() in row[2].casefold() for word in words)] == []


@pytest.mark.parametrize("language", BOOKS)
def test_hardly_any_text_is_the_english_word_for_word(language):
    same = [text for _, of, text in _pairs(language) if of == text]
    assert len(same) <= 0.01 * len(_pairs(language)), same


@pytest.mark.parametrize("language", PHRASES)
def test_every_phrase_is_one_of_the_english_phrases(language):
    assert set(phrase_book(language)) <= set(phrase_book())


@pytest.mark.parametrize("language", PHRASES)
def test_a_phrase_takes_the_values_that_the_english_takes(language):
    wrong = [
        (key, of, text)
        for key, of, text in _phrases(language)
        if set(PLACEHOLDER.findall(of)) != set(PLACEHOLDER.findall(text))
    ]
    assert wrong == []


@pytest.mark.parametrize("language", PHRASES)
def test_the_figures_of_a_phrase_are_those_of_the_english(language):
    plain = [(key, PLACEHOLDER.sub("", of), PLACEHOLDER.sub("", text)) for key, of, text in _phrases(language)]
    assert [row for row in plain if _figures(row[1]) != _figures(row[2])] == []


@pytest.mark.parametrize("language", PHRASES)
@pytest.mark.parametrize("english", CAUTIONS)
def test_a_caution_of_a_phrase_is_still_a_caution(language, english):
    word = CAUTIONS[english][language]
    warned = [row for row in _phrases(language) if row[0].startswith("pack.") and re.search(english, row[1])]
    assert [row for row in warned if not re.search(word, row[2])] == []


@pytest.mark.parametrize("language", PHRASES)
def test_the_pack_speaks_the_language_nearly_throughout(language):
    wanted = {key for key in phrase_book() if key.startswith("pack.")}
    assert len(wanted - set(phrase_book(language))) <= 0.05 * len(wanted)


@pytest.mark.parametrize("language", OTHERS)
def test_the_demo_depot_has_its_own_words_in_every_language_with_their_figures(language):
    demo = depot_at(DEMO)
    words = demo.depot.words[language]
    said = {one.where for sheet in demo.sheets.values() for one in sheet.fittings if one.where}
    said |= {one.name for sheet in demo.sheets.values() for one in (*sheet.stations, *sheet.stores)}
    said |= {quirk.text for vehicle in demo.vehicles.values() for quirk in vehicle.quirks if quirk.tell_hirer}
    said |= {*demo.tariff.wear.accepted, *demo.tariff.wear.not_accepted}
    assert set(words) == said
    assert [(own, text) for own, text in words.items() if _figures(own) != _figures(text)] == []
    assert [(own, text) for own, text in words.items() if _measures(own) != _measures(text)] == []
