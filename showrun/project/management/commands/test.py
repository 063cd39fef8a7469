"""`manage.py test`: what there is on SQLite, what leans on the database on PostgreSQL.

Of the latter, races and what phones send run on both; with TEST_THOROUGH=1, or where they are
asked for by name, so do all the others.

The tests are pytest's; whatever follows `test` on the command line goes to pytest as it is.
Variables: TEST_POSTGRES_URL, TEST_REDIS_URL and CHROMIUM name what the tests should use;
SHOWRUN_TEST_REQUIRE=all makes anything left out a failure.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from showrun.project.management.services_for_tests import (
    Missing,
    find_chromium,
    find_or_start_postgres,
    find_or_start_redis,
    fresh_database,
)

ROOT = Path(__file__).resolve().parents[4]
DATABASE_FOLDERS = ("tests/actions", "tests/doors", "tests/flows", "tests/services")
# In one of those folders, but with no database in it or with servers of their own: once is enough.
NO_DATABASE = (
    "tests/flows/test_backups.py",
    "tests/flows/test_supervisor.py",
    "tests/services/test_api_as_described.py",
    "tests/services/test_backup_drill.py",
    "tests/services/test_paper_faults.py",
    "tests/services/test_plan_jobs.py",
    "tests/services/test_web_faults.py",
    "tests/services/test_worker_papers.py",
)
# What leans on the database itself: verbs, races, archives, the API, what a phone sends, and the
# table of who may do what, which opens every page as every role. How a page or a sheet looks does
# not hang on the database; those files run there too when they are asked for by name.
LEANS_ON_IT = (
    "tests/actions",
    "tests/services",
    "tests/doors/device",
    "tests/doors/test_access_table.py",
    "tests/doors/test_*_api.py",
    "tests/doors/test_result_access.py",
    "tests/flows/test_*archive*.py",
    "tests/flows/test_simulated_morning.py",
    "tests/flows/test_swapped_cards.py",
)
ON_BOTH = ("tests/services", "tests/doors/device")
SETTINGS = "showrun.project.settings"
# One process only: someone wants to look at, or talk with, a test as it runs.
ALONE = ("-n", "--numprocesses", "--dist", "--pdb", "--trace", "--collect-only", "--co", "-s")
# Of the caller's variables the tests take no notice. Hundreds of processes are started: what one
# has compiled, the others read.
NOT_OURS = ("DATABASE_URL", "BROKER_URL", "PYTHONDONTWRITEBYTECODE")
# Who chooses tests by what they are called or how they ended wants those and no others.
CHOOSE = ("-k", "--lf", "--last-failed", "--sw", "--stepwise")
INTERRUPTED, NOTHING_COLLECTED = 2, 5  # pytest's exit codes


@dataclass
class Outcome:
    """How one test ended: passed, skipped or failed, and for a skip why."""

    state: str
    reason: str = ""


@dataclass
class Run:
    """One pytest run: its exit code and how each of its tests ended."""

    exit_code: int
    outcomes: dict[tuple[str, str], Outcome] = field(default_factory=dict)

    def totals(self) -> Counter[str]:
        """Count the outcomes; a run that broke before any test counts as one failure."""
        counted = Counter(outcome.state for outcome in self.outcomes.values())
        if self.exit_code not in (0, NOTHING_COLLECTED) and not counted["failed"]:
            counted["failed"] += 1
        return counted


def outcome_of(case: ET.Element) -> Outcome:
    """Read one test's outcome from pytest's report; an error in its set-up is a failure."""
    if case.find("failure") is not None or case.find("error") is not None:
        return Outcome("failed")
    skipped = case.find("skipped")
    if skipped is None:
        return Outcome("passed")
    expected = skipped.get("type") == "pytest.xfail"  # it ran, and failed as announced
    return Outcome("skipped", "" if expected else skipped.get("message", "no reason given"))


def read_report(report: Path, exit_code: int) -> Run:
    """Read how each test ended; one named twice, for its tear-down, keeps the worse outcome."""
    run = Run(exit_code)
    order = ("passed", "skipped", "failed")
    # The report is the one pytest has just written for us
    for case in ET.parse(report).iter("testcase") if report.exists() else ():  # noqa: S314
        key, found = (case.get("classname", ""), case.get("name", "")), outcome_of(case)
        kept = run.outcomes.setdefault(key, found)
        if order.index(found.state) > order.index(kept.state):
            run.outcomes[key] = found
    return run


def own_skips(runs: Sequence[Run]) -> Counter[str]:
    """Count, by reason, the tests that every run they were in skipped."""
    ended: dict[tuple[str, str], list[Outcome]] = {}
    for run in runs:
        for key, outcome in run.outcomes.items():
            ended.setdefault(key, []).append(outcome)
    skipped = [each[0] for each in ended.values() if all(one.state == "skipped" for one in each)]
    return Counter(outcome.reason for outcome in skipped if outcome.reason)


def split_marks(args: Sequence[str]) -> tuple[list[str], str]:
    """Take the mark expression out of pytest's arguments, so that ours can be added to it."""
    rest: list[str] = []
    marks, takes_next = "", False
    for arg in args:
        if takes_next:
            marks, takes_next = arg, False
        elif arg == "-m":
            takes_next = True
        elif arg.startswith("-m") and not arg.startswith("--"):
            marks = arg[2:].removeprefix("=")
        else:
            rest.append(arg)
    return rest, marks


def chosen_paths(args: Sequence[str]) -> list[str]:
    """Return the arguments that name a test file, folder or single test."""
    return [a for a in args if not a.startswith("-") and (ROOT / a.split("::")[0]).exists()]


def database_paths(args: Sequence[str]) -> list[str]:
    """Return what the second run looks at: what leans on the database, or what was chosen."""
    folders = [ROOT / folder for folder in DATABASE_FOLDERS]
    if not chosen_paths(args):
        found = [path for pattern in LEANS_ON_IT for path in sorted(ROOT.glob(pattern))]
        return [str(path.relative_to(ROOT)) for path in found]
    chosen = {path: (ROOT / path.split("::")[0]).resolve() for path in chosen_paths(args)}
    without = {(ROOT / path).resolve() for path in NO_DATABASE}
    within = [
        path
        for path, full in chosen.items()
        if {full, *full.parents} & set(folders) and full not in without
    ]
    above = [
        str(folder.relative_to(ROOT))
        for folder in folders
        if folder.exists() and any(full in folder.parents for full in chosen.values())
    ]
    return [*within, *above]


class Suite:
    """One call of the command: what it found, ran and left out."""

    def __init__(self, args: Sequence[str], until: ExitStack) -> None:
        self.args, self.marks = split_marks(args)
        self.folder = Path(until.enter_context(tempfile.TemporaryDirectory(prefix="showrun-test-")))
        self.runs: list[Run] = []
        self.left_out: dict[str, str] = {}  # a word its tests' own skips would use -> the line
        self.postgres = find_or_start_postgres(os.environ, until) if database_paths(args) else None
        self.template: str | None = None  # its database that is migrated, for others to copy
        self.thorough = os.environ.get("TEST_THOROUGH") == "1"
        self.env = {name: value for name, value in os.environ.items() if name not in NOT_OURS}
        if self.env.get("DJANGO_SETTINGS_MODULE", SETTINGS) == SETTINGS:
            self.env["DJANGO_SETTINGS_MODULE"] = f"{SETTINGS}.test"
        kept = self.folder / "kept"
        kept.mkdir()
        self.env["TEST_KEPT"] = str(kept)  # what tests make once and copy: `tests/migrated.py`
        chromium = find_chromium(os.environ)
        self._offer("TEST_CHROMIUM", chromium, "chromium", "browser tests")
        if isinstance(chromium, Missing):
            self.marks = f"({self.marks}) and not browser" if self.marks else "not browser"
        server = find_or_start_redis(os.environ, until)
        self._offer("TEST_REDIS_URL", server, "redis", "tests that talk to a Redis server")

    def _offer(self, variable: str, found: str | Missing, word: str, what: str) -> None:
        """Hand the tests what was found, or note that it is missing."""
        if isinstance(found, Missing):
            self.env.pop(variable, None)
            self.left_out[word] = f"Left out: {what} - {found.reason}"
        else:
            self.env[variable] = found

    def everything(self) -> bool:
        """Whether all tests are asked for."""
        chosen = chosen_paths(self.args) or any(arg.startswith(CHOOSE) for arg in self.args)
        return not chosen and self.marks in ("", "not browser")

    def prepare(self, until: ExitStack) -> None:
        """Make what all processes share, where all tests are asked for."""
        if not self.everything():
            return
        print("== What all tests share is made ==", flush=True)
        data = self.folder / "beforehand"
        data.mkdir()
        command = [sys.executable, "-m", "tests.beforehand"]
        env = {**self.env, "SHOWRUN_DATA": str(data)}
        with subprocess.Popen(command, cwd=ROOT, env=env, stdout=subprocess.DEVNULL):
            if isinstance(self.postgres, str):
                self.template = self._migrated(self.postgres, until)

    def run_on_sqlite(self) -> None:
        """Run everything, on the database a laptop has."""
        if not self.thorough:
            print("Drills at their everyday size; TEST_THOROUGH=1 lets them do all they can.")
        later = self.for_postgres_alone()
        print(f"== Everything{' else' if later else ''}, on SQLite ==", flush=True)
        ignored = [f"--ignore={path}" for path in later]
        self._run("sqlite", [*self.args, *ignored], self.marks, {})

    def for_postgres_alone(self) -> list[str]:
        """Return what the stricter database is enough for, where there is one."""
        if self.thorough or chosen_paths(self.args) or not isinstance(self.postgres, str):
            return []
        return [path for path in database_paths(self.args) if not path.startswith(ON_BOTH)]

    def run_on_postgres(self, until: ExitStack) -> None:
        """Run what leans on the database on the one a busy show has."""
        paths, found = database_paths(self.args), self.postgres
        if found is None:
            return  # only tests without a database were asked for
        if isinstance(found, Missing):
            self.left_out["postgres"] = f"Left out: the second run, on PostgreSQL - {found.reason}"
            return
        print("== What leans on the database, on PostgreSQL ==", flush=True)
        marks = "not browser and not static"
        ignored = [f"--ignore={path}" for path in NO_DATABASE]
        args = [arg for arg in self.args if arg not in chosen_paths(self.args)]
        self._run(
            "postgres",
            [*args, *ignored, *paths],
            f"({self.marks}) and {marks}" if self.marks else marks,
            {
                "DATABASE_URL": found,
                "TEST_POSTGRES_TEMPLATE": self.template or self._migrated(found, until),
                # What a power cut would cost is not asked here, and need not be waited for.
                "PGOPTIONS": "-c synchronous_commit=off",
            },
        )

    def _migrated(self, url: str, until: ExitStack) -> str:
        """Migrate one PostgreSQL database for every process of the run to copy; return its name."""
        server, name = url.rsplit("/", 1)
        template = f"test_{name}_migrated"
        made = until.enter_context(fresh_database(server, template))
        env = {**self.env, "DATABASE_URL": made, "SHOWRUN_DATA": str(self.folder)}
        command = [sys.executable, str(ROOT / "manage.py"), "migrate", "--verbosity", "0"]
        subprocess.run(command, env=env, check=True)
        return template

    def _run(self, name: str, args: Sequence[str], marks: str, env: dict[str, str]) -> None:
        """Run pytest once, in a process and with data of its own."""
        report = self.folder / f"{name}.xml"
        command = [sys.executable, "-m", "pytest", f"--junitxml={report}"]
        cores = os.cpu_count() or 1
        # Twice as many as cores: who drives a browser or a worker waits more than it computes.
        workers = min(2 * cores, 8)
        if workers > 1 and not any(arg.startswith(ALONE) for arg in self.args):
            # A file's tests stay together, and the files in the order of `tests/conftest.py`.
            command += ["-n", str(workers), "--dist", "loadfile", "--no-loadscope-reorder"]
        if marks:
            command += ["-m", marks]
        data = self.folder / f"{name}-data"
        data.mkdir()
        everything = {**self.env, "SHOWRUN_DATA": str(data), **env}
        with subprocess.Popen([*command, *args], cwd=ROOT, env=everything) as process:
            try:
                code = process.wait()
            except KeyboardInterrupt:  # pytest has had it too, and says what it got to
                process.wait()
                code = INTERRUPTED
        self.runs.append(read_report(report, code))

    def finish(self) -> int:
        """Print what was left out and the totals, and return the exit code."""
        known = tuple(self.left_out)
        for reason, count in sorted(own_skips(self.runs).items()):
            if not any(word in reason.lower() for word in known):
                tests = "1 test" if count == 1 else f"{count} tests"
                self.left_out[reason] = f"Left out: {tests} - {reason}"
        print("\n".join(self.left_out.values()) or "Nothing was left out.")
        totals: Counter[str] = sum((run.totals() for run in self.runs), Counter())
        print(
            f"{totals['passed']} passed, {totals['failed']} failed, {totals['skipped']} skipped",
            flush=True,
        )
        # A choice of tests may be all with a database, or none: one run then collects nothing.
        harmless = {0, NOTHING_COLLECTED} if self.args and totals["passed"] else {0}
        broken = any(run.exit_code not in harmless for run in self.runs)
        wants_all = os.environ.get("SHOWRUN_TEST_REQUIRE") == "all"
        return int(bool(broken or totals["failed"] or (wants_all and self.left_out)))


def run_suite(args: Sequence[str]) -> int:
    """Run one run after the other and return the exit code."""
    with ExitStack() as until:
        suite = Suite(args, until)
        suite.prepare(until)
        suite.run_on_sqlite()
        if not any(ended.exit_code == INTERRUPTED for ended in suite.runs):
            suite.run_on_postgres(until)
        return suite.finish()


class Command(BaseCommand):
    """The `test` command, in place of Django's."""

    help = "Run the tests on SQLite, and those that lean on the database on PostgreSQL."
    requires_system_checks = []

    def run_from_argv(self, argv: list[str]) -> None:
        """Leave the command line to pytest: its options are not Django's."""
        if {"-h", "--help"} & set(argv[2:]):
            self.print_help(argv[0], argv[1])
            return
        ours = ("--settings=", "--pythonpath=")  # already acted upon
        sys.exit(run_suite([arg for arg in argv[2:] if not arg.startswith(ours)]))

    def add_arguments(self, parser: CommandParser) -> None:
        """Describe the arguments for --help and call_command."""
        parser.add_argument("args", nargs="*", help="Anything pytest understands: paths, -k, -x.")

    def handle(self, *args: str, **options: Any) -> None:
        """Run the tests when called from Python."""
        if code := run_suite(args):
            sys.exit(code)
