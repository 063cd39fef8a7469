"""What a show asks of those who enter and the card it judges by, for anybody."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.test import Client
from django.urls import reverse

from entries.models import EntryTerms
from entries.rules.places import Status
from judging.models import ClassCard, Scorecard
from showrun.shows.models import Show, ShowClass
from tests.people import EntryFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def declared(trail: ShowClass, scorecard: Scorecard) -> ClassCard:
    """The trail class counts the whole card."""
    card = ClassCard.objects.create(show_class=trail, method="plain", judges_per_section=2)
    card.sections.set(scorecard.sections.all())
    return card


def text_of(client: Client, name: str, show: Show) -> str:
    answer = client.get(reverse(name, args=[show.slug]))
    assert answer.status_code == 200
    return str(answer.content.decode())


def test_the_terms_of_entering_are_said_before_anybody_enters(client: Client, show: Show):
    Show.objects.filter(pk=show.pk).update(entry_fee_cents=15_000, refund_terms="Burn ban: all.")
    EntryTerms.objects.create(
        show=show,
        opens_at=datetime(2026, 1, 4, 16, tzinfo=UTC),
        closes_at=datetime(2127, 4, 1, 5, tzinfo=UTC),
        promotion_hours=48,
        deposit_cents=10_000,
        refund_steps=[{"until": "2127-04-14", "share_percent": 50}],
        waiver_text="I come at <my> own risk.",
        waiver_version=1,
        animals_asked=True,
        eia_max_age_days=365,
        emergency_asked=True,
        names_judges=True,
    )
    text = text_of(client, "judging:show", show)
    for words in (
        "From Sunday, January 4, 2026, 9:00 AM until Monday, March 31, 2127, 11:00 PM.",
        "3 of 3 left. A place that comes free is offered in that order and held 48 hours.",
        "$150.00, and a deposit of $100.00, held till after the show",
        "Withdrawn up to Monday, April 14, 2127: 50 percent of the fee comes back.",
        "Burn ban: all.",
        "EIA test, at most 365 days before the show&#x27;s first day.",
        "A crew of 2 to 6 people",
        "Somebody to call in an emergency",
        "I come at &lt;my&gt; own risk.",
        "It names the judges.",
        "they are no statement of health",
        "Local codes and officials decide",
    ):
        assert words in text, words
    assert "Enter a wagon" in text


def test_a_show_that_asks_nothing_says_so_plainly(client: Client, show: Show):
    text = text_of(client, "judging:show", show)
    assert "<dt>Entry fee</dt><dd>none</dd>" in text
    assert "Refunds" not in text
    assert "waiver" not in text
    assert "EIA" not in text
    assert "It does not name the judges." in text


def test_before_entries_open_there_is_no_button_but_the_day(client: Client, show: Show):
    opens = datetime(2126, 1, 4, 16, tzinfo=UTC)
    EntryTerms.objects.create(show=show, opens_at=opens)
    enter = reverse("entries:enter", args=[show.slug])
    for name, text in (
        ("show", text_of(client, "judging:show", show)),
        ("home", client.get(reverse("reports:home")).content.decode()),
    ):
        assert enter not in text, name
        assert "January 4, 2126" in text, name
    EntryTerms.objects.update(opens_at=None)
    assert enter in text_of(client, "judging:show", show)


def test_the_wait_list_tells_its_length(client: Client, show: Show):
    EntryFactory.create_batch(3, show=show)
    EntryFactory.create_batch(2, show=show, status=Status.WAITING.value)
    assert "2 wagons wait." in text_of(client, "judging:show", show)


# --- The card -----------------------------------------------------------------------------


def test_anybody_reads_the_card_in_use_for_a_rig(
    client: Client, show: Show, scorecard: Scorecard, declared: ClassCard
):
    row = scorecard.sections.get(code="running_gear").criteria.get(code="running_gear_1")
    row.applies, row.guidance = {"tongue": ["stiff"]}, "Look <under> it."
    row.save()
    address = reverse("judging:show-card", args=[show.slug])
    every = client.get(address).content.decode()
    assert "Running gear</bdi>: 60 points" in every
    assert "Look &lt;under&gt; it." in every
    assert "Only with:" in every
    rig = {"hitch": "team", "draft": "leather", "pattern": "civil", "holdback": "pole_strap"}
    drop = client.get(address, {**rig, "tongue": "drop"}).content.decode()
    assert "Look &lt;under&gt; it." not in drop
    assert "1 of 2 rows on this rig" in drop
    assert '<td class="num" data-label="Worth">60.00</td>' in drop
    stiff = client.get(address, {**rig, "tongue": "stiff"}).content.decode()
    assert "2 of 2 rows on this rig" in stiff
    assert '<td class="num" data-label="Worth">30.00</td>' in stiff
    assert address in text_of(client, "judging:show", show)


def test_a_draft_of_a_card_is_nobodys_to_read(client: Client, show: Show, scorecard: Scorecard):
    Scorecard.objects.filter(pk=scorecard.pk).update(in_use=False)
    text = client.get(reverse("judging:show-card", args=[show.slug])).content.decode()
    assert "This show has no scorecard yet." in text
    assert "Running gear" not in text


def test_what_is_typed_into_the_rig_is_not_believed(
    client: Client, show: Show, scorecard: Scorecard
):
    address = reverse("judging:show-card", args=[show.slug])
    text = client.get(address, {"tongue": '"><script>alert(1)</script>'}).content.decode()
    assert "<script>alert" not in text
    assert "Say all of your rig" in text
