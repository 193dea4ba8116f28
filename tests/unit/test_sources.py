"""Every source key used in code stands in docs/sources, with title, place and how it was read."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
USED = re.compile(r"""source=["']([a-z0-9-]+)["']""")


def _sources() -> dict[str, dict[str, str]]:
    pages = sorted((ROOT / "docs" / "sources").glob("*.toml"))
    merged: dict[str, dict[str, str]] = {}
    for page in pages:
        for key, entry in tomllib.loads(page.read_text(encoding="utf-8")).items():
            assert key not in merged, f"{key} stands twice, again in {page.name}"
            merged[key] = entry
    return merged


def test_every_source_says_what_it_is_where_it_stands_and_how_it_was_read():
    for key, entry in _sources().items():
        assert {"title", "where", "read"} <= set(entry), key
        assert entry["read"] in {"seen", "secondary", "memory"}, key


@pytest.mark.parametrize("path", sorted((ROOT / "src" / "keyhook").rglob("*.py")), ids=lambda p: p.name)
def test_code_names_only_sources_that_exist(path):
    unknown = set(USED.findall(path.read_text(encoding="utf-8"))) - set(_sources())
    assert unknown == set()
