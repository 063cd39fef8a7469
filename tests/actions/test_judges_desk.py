"""What a batch reads and tells back: the cards it speaks of, and those others wrote on."""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from judging.actions.record_events import record_events
from judging.models import CardMark
from tests.judged_show import (
    AT,
    build_show,
    card_events,
    draw_panel,
    judge_of,
    mark,
    pair,
    rows_of,
    send,
)

pytestmark = pytest.mark.django_db


def told(device, *events):
    """Send one batch; return the entries whose cards are told back."""
    batch = [
        {"id": str(uuid4()), "seq": seq, "at": AT.isoformat(), **event}
        for seq, event in enumerate(events, start=1000 + device.events.count())
    ]
    return set(record_events(device=device, events=batch, at=AT)[1].open)


@pytest.fixture
def judge():
    """A judge of a show whose panel is drawn."""
    show = build_show()
    draw_panel(show)
    return judge_of(show, "J1")


def wagons_of(judge):
    """The entries the judge sits at."""
    found = {seat.entry_id: seat.entry for seat in judge.seats.select_related("entry")}
    return [found[pk] for pk in sorted(found)]


def a_mark(judge, entry, value=7):
    return mark(entry, rows_of(judge, entry)[0].code, value)


def test_a_card_on_which_somebody_else_wrote_is_told_with_every_batch(judge):
    own, spare = pair(judge)[0], pair(judge, label="spare")[0]
    first, second, third, *_ = wagons_of(judge)
    assert told(own, a_mark(judge, first)) == {first.pk}
    assert told(own, a_mark(judge, second)) == {second.pk}
    # The office corrects a mark: the phone's last receipt for that card is out of date.
    CardMark.objects.filter(card__entry=first).update(device=None, event=None, seq=0, value=2)
    assert told(own, a_mark(judge, second, 8)) == {first.pk, second.pk}
    told(spare, a_mark(judge, third))
    assert told(own, a_mark(judge, second, 9)) == {first.pk, second.pk, third.pk}


def test_a_batch_takes_the_same_reads_early_and_late_in_the_show(judge):
    device = pair(judge)[0]
    *earlier, last = wagons_of(judge)

    def reads(value):
        with CaptureQueriesContext(connection) as asked:
            assert told(device, a_mark(judge, last, value)) == {last.pk}
        return len(asked)

    reads(5)
    early = reads(6)
    send(device, [event for entry in earlier for event in card_events(judge, entry)])
    assert reads(7) == early
