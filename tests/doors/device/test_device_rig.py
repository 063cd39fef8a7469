"""A rig corrected at the wagon, as the phone sends it and as the office hears of it."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from judging.models import Judge, RigReport, RoundEvent
from judging.queries.held import in_plain_words
from judging.rules.cards.scorecard import Mark, MarkState
from judging.rules.round.card_hash import card_hash
from showrun.shows.models import Show
from tests.http_phone import Phone, first_entry
from tests.judged_show import card_events, class_of, mark, office_of, rows_of
from tests.problems import problem
from tests.round_events import rig_found

pytestmark = pytest.mark.django_db


def another(entry) -> dict[str, str]:
    """Return the entry's rig with the other holdback: the pole straps come or go."""
    turned = {"pole_strap": "side_backer", "side_backer": "pole_strap"}
    return {**entry.rig.facts(), "holdback": turned[entry.holdback]}


def test_the_receipt_counts_and_hashes_only_what_counts(judge: Judge, phone: Phone):
    entry = first_entry(judge)
    rows = [row.code for row in rows_of(judge, entry) if row.code != "hn_pole_straps"][:2]
    events = phone.stamp(
        [
            *(mark(entry, code, 7) for code in rows),
            mark(entry, "hn_pole_straps", 4),
            rig_found(entry, another(entry), "side-backer straps"),
        ]
    )
    taken = phone.post({"events": events})
    assert taken.status_code == 200, taken.content
    assert {one["status"] for one in taken.json()["results"]} == {"applied"}
    counting = dict.fromkeys(rows, Mark(MarkState.MARKED, Decimal(7)))
    receipt = {"hash": card_hash(counting), "marks": 2, "handed_in": False}
    assert taken.json()["cards"] == {str(entry.pk): receipt}
    again = phone.post({"events": events})
    assert {one["status"] for one in again.json()["results"]} == {"duplicate"}
    assert again.json()["cards"] == {str(entry.pk): receipt}
    assert RigReport.objects.count() == 1


@pytest.mark.parametrize("rig", ['"stiff"', "null", '{"tongue": "stiff"}', '{"tongue": 1e999}'])
def test_a_rig_that_makes_no_sense_is_held_in_plain_words(judge: Judge, phone: Phone, rig: str):
    entry = first_entry(judge)
    text = (
        '{"events": [{"id": "7c1f6d0e-0d7e-4c55-9c1c-0f3c1a2b3c4d", "seq": 1, "kind": "rig", '
        f'"entry": {entry.pk}, "rig": {rig}}}]}}'
    )
    taken = phone.post(text)
    assert taken.status_code == 200, taken.content
    (held,) = taken.json()["results"]
    assert (held["status"], held["code"]) == ("held", "unreadable")
    assert not RigReport.objects.exists()


def test_the_office_reads_what_rig_was_reported_after_the_hand_in(
    show: Show, judge: Judge, phone: Phone
):
    entry = first_entry(judge)
    phone.send(phone.stamp(card_events(judge, entry, 6)))
    (held,) = phone.send(phone.stamp([rig_found(entry, another(entry), "Saw it late.")]))
    assert (held["status"], held["code"]) == ("held", "card-handed-in")
    (line,) = in_plain_words(show, RoundEvent.objects.filter(applied=False))
    assert line.sent == (
        "Rig at the wagon: drop tongue, team of two, leather tugs, civil pattern, side-backer, "
        'wagon 1 Patient Mule: "Saw it late."'
    )


def test_the_office_is_told_why_there_is_no_result_yet(show: Show, judge: Judge, phone: Phone):
    entry = first_entry(judge)
    phone.send(phone.stamp([rig_found(entry, another(entry))]))
    client = Client()
    client.force_login(office_of(show))
    asked = client.post(
        f"/api/v1/classes/{class_of(show).pk}/result", "{}", content_type="application/json"
    )
    refused = problem(asked, 409, "rig-open")
    assert refused["detail"] == (
        "Wagon 1 Patient Mule: Chidi Abara (J1) found side-backer instead of pole straps. "
        "Adopt the rig found, or leave it as it was entered, before the result."
    )
    page = client.get(reverse("judging:office-results", args=[show.slug]))
    assert refused["detail"] in page.content.decode()
