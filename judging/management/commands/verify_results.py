"""Compute a show's results again from the events of the round, and hold both beside each other."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection, transaction

from judging.queries.verified import differences, results_of
from showrun.shows.models import Show


class Command(BaseCommand):
    """`verify_results SHOW`"""

    help = (
        "Tell the round again from its events, compute every result anew and name each difference "
        "from what is kept, a line each. Reads only. Ends with 1 if there is any."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("show", help="The show's address, such as lantern-draw.")

    def handle(self, *args: Any, **options: Any) -> None:
        own = not connection.in_atomic_block
        with transaction.atomic():
            if own and connection.vendor == "postgresql":
                # All is read as of one moment, while phones go on writing.
                with connection.cursor() as cursor:
                    cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            show = Show.objects.filter(slug=options["show"]).first()
            if show is None:
                raise CommandError(f"There is no show “{options['show']}”.", returncode=2)
            found = 0
            for line in differences(show):
                self.stdout.write(line)
                found += 1
            classes = results_of(show)
        if found:
            several = "s" if found > 1 else ""
            raise CommandError(f"{show}: {found} difference{several}.", returncode=1)
        results = f"the results of {classes} class{'es' if classes != 1 else ''} are"
        self.stdout.write(f"{show}: {results} those that the events give.")
