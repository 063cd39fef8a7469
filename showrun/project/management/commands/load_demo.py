"""Load the invented show: bare for a run, or up to the morning of judging."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction
from django.utils import timezone

from showrun.project.demo.load import load_day, load_show
from showrun.project.demo.scenario import read_scenario
from showrun.shows.models import Show


class Command(BaseCommand):
    """`load_demo [--bare]`"""

    help = "Load the demonstration show from fixtures_demo/."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--bare", action="store_true", help="Only the show, its card and its people."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        scenario = read_scenario()
        if Show.objects.filter(slug=scenario.meta["slug"]).exists():
            self.stdout.write("The demonstration show is there already.")
            return
        at = timezone.now()
        with transaction.atomic():
            show = load_show(scenario, at=at)
            if not options["bare"]:
                load_day(scenario, show, at=at)
        self.stdout.write(f"Loaded {show.name}.")
