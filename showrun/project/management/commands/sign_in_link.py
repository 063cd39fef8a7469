"""Print a one-time sign-in link for a person who has no mail at hand."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from showrun.project.demo.links import sign_in_link
from showrun.shows.models import Person


class Command(BaseCommand):
    """`sign_in_link EMAIL [--base http://127.0.0.1:8000]`"""

    help = "Print a one-time sign-in link for each e-mail address."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("email", nargs="+")
        parser.add_argument("--base", default="http://127.0.0.1:8000")

    def handle(self, *args: Any, **options: Any) -> None:
        for email in options["email"]:
            person = Person.objects.filter(email__iexact=email).first()
            if person is None:
                raise CommandError(f"Nobody here has the address {email}.")
            self.stdout.write(sign_in_link(person, options["base"]))
