"""Bring the whole service back from a backup."""

from __future__ import annotations

from argparse import ArgumentParser
from datetime import UTC
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from showrun.project.backup import restore
from showrun.project.backup.archive import BackupRefused, OpenBackup, open_backup


class Command(BaseCommand):
    """`restore_backup FILE [--check-only] [--replace]`"""

    help = (
        "Bring the whole service back from a file that backup wrote. All of it is looked through "
        "first; then it is there whole or not at all, and every result is computed again. Ends "
        "with 1 if anything is wrong."
    )
    # The database may not be there yet, or be the broken one.
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--check-only", action="store_true", help="Check, and write nothing.")
        parser.add_argument(
            "--replace", action="store_true", help="Let it take the place of what is here."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            with (
                open_backup(options["file"]) as backup,
                restore.looked_through(backup) as database,
            ):
                self._say_what_it_is(backup)
                if options["check_only"]:
                    self.stdout.write("It can be restored. Nothing was written.")
                    return
                restore.demand_target(backup, replace=options["replace"])
                self._restore(backup, database)
        except BackupRefused as fault:
            raise CommandError(str(fault), returncode=1) from fault

    def _say_what_it_is(self, backup: OpenBackup) -> None:
        told = backup.manifest
        self.stdout.write(
            f"Backup of {told.made_at}, {told.engine} {told.engine_version}: {told.rows} rows of "
            f"{len(told.tables)} tables, {len(told.files)} files; seal, checksums, database and "
            "row counts are right."
        )

    def _restore(self, backup: OpenBackup, database: Path) -> None:
        at = timezone.now().astimezone(UTC)
        done = restore.put_back(backup, database, at=at)
        self.stdout.write(
            f"Restored: {backup.manifest.rows} rows; {done.files.written} files written, "
            f"{done.files.there} were there."
        )
        if done.kept:
            self.stdout.write(done.kept)
        if done.files_missing:
            self.stdout.write(f"{done.files_missing} files that rows name are missing.")
        if done.migrations_waiting:
            self.stdout.write(
                f"{done.migrations_waiting} migrations wait: run migrate, then verify_results for "
                "each show. The results were not computed again."
            )
            return
        found = restore.verified()
        restore.note_in_record(backup, at=at)
        for line in found.differences:
            self.stdout.write(line)
        if found.differences:
            raise CommandError(
                f"All is restored, but {len(found.differences)} of its results are not what its "
                "touches give; each is named above.",
                returncode=1,
            )
        self.stdout.write(
            f"The results of {found.classes} classes were computed again from the touches: "
            "they are those that are kept."
        )
