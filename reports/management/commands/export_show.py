"""Write a whole show into an archive file."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from reports.actions.export_show import keys_closed, write_archive
from showrun.errors import ShowError
from showrun.shows.models import Show


class Command(BaseCommand):
    """`export_show SHOW --out FILE`"""

    help = (
        "Write a show with everything in it into one file, which restore_show reads. Changes no "
        "row. The file holds names, addresses and crews: keep it as you keep the database."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("show", help="The show's address, such as lantern-draw.")
        parser.add_argument("--out", required=True, type=Path, help="The file; it must be new.")

    def handle(self, *args: Any, **options: Any) -> None:
        show = Show.objects.filter(slug=options["show"]).first()
        if show is None:
            raise CommandError(f"There is no show “{options['show']}”.", returncode=2)
        out: Path = options["out"]
        try:
            # Nobody else on this machine may read it, and no file is written over.
            out.touch(mode=0o600, exist_ok=False)
        except OSError as fault:
            raise CommandError(f"{out} cannot be made: {fault.strerror}.", returncode=2) from fault
        try:
            with out.open("w+b") as to:
                written = write_archive(show=show, to=to, at=timezone.now())
        except ShowError as fault:
            out.unlink()
            raise CommandError(fault.detail, returncode=1) from fault
        except BaseException:
            out.unlink()
            raise
        told = written.manifest
        self.stdout.write(
            f"{show}: {told.rows} rows and {len(set(told.files.values()))} files, "
            f"{written.size_bytes} bytes. SHA-256 {written.sha256}"
        )
        for name in told.missing_files:
            self.stdout.write(f"Missing on the disk, and so in the archive: {name}")
        if keys_closed(show):
            self.stdout.write(
                "The archive tells which wagon a code of the food tables stands for, and the key "
                "of a round is not open yet: nobody who tastes or scores may see it."
            )
