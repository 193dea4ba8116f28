"""The code on a sticker, read off the printed page by the steps of the standard, with no library for codes."""

from __future__ import annotations

import datetime as dt
import shutil
import subprocess

import pytest

from keyhook_desk.papers.documents import Imprint, Sticker, StickerSheet
from keyhook_desk.papers.setting import set_paper

DOTS_PER_MM = 600 / 25.4


def _page_dots(pdf):
    told = subprocess.run(
        ["pdftoppm", "-r", "600", "-gray", "-l", "1", "-"], input=pdf, capture_output=True, check=True
    ).stdout
    _, size, _, dots = told.split(b"\n", 3)
    width, _ = (int(part) for part in size.split())
    return lambda x_mm, y_mm: dots[int(y_mm * DOTS_PER_MM) * width + int(x_mm * DOTS_PER_MM)] < 128


def _modules(is_dark, count):
    """Sample the code of the first sticker: 26 mm square, 1.4 mm from the right edge of its label."""
    left, top, step = 7.25 + 63.5 - 1.4 - 26, 15.15 + (38.1 - 26) / 2, 26 / count
    return [[is_dark(left + (x + 0.5) * step, top + (y + 0.5) * step) for x in range(count)] for y in range(count)]


def _is_function(x, y, size):
    """Tell whether a module of a version 2 or 3 code carries no data (ISO/IEC 18004, 6.3)."""
    corner = (x < 9 and y < 9) or (x >= size - 8 and y < 9) or (x < 9 and y >= size - 8)
    alignment = abs(x - (size - 7)) <= 2 and abs(y - (size - 7)) <= 2
    return corner or alignment or x == 6 or y == 6


_MASKS = (
    lambda i, j: (i + j) % 2,
    lambda i, _: i % 2,
    lambda _, j: j % 3,
    lambda i, j: (i + j) % 3,
    lambda i, j: (i // 2 + j // 3) % 2,
    lambda i, j: (i * j) % 2 + (i * j) % 3,
    lambda i, j: ((i * j) % 2 + (i * j) % 3) % 2,
    lambda i, j: ((i + j) % 2 + (i * j) % 3) % 2,
)


def _way(size):
    """Yield columns and rows in the order in which data is laid: pairs of columns from the right, up and down."""
    pairs = [column - (column < 7) for column in range(size - 1, 0, -2)]
    for number, column in enumerate(pairs):
        rows = range(size) if number % 2 else range(size - 1, -1, -1)
        yield from ((x, y) for y in rows for x in (column, column - 1))


def _read_code(code):
    """Read the bytes of a one-block code in byte mode (ISO/IEC 18004, 7.4 and 7.7), without correction."""
    size = len(code)
    mask = int("".join(str(int(code[8][x])) for x in (2, 3, 4)), 2) ^ 0b101
    bits = [int(code[y][x]) ^ (_MASKS[mask](y, x) == 0) for x, y in _way(size) if not _is_function(x, y, size)]
    length = int("".join(map(str, bits[4:12])), 2)
    assert bits[:4] == [0, 1, 0, 0], "byte mode"
    return bytes(int("".join(map(str, bits[12 + 8 * n : 20 + 8 * n])), 2) for n in range(length)).decode()


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="needs pdftoppm of poppler-utils")
def test_the_code_on_a_sticker_opens_its_address_and_keeps_its_quiet_zone():
    """33 letters in byte mode at level M fit version 3: 29 modules, and 4 white ones on each side."""
    address = "https://pack.example/f/O6-02/0017"
    pdf = set_paper(
        StickerSheet(
            Imprint("Stickers", "Thistlequay Hire Yard", "GB", dt.date(2026, 7, 10), "O6-02"),
            (Sticker(17, "Grey lever", "Kitchen", address),),
        )
    )
    code = _modules(_page_dots(pdf), 29 + 8)
    assert not any(code[y][x] for y in range(37) for x in range(37) if min(x, y, 36 - x, 36 - y) < 4)
    assert _read_code([row[4:33] for row in code[4:33]]) == address
