"""The commands that need the desk, as they are typed: the first start, the second one, and what goes wrong."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from django.db import connection

from keyhook_desk.command import DEMO_PEOPLE, calculators

pytestmark = pytest.mark.skipif(connection.vendor != "sqlite", reason="these make their own database file")


EDIT = """
import django
django.setup()
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.services import hire_of, save_hire
from keyhook_desk.people.models import User
hire = hire_of(HireRow.objects.get(name="H12")).model_copy(update={"note": "kept"})
save_hire(actor=User.objects.get(username="odo"), hire=hire, seen_version=1)
"""


@pytest.fixture
def keyhook(tmp_path):
    plain = {key: value for key, value in os.environ.items() if not key.startswith(("KEYHOOK", "PG", "DJANGO"))}

    def run(*words, **environment):
        return subprocess.run(
            [sys.executable, "-m", "keyhook_desk", *words],
            env={**plain, "PYTHONPATH": os.pathsep.join(sys.path), "KEYHOOK_HOME": str(tmp_path), **environment},
            capture_output=True, text=True, check=False, timeout=120,
        )  # fmt: skip

    return run


def test_the_demo_prints_its_day_and_the_second_start_keeps_what_was_entered(keyhook, tmp_path):
    first = keyhook("demo", "--no-serve")
    assert first.returncode == 0, first.stderr
    assert "Loaded 6 build sheets, 17 vehicles, 25 hires." in first.stdout
    assert "Hector Grobblestock" in first.stdout
    for login, _, role in DEMO_PEOPLE:
        assert f"{login} ({role})" in first.stdout

    home = {"KEYHOOK_HOME": str(tmp_path), "DJANGO_SETTINGS_MODULE": "keyhook_desk.settings"}
    done = subprocess.run(
        [sys.executable, "-c", EDIT], env={**os.environ, **home, "PYTHONPATH": os.pathsep.join(sys.path)},
        check=False, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr

    second = keyhook("demo", "--no-serve")
    assert "Loaded" not in second.stdout
    keyhook("export", str(tmp_path / "out"))
    assert 'note = "kept"' in (tmp_path / "out" / "hires" / "H12.toml").read_text()


def test_what_goes_wrong_is_one_sentence_without_a_trace(keyhook, tmp_path):
    for words in (["import", str(tmp_path / "nowhere")], ["export", str(tmp_path / "out")]):
        done = keyhook(*words)
        assert done.returncode != 0
        assert "Traceback" not in done.stderr
        assert done.stderr.strip()


def test_a_person_is_added_from_the_command_line(keyhook):
    done = keyhook("person", "nell", "--name", "Nell Reedy", "--password", "three-old-kettles")
    assert done.stdout == "nell may log in as manager.\n"
    again = keyhook("person", "nell", "--name", "Nell Reedy", "--password", "three-old-kettles")
    assert again.returncode != 0
    assert "This login is taken or empty (saw nell)" in again.stderr


def test_a_database_without_its_guard_is_not_served(keyhook, tmp_path):
    import sqlite3  # noqa: PLC0415

    keyhook("migrate")
    with sqlite3.connect(tmp_path / "desk.sqlite3") as base:
        base.execute("DROP TRIGGER hire_no_double_update")
    done = keyhook("migrate")
    assert done.returncode != 0
    assert "keyhook.E002" in done.stderr


def test_every_command_says_what_it_is_for():
    for name, command in calculators.commands.items():
        assert command.help, name
        for option in command.params:
            assert option.param_type_name == "argument" or option.help, (name, option.name)
