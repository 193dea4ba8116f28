"""Setting the papers of the fullest hire of the demo, as a ratio to a bare page by the same typesetter.

The bare page is one line of text with the same fonts and standards, through the same call; both are warm.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))
os.environ.update(KEYHOOK_INSECURE="1", DJANGO_SETTINGS_MODULE="keyhook_desk.settings")

import typst

from keyhook.catalogue import load_catalogue
from keyhook.cli.commands import DEMO
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.dossier import hire_loading
from keyhook_desk.papers import setting
from keyhook_desk.papers.cab_paper import cab_card_paper
from keyhook_desk.papers.documents import Imprint, Paper, Sticker, StickerSheet
from keyhook_desk.papers.loading_paper import loading_paper

BARE = '#set document(title: "Bare", date: datetime(year: 2026, month: 7, day: 10))\n#set text(lang: "en")\nOne line.'
IMPRINT = Imprint("A paper", "Thistlequay Hire Yard", "GB", dt.date(2026, 7, 10), "O6-02", "Bunkworthy", "DEMO 602")


def papers() -> dict[str, Paper]:
    """Return the papers that are set: of hire H13, and a sheet of 41 stickers."""
    catalogue = load_catalogue()
    found = hire_loading(read_depot(read_folder(DEMO), catalogue), "H13", catalogue)
    stickers = tuple(Sticker(n, f"Fitting {n}", "Kitchen", f"https://pack.example/f/{n}") for n in range(1, 42))
    made: tuple[Paper, ...] = (
        loading_paper(found.answer, found.change, found.hire, found.sheet, IMPRINT),
        cab_card_paper(found.answer.cab_card, found.sheet, IMPRINT),
        StickerSheet(IMPRINT, stickers),
    )
    return {paper.template: paper for paper in made}


def timed_ms(done: Callable[[], object], rounds: int) -> float:
    """Return the median milliseconds of a call that was made once before."""
    done()
    spans = []
    for _ in range(rounds):
        started = time.perf_counter()
        done()
        spans.append(1000 * (time.perf_counter() - started))
    return statistics.median(spans)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--full", action="store_true")
    given = parser.parse_args()
    rounds = 60 if given.full else 15
    fonts = typst.Fonts(font_paths=[Path(setting.__file__).parent / "fonts"])
    with tempfile.TemporaryDirectory(prefix="keyhook-bench-") as folder:
        bare = Path(folder, "bare.typ")
        bare.write_text(BARE, encoding="utf-8")
        standards = list(setting.STANDARDS)
        bare_ms = timed_ms(lambda: typst.compile(bare, font_paths=fonts, format="pdf", pdf_standards=standards), rounds)
    found: dict[str, float] = {"bare_ms": round(bare_ms, 1)}
    for name, paper in papers().items():
        paper_ms = timed_ms(lambda paper=paper: setting.set_paper(paper), rounds)  # type: ignore[misc]
        found |= {f"{name}_ms": round(paper_ms, 1), f"{name}_ratio": round(paper_ms / bare_ms, 1)}
    print(json.dumps(found) if given.json else "\n".join(f"{key:20} {value}" for key, value in found.items()))


if __name__ == "__main__":
    main()
