"""The practice wagon is in no count, no question and no result."""

from __future__ import annotations

import re
from dataclasses import asdict
from datetime import timedelta

import pytest
from django.core.serializers.json import DjangoJSONEncoder
from django.db import transaction
from django.test import Client

from entries.models import Entry
from entries.queries.entries import entries_by_exhibitor, entries_of, own_wagons, places_left
from entries.rules.numbering import next_number
from judging.actions.ask_questions import ask_questions
from judging.actions.compute_result import compute_result
from judging.models import CardMark, Judge, Question
from judging.queries.progress import progress_of
from judging.queries.results import show_inputs
from judging.queries.stages import alarms_of, standing_of
from showrun.shows.models import Show
from tests.judged_show import AT, build_show, entry_of, mark_everything, office_of, open_window
from tests.practice_wagon import give, set_up

pytestmark = pytest.mark.django_db


def everything_counted(show: Show) -> str:
    """Return all that is counted, asked and computed, as text; what is computed is undone."""
    standing = asdict(standing_of(show, hands_needed=2))
    counted = {
        "progress": progress_of(show),
        "standing": {key: value for key, value in standing.items() if "practice" not in key},
        "alarms": alarms_of(show, standing_of(show, hands_needed=2)),
        "entries": list(entries_of(show)),
        "places": places_left(show),
        "mine": entries_by_exhibitor(office_of(show)) + own_wagons(office_of(show), show),
        "next": next_number(
            n for n in Entry.objects.filter(show=show).values_list("number", flat=True) if n
        ),
        "inputs": {
            key: (inputs.fingerprint(), inputs.points, inputs.missing, inputs.unseated)
            for key, inputs in show_inputs(show, show.classes.all()).items()
        },
    }
    with transaction.atomic():
        later = AT + timedelta(hours=3)
        asked = ask_questions(show=show, by=office_of(show), at=later)
        counted["asked"] = (asked.n_checked, asked.threshold)
        counted["questions"] = list(
            Question.objects.order_by("pk").values_list(
                "judge", "entry", "criterion", "value", "expected", "statistic"
            )
        )
        for show_class in show.classes.all():
            result = compute_result(show_class=show_class, by=office_of(show), at=later)
            places = result.placings.values_list("entry", "place", "total", "by_section")
            counted[show_class.code] = (result.inputs_hash, list(places.order_by("entry")))
        counted["pages"] = [page(show, address) for address in PAGES]
        transaction.set_rollback(True)
    return DjangoJSONEncoder(default=repr, indent=1).encode(counted)


# Without those that print the clock or when a phone was last heard of.
PAGES = (
    "/shows/{slug}/", "/shows/{slug}/results/", "/shows/{slug}/office/entries/",
    "/shows/{slug}/office/panel/", "/shows/{slug}/office/window/",
    "/shows/{slug}/office/results/", "/shows/{slug}/office/questions/",
    "/api/v1/shows/{slug}", "/api/v1/shows/{slug}/entries", "/api/v1/shows/{slug}/panel",
    "/api/v1/shows/{slug}/window", "/api/v1/shows/{slug}/progress",
    "/api/v1/shows/{slug}/questions", "/api/v1/shows/{slug}/results",
)  # fmt: skip


def page(show: Show, address: str) -> str:
    client = Client()
    client.force_login(office_of(show))
    answered = client.get(address.format(slug=show.slug))
    assert answered.status_code == 200, address
    text = str(answered.content.decode())
    text = re.sub(r'(csrfmiddlewaretoken" value=|nonce=)"[^"]+"', "", text)
    # A number that was given out is not given out again, though its row was taken back.
    return re.sub(
        r"(results/|sign-|release-|questions?[/-]|value-|reason-|\"id\":)\d+", r"\1", text
    )


def test_practice_marks_change_no_figure_question_or_result():
    show = build_show(n_entries=4)
    open_window(show)
    mark_everything(show)
    before = everything_counted(show)
    wagon = set_up(show)
    for n, judge in enumerate(Judge.objects.filter(show=show).select_related("show")):
        # As far apart as can be: the checks would ask about every one of these.
        give(judge, wagon, 10 if n % 2 else 0)
    assert CardMark.objects.filter(card__entry=wagon).count() == 32
    assert everything_counted(show) == before


def test_what_is_counted_would_show_a_mark_that_counts():
    """Or the test above could not fail."""
    show = build_show(n_entries=4)
    open_window(show)
    mark_everything(show)
    before = everything_counted(show)
    CardMark.objects.filter(card__entry=entry_of(show)).update(value=0)
    assert everything_counted(show) != before
