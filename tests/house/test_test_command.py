"""The `test` command's own reckoning: what counts as failed, skipped or left out."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from contextlib import ExitStack
from pathlib import Path

import pytest

from showrun.project.management.commands import test as command
from showrun.project.management.commands.test import Outcome, Run, Suite
from showrun.project.management.services_for_tests import Missing, find_chromium
from tests.house.tree import ROOT

CASES = """
import pytest

def test_good(): pass
def test_bad(): assert 0
def test_later(): pytest.skip("no wagon here")
@pytest.mark.xfail
def test_known(): assert 0
@pytest.fixture
def broken(): raise ValueError
def test_setup(broken): pass
@pytest.fixture
def leaky():
    yield
    raise ValueError
def test_teardown(leaky): pass
def test_bad_twice(leaky): assert 0
"""


def report_of(folder: Path, source: str) -> Run:
    """Run pytest on a small file of its own and read the report."""
    (folder / "test_cases.py").write_text(source)
    (folder / "pytest.ini").write_text("[pytest]\n")
    report = folder / "report.xml"
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-p", "no:django", "-q", f"--junitxml={report}", "."],
        cwd=folder,
        env={k: v for k, v in os.environ.items() if not k.startswith("PYTEST")},
        capture_output=True,
        check=False,
    )
    return command.read_report(report, done.returncode)


def test_errors_count_as_failed_and_no_test_counts_twice(tmp_path: Path) -> None:
    run = report_of(tmp_path, CASES)
    assert run.totals() == {"passed": 1, "failed": 4, "skipped": 2}
    assert command.own_skips([run]) == {"no wagon here": 1}


def test_a_file_that_cannot_be_read_counts_as_failed(tmp_path: Path) -> None:
    run = report_of(tmp_path, "import no_such_module")
    assert run.exit_code != 0
    assert run.totals() == {"failed": 1}


def test_a_run_that_broke_before_its_report_counts_as_failed(tmp_path: Path) -> None:
    assert command.read_report(tmp_path / "none.xml", 3).totals() == {"failed": 1}


def test_what_ran_on_one_database_is_not_left_out() -> None:
    skipped, passed = Outcome("skipped", "needs PostgreSQL"), Outcome("passed")
    first = Run(0, {("a", "x"): skipped, ("a", "y"): skipped})
    second = Run(0, {("a", "x"): passed})
    assert command.own_skips([first, second]) == {"needs PostgreSQL": 1}
    assert command.own_skips([first]) == {"needs PostgreSQL": 2}


@pytest.mark.parametrize(
    ("args", "rest", "marks"),
    [
        (["-m", "browser", "-x"], ["-x"], "browser"),
        (["-mbrowser"], [], "browser"),
        (["--maxfail=1", "-q"], ["--maxfail=1", "-q"], ""),
    ],
)
def test_the_mark_expression_is_taken_out(args: list[str], rest: list[str], marks: str) -> None:
    assert command.split_marks(args) == (rest, marks)


def test_the_second_run_keeps_to_the_chosen_tests() -> None:
    unasked = command.database_paths([])
    assert {"tests/actions", "tests/services", "tests/doors/test_access_table.py"} <= set(unasked)
    assert not [path for path in unasked if path.endswith(("_page.py", "_pages.py"))]
    assert command.database_paths(["tests/house"]) == []
    assert command.database_paths(["tests/flows/test_supervisor.py::test_x"]) == []
    assert command.database_paths(["tests/doors", "tests/rules"]) == ["tests/doors"]
    assert "tests/flows" in command.database_paths(["tests", "-x"])


@pytest.fixture
def suite(monkeypatch: pytest.MonkeyPatch) -> Suite:
    """A suite on a machine with neither Chromium nor Redis."""
    monkeypatch.setattr(command, "find_chromium", lambda env: Missing("no Chromium found"))
    monkeypatch.setattr(
        command, "find_or_start_redis", lambda env, until: Missing("no Redis found")
    )
    monkeypatch.setattr(
        command, "find_or_start_postgres", lambda env, until: "postgres://there/name"
    )
    monkeypatch.delenv("SHOWRUN_TEST_REQUIRE", raising=False)
    with ExitStack() as until:
        return Suite([], until)


def test_each_thing_left_out_has_one_line_and_the_totals_stand_last(
    suite: Suite, capsys: pytest.CaptureFixture[str]
) -> None:
    assert suite.marks == "not browser"
    outcomes = {
        ("a", "1"): Outcome("passed"),
        ("a", "2"): Outcome("skipped", "TEST_REDIS_URL is not set"),
        ("a", "3"): Outcome("skipped", "no harness"),
    }
    suite.runs = [Run(0, outcomes), Run(0, {("a", "1"): Outcome("passed")})]
    assert suite.finish() == 0
    assert capsys.readouterr().out.splitlines() == [
        "Left out: browser tests - no Chromium found",
        "Left out: tests that talk to a Redis server - no Redis found",
        "Left out: 1 test - no harness",
        "2 passed, 0 failed, 2 skipped",
    ]


def test_each_test_runs_on_one_database_at_least_and_races_on_both(suite: Suite) -> None:
    alone = suite.for_postgres_alone()
    assert {"tests/actions", "tests/doors/test_access_table.py"} <= set(alone)
    assert set(alone) <= set(command.database_paths([]))
    assert not [path for path in alone if path.startswith(("tests/services", "tests/doors/device"))]
    suite.thorough = True
    assert suite.for_postgres_alone() == [], "all on both"
    suite.thorough, suite.args = False, ["tests/actions"]
    assert suite.for_postgres_alone() == [], "what is asked for by name on both"
    suite.args, suite.postgres = [], Missing("no PostgreSQL found")
    assert suite.for_postgres_alone() == [], "all on the one there is"


@pytest.mark.parametrize(
    ("args", "marks", "everything"),
    [
        ([], "", True),
        (["-x", "--durations=9"], "not browser", True),
        (["-k", "wheel"], "", False),
        (["--lf"], "", False),
        ([], "(browser) and not browser", False),
        (["tests/rules"], "", False),
    ],
)
def test_who_chooses_waits_for_nothing_that_all_tests_share(
    args: list[str], marks: str, everything: bool, suite: Suite
) -> None:
    suite.args, suite.marks = args, marks
    assert suite.everything() is everything


def test_what_runs_on_postgres_alone_needs_no_browser_and_is_no_check_of_the_source() -> None:
    """The second run leaves those marks out, so nothing of the kind may wait for it."""
    for path in command.database_paths([]):
        for file in [ROOT / path] if path.endswith(".py") else (ROOT / path).rglob("test_*.py"):
            assert not re.search(r"pytest\.mark\.(browser|static)\b", file.read_text()), file


def test_where_all_is_required_anything_left_out_fails(
    suite: Suite, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SHOWRUN_TEST_REQUIRE", "all")
    suite.runs = [Run(0, {("a", "1"): Outcome("passed")})]
    assert suite.finish() == 1
    suite.left_out.clear()
    assert suite.finish() == 0


@pytest.mark.parametrize("exit_code", [1, 2, 3, 4, 5])
def test_any_run_that_failed_fails_the_whole(suite: Suite, exit_code: int) -> None:
    suite.runs = [Run(0, {("a", "1"): Outcome("passed")}), Run(exit_code)]
    assert suite.finish() == 1


def test_a_choice_may_leave_one_run_without_tests(suite: Suite) -> None:
    suite.args = ["-k", "wheel"]
    suite.runs = [Run(0, {("a", "1"): Outcome("passed")}), Run(5)]
    assert suite.finish() == 0
    suite.runs = [Run(5), Run(5)]
    assert suite.finish() == 1


def test_a_named_chromium_that_is_not_there_is_missing() -> None:
    assert isinstance(find_chromium({"CHROMIUM": "/no/such/browser"}), Missing)
