"""A depot folder on disk: its texts in and out, nothing understood here."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from keyhook.errors import BadInput, BrokenFolder, Problem


def read_folder(path: Path) -> Mapping[str, str]:
    """Return the TOML files of a folder and its sub-folders by name within it.

    Raises
    ------
    BadInput
        There is no such folder.
    BrokenFolder
        A file is not UTF-8 text.
    """
    if not path.is_dir():
        raise BadInput("There is no such folder", seen=path, todo="Name the folder that holds depot.toml")
    texts: dict[str, str] = {}
    problems: list[Problem] = []
    for file in sorted(path.rglob("*.toml")):
        name = file.relative_to(path).as_posix()
        try:
            texts[name] = file.read_text(encoding="utf-8")
        except UnicodeDecodeError as error:
            seen = f"byte {error.object[error.start]:#04x}"
            line = error.object[: error.start].count(b"\n") + 1
            problems.append(
                Problem(name, line, "", "the file is not UTF-8 text", seen, "Save it as UTF-8", "not-utf-8")
            )
    if problems:
        raise BrokenFolder(problems)
    return texts


def write_folder(path: Path, texts: Mapping[str, str]) -> None:
    """Write the texts below a folder, making sub-folders; files that are not named stay as they are."""
    for name, text in texts.items():
        file = path / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8", newline="\n")
