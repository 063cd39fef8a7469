"""`manage.py words`: brings the catalogues of the languages into step with the sources."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from showrun.project.words import made

ROOT = Path(__file__).resolve().parents[4]


class Command(BaseCommand):
    """Take new sentences in, leave those out that are gone, keep translations, compile."""

    help = "Bring the translations into step with the sources: .po to be edited, .mo to be read."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        """Take whether to look only, and whether to list what lacks."""
        parser.add_argument("--check", action="store_true", help="write nothing, fail if it would")
        parser.add_argument("--lacking", action="store_true", help="list what is untranslated")

    def handle(self, *args: Any, **options: Any) -> None:
        """Say how far each catalogue is, and write what is out of step."""
        stale = []
        for one in made(ROOT):
            name = one.book.path(one.language, "po")
            lacking = len(one.untranslated)
            self.stdout.write(f"{name}: {one.translated} translated, {lacking} untranslated")
            if options["lacking"]:
                self.stdout.writelines(f"    {sentence}\n" for sentence in one.untranslated)
            for path, content in one.files.items():
                at = ROOT / path
                if at.exists() and at.read_bytes() == content:
                    continue
                stale.append(str(path))
                if not options["check"]:
                    at.parent.mkdir(parents=True, exist_ok=True)
                    at.write_bytes(content)
        if options["check"] and stale:
            raise CommandError(f"Out of step, run manage.py words: {', '.join(stale)}")
