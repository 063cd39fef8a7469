"""Setting the terms of entering: what is noted, what it does to the wait list."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from entries.actions.set_terms import set_terms
from entries.models import Entry, EntryTerms
from entries.queries.terms import terms_of
from entries.rules.places import Status
from entries.rules.refunds import Step
from entries.rules.terms import Terms
from showrun.errors import InvalidInput
from showrun.shows.models import AuditEntry, Person, Show
from tests.people import NOW, EntryFactory

pytestmark = pytest.mark.django_db

WANTED = Terms(
    entry_cap=3,
    entry_fee_cents=12_500,
    promotion_hours=48,
    closes_at=NOW + timedelta(days=3),
    refund_steps=(Step(date(2127, 4, 14), 100),),
    waiver_text="Own risk.\r\nMine too. ",
    emergency_asked=True,
)


def test_what_changed_is_kept_and_noted_line_by_line(show: Show, office: Person):
    set_terms(show=show, terms=WANTED, by=office, at=NOW)
    kept = terms_of(show)
    assert (kept.promotion_hours, kept.closes_at) == (48, NOW + timedelta(days=3))
    assert kept.refund_steps == [{"until": "2127-04-14", "share_percent": 100}]
    assert (kept.waiver_text, kept.waiver_version) == ("Own risk.\nMine too.", 1)
    assert Show.objects.get(pk=show.pk).entry_fee_cents == 12_500
    noted = AuditEntry.objects.filter(verb="set", actor=office)
    changes = {name: (line.before[name], after) for line in noted
               for name, after in line.after.items()}  # fmt: skip
    assert changes == {
        "entry_fee_cents": (0, 12_500),
        "promotion_hours": (None, 48),
        "closes_at": (None, (NOW + timedelta(days=3)).isoformat()),
        "refund_steps": ([], [{"until": "2127-04-14", "share_percent": 100}]),
        "waiver_text": ("", "Own risk.\nMine too."),
        "waiver_version": (0, 1),
        "emergency_asked": (False, True),
    }
    # the same terms again, and terms that are those of every show, note nothing
    set_terms(show=show, terms=WANTED, by=office, at=NOW)
    assert noted.count() == 7


def test_a_show_that_sets_nothing_gets_no_row(show: Show, office: Person):
    set_terms(show=show, terms=Terms(entry_cap=3), by=office, at=NOW)
    assert not EntryTerms.objects.exists()
    assert not AuditEntry.objects.exists()


def test_raising_the_cap_offers_places_in_order_and_lowering_takes_none(show: Show, office: Person):
    for _ in range(3):
        EntryFactory.create(show=show)
    line = [EntryFactory.create(show=show, status=Status.WAITING.value) for _ in range(3)]
    set_terms(show=show, terms=WANTED, by=office, at=NOW)
    offered = set_terms(show=show, terms=replace(WANTED, entry_cap=5), by=office, at=NOW)
    assert offered == line[:2]
    assert [Entry.objects.get(pk=one.pk).status for one in line] == [
        "offered",
        "offered",
        "waiting",
    ]
    with pytest.raises(InvalidInput) as refused:
        set_terms(show=show, terms=replace(WANTED, entry_cap=4), by=office, at=NOW)
    assert "5 places are taken" in refused.value.fields["entry_cap"]
    assert Show.objects.get(pk=show.pk).entry_cap == 5


def test_hours_set_while_places_are_free_offer_them(show: Show, office: Person):
    waiting = EntryFactory.create(show=show, status=Status.WAITING.value)
    assert set_terms(show=show, terms=WANTED, by=office, at=NOW) == [waiting]
