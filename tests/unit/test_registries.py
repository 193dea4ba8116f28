"""Registries are walked, so that no list beside them can rot: commands, settings, phrases, basis words."""

from __future__ import annotations

import ast
import re
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

import keyhook
from keyhook.phrases import phrase_book
from keyhook_desk.command import calculators

ROOT = Path(__file__).resolve().parents[2]
PURE = Path(keyhook.__file__).parent


@pytest.mark.parametrize("name", sorted(name for name, one in calculators.commands.items() if not one.hidden))
def test_every_command_is_documented_and_helps(name):
    assert re.search(rf"`{name}\b", (ROOT / "docs" / "commands.md").read_text(encoding="utf-8"))
    shown = CliRunner().invoke(calculators, [name, "--help"])
    assert shown.exit_code == 0
    assert calculators.commands[name].help


def test_every_setting_of_the_environment_is_documented():
    text = (ROOT / "src" / "keyhook_desk" / "settings.py").read_text(encoding="utf-8")
    used = set(re.findall(r'"(KEYHOOK_[A-Z_]+)"', text))
    documented = set(re.findall(r"KEYHOOK_[A-Z_]+", ast.get_docstring(ast.parse(text)) or ""))
    assert used <= documented | {"KEYHOOK_SECRET"}


def test_every_finding_code_in_the_code_stands_in_the_phrase_book():
    book = phrase_book()
    for path in PURE.rglob("*.py"):
        for code in re.findall(r'Finding\(\s*"([a-z_.]+)"', path.read_text(encoding="utf-8")):
            assert code in book, f"{path.name}: {code}"


def test_the_glossary_holds_no_word_twice():
    rows = re.findall(r"^\| ([^|]+) \|", (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8"), re.MULTILINE)
    words = [word.strip() for row in rows[2:] for word in row.split(",")]
    assert len(words) == len(set(words)), sorted(word for word in words if words.count(word) > 1)


def test_the_readme_names_its_two_commands_and_the_picture_is_there():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "./keyhook demo" in text
    assert "./keyhook test" in text
    picture = re.search(r"!\[[^]]+\]\(([^)]+)\)", text)
    assert picture
    assert (ROOT / picture.group(1)).stat().st_size < 150_000


@pytest.mark.parametrize("lock", ["requirements.txt", "requirements-test.txt"])
def test_a_lock_names_no_host(lock):
    assert "://" not in (ROOT / lock).read_text(encoding="utf-8")


def test_every_runtime_dependency_is_locked():
    wanted = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["dependencies"]
    locked = set(re.findall(r"^([a-z0-9-]+)==", (ROOT / "requirements.txt").read_text(encoding="utf-8"), re.MULTILINE))
    for requirement in wanted:
        assert re.split(r"[\[><=]", requirement)[0].lower() in locked
