"""`manage.py load_test`: a show Saturday in fast motion, on databases of its own, on this machine.

The harness is in `tests/load`. It runs on SQLite and, with `--postgres URL`, on PostgreSQL too;
papers are drawn by two workers over a Redis that is found or started for it. It speaks to no
other machine: server and visitors are on the loopback address.
"""

from __future__ import annotations

import importlib
import os
import sys
from argparse import ArgumentParser
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from showrun.project.management.apart import is_apart, run_apart
from showrun.project.management.services_for_tests import Missing, own_redis

SIZES = ("shows", "wagons", "judges", "speed", "seconds", "seed")


class Command(BaseCommand):
    """`load_test [--shows N] [--wagons N] [--judges N] [--speed X] [--postgres URL]`"""

    help = "Let phones, the office and exhibitors come as on a show Saturday, and time the answers."
    # The child works on a database that does not exist yet.
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--shows", type=int, default=8, help="Shows at once.")
        parser.add_argument("--wagons", type=int, default=40, help="Wagons of each.")
        parser.add_argument("--judges", type=int, default=30, help="Judges of each, a phone each.")
        parser.add_argument("--speed", type=float, default=2.0, help="How many times as fast.")
        parser.add_argument("--seconds", type=float, default=30.0, help="Of each of two parts.")
        parser.add_argument("--seed", type=int, default=1, help="The same touches and moments.")
        parser.add_argument("--postgres", help="postgres://user@host:port/postgres of a server.")
        parser.add_argument("--only", choices=("sqlite", "postgresql"), help="One database only.")

    def handle(self, *args: Any, **options: Any) -> None:
        if min(options[name] for name in SIZES) <= 0:
            raise CommandError("Every number must be above zero.")
        if options["only"] == "postgresql" and not options["postgres"]:
            raise CommandError("Say with --postgres where the server is.")
        if not is_apart():
            sys.exit(_run_on_each(options))
        try:
            run = importlib.import_module("tests.load.run")
        except ModuleNotFoundError as fault:
            raise CommandError(f"The harness is not installed: {fault}") from fault
        call_command("migrate", verbosity=0)
        asked = run.Asked(**{name: options[name] for name in SIZES})
        if not run.rush(asked, folder=Path(os.environ["SHOWRUN_DATA"]), say=self.stdout.write):
            raise CommandError("Something failed or was lost.", returncode=1)


def _run_on_each(options: dict[str, Any]) -> int:
    """Run the day on the databases asked for, one after the other; return the worse exit code."""
    words = ["load_test", *(f"--{name}={options[name]}" for name in SIZES)]
    servers = [None] if options["only"] != "postgresql" else []
    if options["postgres"] and options["only"] != "sqlite":
        servers.append(options["postgres"])
    with ExitStack() as until:
        redis = own_redis(until)
        if isinstance(redis, Missing):
            raise CommandError(redis.reason)
        return max(run_apart(words, postgres=at, broker=f"{redis.url}/0") for at in servers)
