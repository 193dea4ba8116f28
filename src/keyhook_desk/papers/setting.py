"""Setting a paper: plain data in, tagged PDF out. The same data and day give the same bytes."""

from __future__ import annotations

import json
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

import typst

HERE = Path(__file__).resolve().parent


#: What the compiler says when our font has no shape for a letter.
_NO_SHAPE = "could not be displayed"


@cache
def _fonts(*, of_the_system: bool) -> typst.Fonts:
    return typst.Fonts(
        include_system_fonts=of_the_system, include_embedded_fonts=of_the_system, font_paths=[HERE / "fonts"]
    )


def set_paper(template: str, data: dict[str, Any]) -> bytes:
    """Return the PDF of a template (file name without ``.typ``) with its data.

    PDF/UA-1 for those who hear a paper, PDF/A-2a for keeping it. Text travels only as JSON, so nothing a person typed
    is read as markup; the compiler sees one folder of its own. A name in letters that our font has not is set with the
    fonts of the machine, tagged all the same but without the claim of a standard: better a name than none.
    """
    with tempfile.TemporaryDirectory(prefix="keyhook-paper-") as folder:
        root = Path(folder)
        for name in ("common.typ", f"{template}.typ"):
            (root / name).write_bytes((HERE / "templates" / name).read_bytes())
        (root / "data.json").write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
        source, fonts = root / f"{template}.typ", _fonts(of_the_system=False)
        try:
            return typst.compile(source, root=root, font_paths=fonts, format="pdf", pdf_standards=["ua-1", "a-2a"])
        except typst.TypstError as error:
            if _NO_SHAPE not in str(error):
                raise
            return typst.compile(source, root=root, font_paths=_fonts(of_the_system=True), format="pdf")
