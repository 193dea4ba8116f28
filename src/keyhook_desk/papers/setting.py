"""Setting a paper: plain data in, tagged PDF out. The same paper gives the same bytes."""

from __future__ import annotations

import hashlib
import json
import tempfile
import unicodedata
from collections.abc import Mapping
from dataclasses import asdict
from functools import cache
from pathlib import Path
from typing import Any, Literal

import typst

from keyhook.phrases import phrase_book
from keyhook_desk.papers.codes import code_picture
from keyhook_desk.papers.documents import Paper, StickerSheet

Standard = Literal["ua-1", "a-2a"]

_HERE = Path(__file__).resolve().parent
_COMMON = "common"
#: For those who hear a paper (ISO 14289-1), and for keeping it (ISO 19005-2, level A).
STANDARDS: tuple[Standard, ...] = ("ua-1", "a-2a")
#: What the compiler says when no font has a shape for a letter.
_NO_SHAPE = "could not be displayed"
#: Marks that turn the direction of the text after them: a name must not turn a paper round.
_TURNS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def set_paper(paper: Paper) -> bytes:
    """Return the PDF of a paper.

    Text travels only as JSON, so nothing a person typed is read as markup, and the compiler sees one folder of its
    own with two templates and the data. A name in letters that our fonts have not is set with the fonts of the
    machine; where those have not either, without the claim of a standard: better a name than none.
    """
    template = paper.template
    data = paper_data(paper)
    with tempfile.TemporaryDirectory(prefix="keyhook-paper-") as folder:
        root = Path(folder)
        for name in (_COMMON, template):
            (root / f"{name}.typ").write_bytes(template_source(name))
        (root / "data.json").write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
        return _compiled(root / f"{template}.typ", root)


def _compiled(source: Path, root: Path) -> bytes:
    for of_the_system in (False, True):
        try:
            return _pdf(source, root, _fonts(of_the_system=of_the_system), STANDARDS)
        except typst.TypstError as error:
            if _NO_SHAPE not in str(error):
                raise
    return _pdf(source, root, _fonts(of_the_system=True), ())


def _pdf(source: Path, root: Path, fonts: typst.Fonts, standards: tuple[Standard, ...]) -> bytes:
    found = typst.compile(source, root=root, font_paths=fonts, format="pdf", pdf_standards=list(standards))
    assert isinstance(found, bytes)
    return found


@cache
def _fonts(*, of_the_system: bool) -> typst.Fonts:
    return typst.Fonts(
        include_system_fonts=of_the_system, include_embedded_fonts=of_the_system, font_paths=[_HERE / "fonts"]
    )


@cache
def template_source(name: str) -> bytes:
    """Return a template as it is shipped."""
    return (_HERE / "templates" / f"{name}.typ").read_bytes()


def paper_data(paper: Paper) -> dict[str, Any]:
    """Return what the template reads: the paper, the words of its kind, and the mark of this print."""
    told: dict[str, Any] = _plain(asdict(paper))
    imprint = told["imprint"]
    words = {**_words(_COMMON, imprint["language"]), **_words(paper.template, imprint["language"])}
    day = paper.imprint.day
    data = {**told, "words": words, "day": [day.year, day.month, day.day]}
    if isinstance(paper, StickerSheet):
        data["codes"] = [list(code_picture(sticker.address)) for sticker in paper.stickers]
    return {**data, "print_mark": print_mark(data, paper.template)}


def print_mark(data: Mapping[str, Any], template: str) -> str:
    """Return twelve digits that differ when content or template differ, so two prints can be told apart by eye."""
    content = json.dumps(data, sort_keys=True, ensure_ascii=False).encode()
    digest = hashlib.sha256(content + template_source(_COMMON) + template_source(template)).hexdigest()[:12]
    return "-".join(digest[place : place + 4] for place in (0, 4, 8))


@cache
def _words(topic: str, language: str) -> Mapping[str, str]:
    start = f"papers.{topic}."
    books = {**phrase_book(), **phrase_book(language)}
    return {key.removeprefix(start): text for key, text in books.items() if key.startswith(start)}


def _plain(value: Any) -> Any:
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    return value.isoformat() if hasattr(value, "isoformat") else value


def printable(text: str) -> str:
    """Return a text without what cannot be printed: controls, lone halves of pairs, marks that turn its direction."""
    spaced = (" " if letter in "\n\r\t\v\f\u2028\u2029" else letter for letter in unicodedata.normalize("NFC", text))
    return "".join(letter for letter in spaced if letter not in _TURNS and unicodedata.category(letter) not in _UNSEEN)


#: Controls, lone surrogates, unassigned and private places.
_UNSEEN = frozenset({"Cc", "Cs", "Cn", "Co"})
