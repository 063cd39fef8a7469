"""Keep the whole service in one file while it runs."""

from __future__ import annotations

from argparse import ArgumentParser
from datetime import UTC
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from showrun.project.backup.archive import BackupRefused
from showrun.project.backup.take import name_at, take_backup


class Command(BaseCommand):
    """`backup --out FOLDER-OR-FILE [--without-files]`"""

    help = (
        "Write the database and every paper and photo into one file, while the service runs. It is "
        "read again from end to end before it gets its name."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--out", type=Path, required=True, help="A folder, or the file.")
        parser.add_argument(
            "--without-files",
            action="store_true",
            help="The database alone, where a bucket's own copies look after the files.",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        at = timezone.now().astimezone(UTC)
        out = name_at(options["out"].absolute(), at)
        try:
            taken = take_backup(out=out, at=at, with_files=not options["without_files"])
        except BackupRefused as fault:
            raise CommandError(str(fault), returncode=1) from fault
        told = taken.manifest
        self.stdout.write(
            f"{taken.file}: {told.rows} rows of {len(told.tables)} tables and "
            f"{len(told.files)} files, read again from end to end."
        )
        self.stdout.write(f"Seal: {taken.seal}")
        if taken.left_out:
            self.stdout.write(
                f"{len(taken.left_out)} files in the storage are none of this service's and were "
                f"left out, such as {taken.left_out[0]}."
            )
