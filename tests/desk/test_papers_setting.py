"""Setting of papers: standards, tags, bytes, hostile text, colours, fonts, codes; each kind of paper alike."""

from __future__ import annotations

import dataclasses
import datetime as dt
import io
import re
import shutil
import subprocess
from pathlib import Path

import page
import pytest
import typst
from pypdf import PdfReader
from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject

from keyhook.catalogue import load_catalogue
from keyhook.dossier import hire_loading
from keyhook_desk.papers import setting
from keyhook_desk.papers.cab_paper import cab_card_paper
from keyhook_desk.papers.documents import (
    DaySheet,
    DayTask,
    HandOverSheet,
    Imprint,
    PersonDay,
    Promise,
    ReadingLine,
    Sticker,
    StickerSheet,
    TourPointLine,
    TourStopLines,
)
from keyhook_desk.papers.loading_paper import loading_paper
from keyhook_desk.papers.picture import loading_picture, numbers_picture
from keyhook_desk.papers.setting import paper_data, printable, set_paper

PAPERS = Path(setting.__file__).parent
DAY = dt.date(2026, 7, 10)
KINDS = ("loading_sheet", "cab_card", "day_sheet", "hand_over_sheet", "sticker_sheet")
NASTY = (
    '#panic("x") \\ $1/0$ *bold* _x_ <a> & "quotes" @ref [[ ]] // /* `raw` = head\n- list #include "/etc/passwd" '
    "\x00\x1b\x07\u202eevil\u2066 \ud800 " + "W" * 90
)


def _imprint(**more):
    return Imprint("A paper", "Thistlequay Hire Yard", "GB", DAY, "O6-02", "Bunkworthy", "DEMO 602", **more)


def _day_sheet():
    tasks = (DayTask(510, 530, "Take the keys", "W4-02", "lane"), DayTask(720, 765, "", kind="break"))
    hands = DayTask(840, 925, "Hand-over", "W4-06", note="first-timers", kind="hand_over")
    people = (PersonDay("Wendeline", "desk", 480, 1020, (*tasks, hands)), PersonDay("Tam", "yard", 510, 1050, tasks))
    promises = (
        Promise(840, "W4-06", "A party of four", "97 %"),
        Promise(900, "O6-02", "Six", "41 %", "gas", late=True),
    )
    return DaySheet(_imprint(), "Friday 10 July 2026", promises, people, ("Rain from noon.",))


def _hand_over(sheet):
    points = (TourPointLine(1, "Keys", "Lock by hand.", must=True), TourPointLine(1, "Keys", "Pull every handle."))
    stops = (TourStopLines("Driver's door", "offside", "minute 0", points),)
    readings = (ReadingLine("Odometer", "km", "61204"),)
    picture = numbers_picture(sheet, frozenset({1}))
    return HandOverSheet(
        _imprint(), "A party", ("H13",), "45 minutes", picture, stops, ("Awning",), ("Loud fan",), readings, "Call us."
    )


def _stickers(count=41):
    address = "https://pack.example/f/{}"
    return StickerSheet(
        _imprint(), tuple(Sticker(n, f"Fitting {n}", "Kitchen", address.format(n)) for n in range(1, count + 1))
    )


@pytest.fixture(scope="module")
def papers(folder):
    """One of each kind, of the fullest hire of the demo."""
    found = hire_loading(folder, "H13", load_catalogue())
    made = (
        loading_paper(found.answer, found.change, found.hire, found.sheet, _imprint()),
        cab_card_paper(found.answer.cab_card, found.sheet, _imprint()),
        _day_sheet(),
        _hand_over(found.sheet),
        _stickers(),
    )
    return {paper.template: paper for paper in made}


def _reader(pdf):
    return PdfReader(io.BytesIO(pdf))


def _words(pdf):
    return " ".join(" ".join(leaf.extract_text() for leaf in _reader(pdf).pages).split())


def _tags(pdf):
    """Yield every element of the structure tree of a PDF (ISO 32000-1, 14.7)."""

    def below(element):
        found = element.get_object() if isinstance(element, IndirectObject) else element
        if isinstance(found, ArrayObject):
            for child in found:
                yield from below(child)
        elif isinstance(found, DictionaryObject):
            if "/S" in found:
                yield found
            if "/K" in found:
                yield from below(found["/K"])

    yield from below(_reader(pdf).trailer["/Root"]["/StructTreeRoot"]["/K"])


def _nasty(paper, text):
    """Return the paper with every text of it made nasty, its pictures apart."""
    if isinstance(paper, str):
        return text
    if isinstance(paper, tuple):
        return tuple(_nasty(inner, text) for inner in paper)
    if not dataclasses.is_dataclass(paper):
        return paper
    kept = {"svg", "kind", "stands", "verdict", "why", "chance_why", "language", "region", "address"}
    changed = {
        field.name: _nasty(getattr(paper, field.name), text)
        for field in dataclasses.fields(paper)
        if field.name not in kept
    }
    return dataclasses.replace(paper, **changed)


@pytest.mark.parametrize("profile", [page.ValidationProfile.PDF_UA_1, page.ValidationProfile.PDF_A_2A])
@pytest.mark.parametrize("kind", KINDS)
def test_papers_conform_to_pdf_ua_and_pdf_a(papers, kind, profile):
    """Checked by an independent validator of ISO 14289-1 and ISO 19005-2."""
    found = page.validate_pdf_bytes(set_paper(papers[kind]), profile=profile)
    assert found.is_compliant, [failure.message for failure in found.failures][:5]


def test_the_validator_would_say_so_of_a_paper_without_tags():
    bare = typst.compile(b"= Bare", font_paths=setting._fonts(of_the_system=True), format="pdf", pdf_tags=False)
    assert not page.validate_pdf_bytes(bare, profile=page.ValidationProfile.PDF_UA_1).is_compliant


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_paper_gives_the_same_bytes_and_another_day_others(papers, kind):
    paper = papers[kind]
    later = dataclasses.replace(paper, imprint=dataclasses.replace(paper.imprint, day=dt.date(2026, 7, 11)))
    assert set_paper(paper) == set_paper(paper)
    assert set_paper(paper) != set_paper(later)
    assert paper_data(paper)["print_mark"] != paper_data(later)["print_mark"]


@pytest.mark.parametrize("kind", KINDS)
def test_a_paper_says_title_and_language_and_carries_no_time_of_the_clock(papers, kind):
    reader = _reader(set_paper(papers[kind]))
    root = reader.trailer["/Root"]
    assert str(root["/Lang"]) == "en-GB"
    assert reader.metadata.title == "A paper"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert root["/MarkInfo"]["/Marked"]
    assert reader.metadata.creation_date_raw == "D:20260710000000Z"


@pytest.mark.parametrize("kind", ["loading_sheet", "day_sheet", "hand_over_sheet", "sticker_sheet"])
def test_every_picture_has_words(papers, kind):
    figures = [tag for tag in _tags(set_paper(papers[kind])) if tag["/S"] == "/Figure"]
    assert figures
    assert all(str(figure["/Alt"]).strip() for figure in figures)


def test_the_loading_sheet_has_one_first_heading_and_tables_with_headers(papers):
    kinds = [tag["/S"] for tag in _tags(set_paper(papers["loading_sheet"]))]
    assert kinds.count("/H1") == 1
    assert kinds.count("/Table") == 4
    assert kinds.count("/TH") >= 5 + 6 + 6 + 5


@pytest.mark.parametrize("kind", KINDS)
def test_every_page_tells_which_print_it_is(papers, kind):
    mark = paper_data(papers[kind])["print_mark"]
    assert re.fullmatch(r"[0-9a-f]{4}(-[0-9a-f]{4}){2}", mark)
    if kind != "sticker_sheet":
        assert all(mark in leaf.extract_text() for leaf in _reader(set_paper(papers[kind])).pages)


@pytest.mark.parametrize("kind", KINDS)
def test_whatever_is_typed_anywhere_prints_as_text(papers, kind):
    pdf = set_paper(_nasty(papers[kind], NASTY))
    assert '#panic("x") \\ $1/0$ *bold* _x_ <a>' in _words(pdf)
    assert "root:" not in _words(pdf)
    for profile in (page.ValidationProfile.PDF_UA_1, page.ValidationProfile.PDF_A_2A):
        assert page.validate_pdf_bytes(pdf, profile=profile).is_compliant


@pytest.mark.parametrize("name", ["عائلة الرمل", "משפחת כהן", "Łukasz Żółć", "Đặng", "Ольга Їжак", "Νίκος", "Þór"])
def test_names_in_these_letters_are_set_with_our_own_fonts_and_keep_both_standards(papers, name):
    pdf = set_paper(dataclasses.replace(papers["loading_sheet"], lead=name))
    fonts = {str(font["/BaseFont"]) for leaf in _reader(pdf).pages for font in _fonts_of(leaf)}
    assert all("Inter" in font or "NotoSans" in font for font in fonts)
    assert page.validate_pdf_bytes(pdf, profile=page.ValidationProfile.PDF_UA_1).is_compliant


def _fonts_of(leaf):
    return [font.get_object() for font in leaf["/Resources"]["/Font"].values()]


@pytest.mark.parametrize("name", ["家族 テスト", "Zoë 🚐 O'Brien", "देवी", "👩‍👩‍👧"])
def test_names_in_letters_that_our_fonts_have_not_still_print(papers, name):
    assert set_paper(dataclasses.replace(papers["loading_sheet"], lead=name)).startswith(b"%PDF")


@pytest.mark.parametrize(
    ("typed", "printed"),
    [("a\nb\tc", "a b c"), ("a\x00\x1bb", "ab"), ("a\u202eb", "ab"), ("a\ud800b", "ab"), ("Zoe\u0308", "Zoë")],
)
def test_what_cannot_be_printed_is_left_out(typed, printed):
    assert printable(typed) == printed


def test_a_word_without_end_stays_on_the_page(papers):
    """Every letter of it lies within the page: 200 broad letters at 21 pt would take more than a metre in one line."""
    pdf = set_paper(dataclasses.replace(papers["loading_sheet"], lead="W" * 200))
    assert _words(pdf).replace(" ", "").count("W") >= 200
    if shutil.which("pdftotext"):
        boxes = _letters(pdf)
        assert max(right for right, _ in boxes) <= _reader(pdf).pages[0].mediabox.width - 40


def _letters(pdf):
    told = subprocess.run(["pdftotext", "-bbox", "-l", "1", "-", "-"], input=pdf, capture_output=True, check=True)
    return [(float(x), word) for x, word in re.findall(r'xMax="([0-9.]+)"[^>]*>([^<]*)<', told.stdout.decode())]


def test_templates_read_nothing_but_their_data_and_run_nothing_typed():
    for template in (PAPERS / "templates").glob("*.typ"):
        text = template.read_text(encoding="utf-8")
        assert "eval(" not in text
        assert "read(" not in text
        assert set(re.findall(r'(?:import|include|json)\(?\s*"([^"]+)"', text)) <= {"common.typ", "data.json"}


def test_every_word_of_a_template_stands_in_the_phrase_book():
    for kind in KINDS:
        text = (PAPERS / "templates" / f"{kind}.typ").read_text(encoding="utf-8")
        text += (PAPERS / "templates" / "common.typ").read_text(encoding="utf-8")
        used = set(re.findall(r'\bwords\.(?:at\("(\w+)"\)|(\w+))', text))
        book = {**setting._words("common", "en"), **setting._words(kind, "en")}
        assert {a or b for a, b in used} - {"at", "pos"} <= set(book), kind


def _luminance(colour):
    """Relative luminance, WCAG 2.2."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_words_stand_out_from_their_ground_as_wcag_asks():
    """Contrast of 4.5 to 1 for text (WCAG 2.2, 1.4.3), on white and on the soft ground."""
    text = (PAPERS / "templates" / "common.typ").read_text(encoding="utf-8")
    colours = dict(re.findall(r'#let ([a-z-]+) = rgb\("(#[0-9a-f]{6})"\)', text))
    for ground in ("#ffffff", colours["soft"]):
        for ink in ("ink", "muted", "accent"):
            lighter, darker = sorted((_luminance(ground), _luminance(colours[ink])), reverse=True)
            assert (lighter + 0.05) / (darker + 0.05) >= 4.5, (ink, ground)


def test_the_fonts_are_small_and_carry_their_licence():
    fonts = sorted(path.name for path in (PAPERS / "fonts").iterdir() if path.suffix in {".otf", ".ttf"})
    licence = (PAPERS / "fonts" / "LICENCE.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence
    assert all(name in licence for name in fonts)
    assert sum((PAPERS / "fonts" / name).stat().st_size for name in fonts) < 400_000


def test_stickers_fill_label_paper_and_skip_labels_that_are_gone():
    assert len(_reader(set_paper(_stickers(21))).pages) == 1
    assert len(_reader(set_paper(dataclasses.replace(_stickers(21), skip=1))).pages) == 2


def test_empty_sheets_say_so():
    day = _words(set_paper(dataclasses.replace(_day_sheet(), promises=(), people=())))
    assert "Nothing is promised" in day
    assert "Nobody works" in day
    bare = HandOverSheet(_imprint(), "A party", (), "", None, ())
    assert "Nothing is planned to be shown" in _words(set_paper(bare))


def test_the_day_sheet_gives_every_task_with_its_times_and_every_promise():
    words = _words(set_paper(_day_sheet()))
    times = ("08:30\u201308:50 W4-02 Take the keys", "14:00\u201315:25 W4-06")
    for said in (*times, "15:00 O6-02", "41 % on time", "Rain from noon."):
        assert said in words


def test_the_hand_over_sheet_names_a_fitting_once_and_ticks_each_point(papers):
    words = _words(set_paper(papers["hand_over_sheet"]))
    assert words.count("Keys") == 1
    for said in ("Lock by hand.", "Pull every handle.", "always", "Odometer", "last 61204", "Loud fan", "Call us."):
        assert said in words


def test_pictures_on_paper_carry_numbers_and_none_of_the_small_words_of_the_page(folder):
    for sheet in folder.sheets.values():
        shown = re.findall(r"<text[^>]*>([^<]*)</text>", numbers_picture(sheet, frozenset({1})).svg)
        assert shown
        assert [words for words in shown if not words.isdigit()] == []
        assert "<text" not in loading_picture(sheet, {}, {}, ("", "")).svg
