"""`manage.py soak`: phones on a bad line, a server killed again and again, and then the count.

The harness is in `tests/soak`. It works on a database of its own: a file in a temporary folder,
or with `--postgres URL` a database made on that server and dropped afterwards.
"""

from __future__ import annotations

import importlib
import os
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from showrun.project.management.apart import is_apart, run_apart


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
        if not is_apart():
            words = [f"--{name}={options[name]}" for name in ("events", "phones", "seed")]
            sys.exit(run_apart(["soak", *words], postgres=options["postgres"]))
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
