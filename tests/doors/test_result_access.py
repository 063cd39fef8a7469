"""Who may see the office's results, and who may compute, sign and release them."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from judging.models import Card, CardMark, Criterion, Result, Signature
from showrun.errors import NotYet
from showrun.shows.models import Person, Show
from tests.judged_show import (
    build_show,
    class_of,
    entry_of,
    judge_of,
    mark_everything,
    office_of,
    release_results,
)
from tests.result_page import computed, judged_by_three, page, press, results

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return judged_by_three()


def test_exhibitors_never_see_results_before_the_release(client: Client, show: Show):
    result = computed(show)
    winner = result.placings.first()
    assert winner
    total = str(winner.total)
    assert total in page(client, show)
    exhibitor = winner.entry.exhibitor
    public = reverse("judging:results", args=[show.slug])
    for person in (exhibitor, judge_of(show).person):
        client.force_login(person)
        closed = client.get(results(show))
        assert closed.status_code == 403
        assert total not in closed.content.decode()
        seen = client.get(public)
        assert seen.status_code == 200
        assert total not in seen.content.decode()
    release_results(show)
    client.force_login(exhibitor)
    assert total in client.get(public).content.decode()
    assert client.get(results(show)).status_code == 403


def test_deeds_are_refused_to_everybody_else(client: Client, show: Show, stranger: Person):
    result = computed(show)
    other = build_show(slug="elsewhere", n_entries=1)
    for person, status in (
        (None, 404),
        (stranger, 404),
        (office_of(other), 404),
        (entry_of(show).exhibitor, 403),
        (judge_of(show).person, 403),
    ):
        client.logout()
        if person:
            client.force_login(person)
        assert client.get(results(show)).status_code == status
        for name, pk in (
            ("compute", class_of(show, "working_harness").pk),
            ("sign", result.pk),
            ("release", result.pk),
        ):
            at = reverse(f"judging:{name}", args=[pk])
            assert client.post(at).status_code == status, (person, name)
            assert client.get(at).status_code == 405
    assert Result.objects.count() == 1
    assert not Signature.objects.exists()


def test_things_that_are_not_there_are_not_found(client: Client, show: Show):
    for name in ("compute", "sign", "release"):
        assert press(client, name, 10**6, office_of(show)).status_code == 404


def test_the_number_of_queries_does_not_grow_with_the_show(client: Client):
    counts = []
    for slug, n_entries in (("small", 3), ("large", 9)):
        show = build_show(
            slug=slug, n_entries=n_entries, n_judges=3, judges_per_section=3, kin=False
        )
        mark_everything(show)
        computed(show)
        client.force_login(office_of(show))
        client.get(results(show))
        with CaptureQueriesContext(connection) as queries:
            assert client.get(results(show)).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_a_row_that_went_missing_behind_the_count_leaves_nobody_out_in_silence(show: Show):
    card = Card.objects.get(judge=judge_of(show), entry=entry_of(show, 4))  # a stiff tongue
    wheels = CardMark.objects.get(card=card, criterion__code="rg_wheels")
    wheels.criterion = Criterion.objects.get(code="rg_queen_bolt")  # not on this rig
    wheels.save()
    with pytest.raises(NotYet, match="incomplete: entry 4, running_gear"):
        computed(show)
    assert not Result.objects.exists()
