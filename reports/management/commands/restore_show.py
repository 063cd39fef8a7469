"""Bring a whole show back from an archive file."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from judging.queries.verified import differences, results_of
from reports.actions.check_archive import open_archive
from reports.actions.restore_show import free_slug, restore_show
from showrun.errors import ShowError
from showrun.shows.models import Show


class Command(BaseCommand):
    """`restore_show FILE [--as SLUG] [--check-only]`"""

    help = (
        "Bring a show back from a file export_show wrote. The file is checked from end to end "
        "first; a show is written whole or not at all, and no other show is touched."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--as", dest="as_slug", help="Another address for the show.")
        parser.add_argument("--check-only", action="store_true", help="Check, and write nothing.")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            with open_archive(options["file"]) as archive:
                told = archive.manifest
                self.stdout.write(
                    f"{told.name} (“{told.slug}”), archived {told.made_at}: {told.rows} rows, "
                    f"{len(told.members)} members, every checksum right."
                )
                if options["check_only"]:
                    slug = free_slug(archive, options["as_slug"])
                    self.stdout.write(f"It can be restored as “{slug}”. Nothing was written.")
                    return
                done = restore_show(archive=archive, as_slug=options["as_slug"], at=timezone.now())
        except ShowError as fault:
            raise CommandError(fault.detail, returncode=1) from fault
        self.stdout.write(
            f"Restored as “{done.show.slug}”: {done.rows} rows, {done.files} files"
            + (f", {done.files_missing} files were missing already." if done.files_missing else ".")
        )
        self._verify(done.show)
        self.stdout.write(
            "Pair the judges' phones and make calendar links anew; what is due, such as an hour of "
            "release or a place on offer, takes its course here as well."
        )

    def _verify(self, show: Show) -> None:
        """Hold the results against the events, as `verify_results` does."""
        found = list(differences(show))
        for line in found:
            self.stdout.write(line)
        if not found and results_of(show):
            self.stdout.write("Its results are those that the events give.")
