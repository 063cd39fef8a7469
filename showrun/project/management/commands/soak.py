"""`manage.py soak`: phones on a bad line, a server killed again and again, and then the count.

The harness is in `tests/soak`. It works on a database of its own: a file in a temporary folder,
or with `--postgres URL` a database made on that server and dropped afterwards.
"""

from __future__ import annotations

import importlib
import os
import subprocess
import sys
import tempfile
from argparse import ArgumentParser
from contextlib import ExitStack
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

ROOT = Path(__file__).resolve().parents[4]
INSIDE = "SHOWRUN_SOAK_INSIDE"
DATABASE = "showrun_soak"


class Command(BaseCommand):
    """`soak [--events N] [--phones N] [--seed N] [--postgres URL]`"""

    help = "Send many touches over a bad line to a server that dies, and count what arrived."
    # The child works on a database that does not exist yet.
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--events", type=int, default=10_000, help="Touches in all.")
        parser.add_argument("--phones", type=int, default=4, help="Phones of each of six judges.")
        parser.add_argument("--seed", type=int, default=1, help="The same touches and troubles.")
        parser.add_argument("--postgres", help="postgres://user@host:port/postgres of a server.")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["events"] < options["phones"] * 6 or options["phones"] < 1:
            raise CommandError("At least one phone a judge, and one touch a phone, please.")
        if os.environ.get(INSIDE) != "1":
            sys.exit(_start_again(options))
        try:
            soak = importlib.import_module("tests.soak.run").soak
        except ModuleNotFoundError as fault:
            raise CommandError(f"The harness is not installed: {fault}") from fault
        call_command("migrate", verbosity=0)
        tally = soak(
            events=options["events"],
            phones_a_judge=options["phones"],
            seed=options["seed"],
            folder=Path(os.environ["SHOWRUN_DATA"]),
            say=self.stderr.write,
        )
        for line in (*tally.lines, *tally.faults):
            self.stdout.write(line)
        if not tally.clean:
            raise CommandError("Something was lost, doubled or changed.", returncode=1)
        self.stdout.write(
            "Every touch is there once, nonsense and late ones aside, and every card is as its "
            "judge left it."
        )


def _start_again(options: dict[str, Any]) -> int:
    """Run in a process whose data are elsewhere; return its exit code."""
    command = [sys.executable, str(ROOT / "manage.py"), "soak"]
    for name in ("events", "phones", "seed"):
        command += [f"--{name}", str(options[name])]
    with ExitStack() as until:
        folder = until.enter_context(tempfile.TemporaryDirectory(prefix="soak-"))
        (Path(folder) / "static").mkdir()
        env = {
            **os.environ,
            INSIDE: "1",
            "DJANGO_SETTINGS_MODULE": "showrun.project.settings",
            "SHOWRUN_DATA": folder,
            "DATABASE_URL": f"sqlite:///{folder}/soak.sqlite3",
            "BROKER_URL": "memory://",
            "LOG_LEVEL": "ERROR",
            "DEBUG": "0",
        }
        if options["postgres"]:
            env["DATABASE_URL"] = _database(options["postgres"], until)
        return subprocess.run(command, env=env, cwd=ROOT, check=False).returncode


def _database(url: str, until: ExitStack) -> str:
    """Make a database on the server and drop it at the end; return its address."""
    import psycopg  # noqa: PLC0415  only for PostgreSQL

    def do(statement: str) -> None:
        with psycopg.connect(url, autocommit=True) as server:
            server.execute(statement)

    do(f"DROP DATABASE IF EXISTS {DATABASE} WITH (FORCE)")
    do(f"CREATE DATABASE {DATABASE}")
    until.callback(do, f"DROP DATABASE IF EXISTS {DATABASE} WITH (FORCE)")
    return urlunsplit(urlsplit(url)._replace(path=f"/{DATABASE}"))
