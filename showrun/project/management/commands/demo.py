"""Run the demonstration show: served for people, or driven once from entry to award sheet."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
import tempfile
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from judging.actions.pair_device import make_pairing_code
from judging.models import Judge
from showrun.project.claims import SupervisorError, check_port, data_in_use
from showrun.project.demo.drive import Drive, DriveFailed
from showrun.project.demo.links import sign_in_link
from showrun.project.demo.scenario import Scenario, read_scenario
from showrun.project.supervisor import Supervisor
from showrun.shows.models import Person, Show

MANAGE = Path(settings.ROOT) / "manage.py"


class Command(BaseCommand):
    """`demo [--port N] [--reset] [--played]` or `demo --run-once --out DIR`"""

    help = "Serve the demonstration show, or run it once unattended."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--reset", action="store_true", help="Begin with a fresh show.")
        parser.add_argument(
            "--played",
            action="store_true",
            help="With a fresh show: play its whole day first, up to the papers (a minute).",
        )
        parser.add_argument(
            "--run-once", action="store_true", help="Drive the show unattended, then stop."
        )
        parser.add_argument("--out", type=Path, help="Where --run-once writes what it made.")

    def handle(self, *args: Any, **options: Any) -> None:
        scenario = read_scenario()
        try:
            if options["run_once"]:
                if options["out"] is None:
                    raise CommandError("--run-once needs --out DIR.")
                self._run_once(scenario, options["host"], options["out"])
            else:
                self._serve(scenario, options)
        except SupervisorError as fault:
            raise CommandError(str(fault)) from fault

    def _say(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()

    # --- served ---------------------------------------------------------------------------
    def _serve(self, scenario: Scenario, options: dict[str, Any]) -> None:
        check_port(options["host"], options["port"])
        supervisor = Supervisor(
            data_dir=Path(settings.DATA),
            host=options["host"],
            port=options["port"],
            broker_url=os.environ.get("BROKER_URL") or None,
            say=self._say,
        )
        if options["reset"]:
            self._reset()
        fresh = options["reset"] or not self._ready(scenario)
        if fresh:
            self._say("Preparing the database and the demonstration show ...")
            call_command("migrate", verbosity=0)
            call_command("load_demo", bare=options["played"], stdout=self.stdout)
        elif options["played"]:
            raise CommandError("The show is there already; add --reset to play it from the start.")
        with supervisor, contextlib.suppress(KeyboardInterrupt):
            base = supervisor.url.rstrip("/")
            if options["played"]:
                self._play(scenario, base, Path(settings.DATA) / "run")
            self._tell(scenario, base)
            supervisor.wait()
        self._say("")
        self._say("Stopped. The show is kept; --reset begins afresh.")

    def _play(self, scenario: Scenario, base: str, out: Path) -> None:
        """Play the day on the served show, as the unattended run does."""

        def link_for(email: str) -> str:
            return sign_in_link(Person.objects.get(email=email), base)

        try:
            Drive(base=base, scenario=scenario, link_for=link_for, out=out, say=self._say).run()
        except DriveFailed as fault:
            raise CommandError(str(fault)) from fault

    def _reset(self) -> None:
        """Remove the show's database, files and queue, unless a run is using them."""
        engine = settings.DATABASES["default"]["ENGINE"]
        if not engine.endswith("sqlite3"):
            raise CommandError("--reset only empties the demonstration's own SQLite file.")
        if data_in_use(Path(settings.DATA)):
            raise CommandError("The show is being served; stop that run first, then --reset.")
        name = Path(settings.DATABASES["default"]["NAME"])
        for path in (name, name.with_name(name.name + "-wal"), name.with_name(name.name + "-shm")):
            path.unlink(missing_ok=True)
        for folder in (Path(settings.MEDIA_ROOT), Path(settings.DATA) / "broker"):
            shutil.rmtree(folder, ignore_errors=True)
        self._say("The old show is gone.")

    def _ready(self, scenario: Scenario) -> bool:
        """Whether the tables are those this code expects and the show is in them."""
        try:
            call_command("migrate", check_unapplied=True, verbosity=0)
        except SystemExit:
            return False
        return Show.objects.filter(slug=scenario.meta["slug"]).exists()

    def _tell(self, scenario: Scenario, base: str) -> None:
        slug, judges = scenario.meta["slug"], scenario.show["people"]["judges"]
        exhibitor = scenario.show["entries"][0]
        self._say(f"\n{scenario.meta['name']} is served at {base}/shows/{slug}/\n")
        self._say("Sign in (each link works once; start again for new ones):")
        secretary = scenario.office("show_secretary")
        for part, line in (
            ("Show office", secretary),
            ("Steward (second signature)", scenario.office("steward")),
            ("Exhibitor", {"name": exhibitor["wagon"], "email": exhibitor["exhibitor_email"]}),
        ):
            person = Person.objects.get(email=line["email"])
            self._say(f"  {part}, {line['name']}:\n    {sign_in_link(person, base)}")
        self._say("Judges, each link pairs one phone or browser once:")
        for line in judges[:2]:
            self._say(f"  Judge, {line['name']}:\n    {base}/round/#pair={self._code(line)}")
        self._say("\nCtrl-C stops everything.")

    def _code(self, line: dict[str, Any]) -> str:
        judge = Judge.objects.get(person__email=line["email"])
        return make_pairing_code(judge=judge, by=None, at=timezone.now())[1]

    # --- driven ---------------------------------------------------------------------------
    def _run_once(self, scenario: Scenario, host: str, out: Path) -> None:
        """Start a service of its own on a free port, drive it, stop it."""
        out.mkdir(parents=True, exist_ok=True)
        data = Path(tempfile.mkdtemp(prefix="showrun-run-"))
        env = {
            **os.environ,
            "SHOWRUN_DATA": str(data),
            "DATABASE_URL": f"sqlite:///{data}/show.sqlite3",
        }
        self._say("Preparing a database of its own ...")
        self._manage(env, "migrate", "--verbosity", "0")
        self._manage(env, "load_demo", "--bare")
        supervisor = Supervisor(
            data_dir=data,
            host=host,
            port=0,
            broker_url=None,
            env={"DATABASE_URL": env["DATABASE_URL"]},
            say=self._say,
        )
        try:
            with supervisor:
                base = supervisor.url.rstrip("/")
                self._say(f"Service up at {base}")
                links = self._links(env, scenario, base)
                drive = Drive(
                    base=base,
                    scenario=scenario,
                    link_for=links.__getitem__,
                    out=out,
                    say=self._say,
                )
                drive.run()
            self._say(self._manage(env, "verify_results", scenario.meta["slug"]).strip())
        except DriveFailed as fault:
            raise CommandError(f"{fault} The service's logs are in {data}/logs.") from fault
        shutil.rmtree(data, ignore_errors=True)
        self._say(f"Done: results.json, timetable.json, events.jsonl and papers/ are in {out}.")

    def _manage(self, env: dict[str, str], *words: str) -> str:
        done = subprocess.run(
            [sys.executable, str(MANAGE), *words],
            env=env,
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            raise CommandError(f"{words[0]} failed: {done.stderr.strip()[-400:]}")
        return done.stdout

    def _links(self, env: dict[str, str], scenario: Scenario, base: str) -> dict[str, str]:
        people = [line["email"] for line in scenario.show["people"]["office"]]
        people += [line["exhibitor_email"] for line in scenario.all_entries]
        lines = self._manage(env, "sign_in_link", "--base", base, *people).split()
        return dict(zip(people, lines, strict=True))
