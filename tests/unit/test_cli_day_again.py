"""A plan kept on the command line, and the day planned again from it: what is said, written and refused."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from keyhook.cli.commands import calculators
from keyhook.cli.held_file import read_held
from keyhook.turnaround.checker import violations
from keyhook.turnaround.events import TaskRuns

DEMO = Path(__file__).resolve().parents[2] / "demo"
FEW = ("--steps", "200")


def _run(*words):
    return CliRunner().invoke(calculators, ["day", *map(str, words)])


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """The demo's changeover day, planned and kept."""
    file = tmp_path_factory.mktemp("kept") / "friday.json"
    said = _run("2026-07-10", "--plan", "--keep", file, *FEW)
    assert said.exit_code == 0
    assert f"Kept in {file}: version 1" in said.stdout
    return file


@pytest.fixture
def mine(kept, tmp_path):
    """A copy of it to write to."""
    return Path(shutil.copy(kept, tmp_path / "mine.json"))


def test_what_is_kept_is_shown_as_it_was_planned(kept):
    said = _run("--held", kept)
    assert said.exit_code == 0
    assert "Plan for Friday 10 July 2026, as it is held (version 1)" in said.stdout
    planned = json.loads(_run("2026-07-10", "--plan", "--json", *FEW).stdout)
    assert json.loads(_run("--held", kept, "--json").stdout)["plan"] == planned["plan"]


def test_the_day_is_planned_again_with_what_happened_and_the_choice_is_kept(kept, mine):
    said = _run("--held", mine, "--now", "11:00", "--return", "W4-09=13:00", "--away", "Pansy=12:00-", "--keep", mine,
                "--choose", "fewest_moved", *FEW)  # fmt: skip
    assert said.exit_code == 0, said.output
    assert "planned again at 11:00" in said.stdout
    assert "W4-09 comes back at 13:00" in said.stdout
    assert "Pansy is away from 12:00" in said.stdout
    before, after = read_held(kept, None), read_held(mine, None)
    assert (after.version, after.now_min) == (2, 660)
    assert violations(after.problem, after.plan) == ()
    for one in before.plan.tasks:
        if one.end_min <= 660:
            assert after.plan.by_task[one.task].start_min == one.start_min
    assert not [one for one in after.plan.tasks if "pansy" in one.people and one.start_min >= 720]
    assert all(
        one.start_min >= 780
        for one in after.plan.tasks
        if after.problem.task_by_id[one.task].vehicle == "W4-09"
    )  # fmt: skip
    shown = _run("--held", mine).stdout
    assert "version 2, planned again at 11:00" in shown
    assert "11:00  W4-09 comes back at 13:00" in shown


def test_a_document_has_the_news_the_choices_what_each_changes_and_the_plan(kept):
    words = ("--held", kept, "--now", "11:00", "--damage", "A4-02=50", "--party", "h11=15:10", "--out", "V2-03")
    found = json.loads(_run(*words, "--json", *FEW).stdout)
    assert [one["kind"] for one in found["news"]] == ["Damage", "VehicleOut", "PartyAt"]
    assert found["now"] == "11:00"
    chosen = next(one for one in found["choices"] if one["name"] == found["chosen"])
    assert chosen["plan"] == found["planned"]["plan"]
    assert chosen["objective"] == found["planned"]["objective"]
    assert all(one["lines"] and one["words"] and one["changes"] for one in found["choices"])
    assert {one["departure"] for one in found["planned"]["chances"]["departures"]} >= {"H11"}


def test_a_task_may_be_called_as_lists_show_it_and_what_it_waits_for_is_over(kept, tmp_path):
    held = read_held(kept, None)
    task = next(one for one in held.plan.tasks if one.start_min < 660 < one.end_min)
    known = held.problem.task_by_id[task.task]
    vehicle = known.vehicle or held.plan.vehicle_of[known.departure]
    file = tmp_path / "later.json"
    said = _run("--held", kept, "--now", "11:00", "--takes", f"{vehicle} {known.name}=11:50", "--keep", file, *FEW)
    assert said.exit_code == 0, said.output
    assert f"{known.name} ({vehicle}) takes until 11:50" in said.stdout
    after = read_held(file, None)
    assert after.plan.by_task[task.task].end_min == 710
    assert after.plan.by_task[task.task].people == task.people
    assert TaskRuns(task.task, task.start_min, 710) is not None


def test_why_says_what_moved_means_and_why_each_task_begins_then(kept):
    said = _run("--held", kept, "--now", "11:00", "--why", *FEW).stdout
    assert "A task is moved when" in said
    assert "nothing was told" in said
    assert "comes back at" in said or "is busy" in said


def test_a_walk_in_that_was_entered_since_is_served_or_told_why_not(kept, tmp_path):
    yard = Path(shutil.copytree(DEMO, tmp_path / "yard"))
    text = (yard / "hires" / "H11.toml").read_text(encoding="utf-8")
    text = text.replace('id = "H11"', 'id = "H30"').replace('vehicle = "V2-03"\n', "")
    (yard / "hires" / "H30.toml").write_text(text, encoding="utf-8")
    shown = _run("--held", kept, "--depot", yard, *FEW)
    assert "H30 leaves on this day and is not in the plan: tell --walk-in H30" in shown.stdout
    said = _run("--held", kept, "--depot", yard, "--now", "09:00", "--walk-in", "H30", *FEW)
    assert said.exit_code == 0, said.output
    assert "Walk-in H30, leaving at 14:20" in said.stdout
    assert "H30 can be served, in" in said.stdout or "H30 finds no room today" in said.stdout


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--now", "07:30"), "The yard opens at 08:00"),
        (("--now", "23:00"), "This day is over"),
        (("--now", "noon"), "Write it like 14:30"),
        (("--now", "9:00", "--return", "W4-7=13:00"), "Did you mean W4-07?"),
        (("--now", "9:00", "--away", "nobody"), "no such person"),
        (("--now", "9:00", "--away", "hob=14:00"), "14:00- from then on, -14:00 until then"),
        (("--now", "9:00", "--closed", "washbay"), "Did you mean wash_bay?"),
        (("--now", "9:00", "--closed", "wash_bay=15:00-14:00"), "The end is not after the start"),
        (("--now", "9:00", "--party", "H1=14:00"), "H10, H11"),
        (("--now", "9:00", "--done", "W4-02"), "More than one task could be meant"),
        (("--now", "9:00", "--done", "W4-02 vacum"), "Did you mean W4-02 Vacuum"),
        (("--now", "9:00", "--damage", "W4-02=much"), "Give whole minutes"),
        (("--now", "9:00", "--walk-in", "H99"), "There is no hire of this number"),
        (("--now", "9:00", "--return", "W4-09=+20", "--return", "W4-09=12:00"), "cannot both be true"),
        (("--now", "9:00", "--return", "W4-06=12:00"), "stands in the yard"),
        (("--now", "9:00", "--keep", DEMO / "depot.toml"), "keeps no plan"),
        (("--now", "9:00", "--keep", "/nowhere/at-all/plan.json"), "no such folder"),
        (("--evening",), "a question of its own"),
        (("--keep", "x.json"), "There is no plan to keep"),
    ],
)
def test_what_cannot_be_is_one_sentence_and_nothing_is_written(kept, words, says):
    before = kept.read_text(encoding="utf-8")
    said = _run("--held", kept, *words, *FEW)
    assert said.exit_code == 2
    assert says in said.stderr
    assert said.stderr.strip().count("\n") == 0
    assert kept.read_text(encoding="utf-8") == before


def test_the_day_of_the_file_counts_and_another_one_is_refused(kept):
    said = _run("2026-07-11", "--held", kept)
    assert said.exit_code == 2
    assert "keeps the plan of another day (saw 2026-07-10)" in said.stderr
    assert _run("--now", "10:00").exit_code == 2


@pytest.mark.parametrize("text", ["", "[]", "no plan", '{"kind": "keyhook.held_plan"}', "\udce9"])
def test_a_file_that_keeps_no_plan_is_refused(tmp_path, text):
    file = tmp_path / "plan.json"
    file.write_bytes(text.encode("utf-8", "surrogateescape"))
    said = _run("--held", file)
    assert said.exit_code == 2
    assert "plan" in said.stderr
    assert "Traceback" not in said.output


def test_a_plan_altered_by_hand_names_the_rule(mine):
    document = json.loads(mine.read_text(encoding="utf-8"))
    document["plan"]["tasks"][3]["end_min"] += 9
    mine.write_text(json.dumps(document), encoding="utf-8")
    said = _run("--held", mine, "--now", "10:00")
    assert said.exit_code == 2
    assert "This plan breaks a rule of its day (saw " in said.stderr
    assert "pace" in said.stderr


def test_the_plan_of_another_day_and_other_files_are_never_written_over(mine, tmp_path):
    assert "keeps the plan of another day" in _run("2026-07-16", "--plan", "--keep", mine, *FEW).stderr
    notes = tmp_path / "notes.txt"
    notes.write_text("ring the Larkspurs", encoding="utf-8")
    assert _run("2026-07-10", "--plan", "--keep", notes, *FEW).exit_code == 2
    assert notes.read_text(encoding="utf-8") == "ring the Larkspurs"


def test_in_the_middle_of_a_day_the_time_has_to_be_told_and_cannot_go_back(mine):
    assert _run("--held", mine, "--now", "11:00", "--keep", mine, *FEW).exit_code == 0
    assert "Say what time it is with --now" in _run("--held", mine, "--out", "W4-02").stderr
    assert "cannot be before that" in _run("--held", mine, "--now", "10:30").stderr


def test_a_day_without_hand_overs_is_kept_and_planned_again(tmp_path):
    file = tmp_path / "thursday.json"
    assert _run("2026-07-16", "--plan", "--keep", file, *FEW).exit_code == 0
    said = _run("--held", file, "--now", "09:00", "--away", "hob", *FEW)
    assert said.exit_code == 0, said.output
    assert "Hob is away from 09:00" in said.stdout
