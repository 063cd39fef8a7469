"""The round tells a phone how much of what it sent is here, so that it can see a loss."""

from __future__ import annotations

import pytest

from judging.models import Judge, RoundEvent
from showrun.shows.models import Show
from tests.http_phone import Phone, first_entry
from tests.judged_show import judge_of, mark, rows_of
from tests.round_events import opened
from tests.tampered import unguarded

pytestmark = pytest.mark.django_db


def taken(phone: Phone) -> int:
    """What the round says."""
    return int(phone.round().json()["device"]["taken"])


def test_it_counts_each_event_of_this_phone_once_held_ones_too(show: Show, judge: Judge):
    phone, same_judge, other = Phone(judge), Phone(judge), Phone(judge_of(show, "J2"))
    entry = first_entry(judge)
    row = rows_of(judge, entry)[0].code
    assert taken(phone) == 0
    same_judge.send(same_judge.stamp([mark(entry, row, 5)]))
    batch = phone.stamp([mark(entry, row, 7), {"kind": "mark", "entry": entry.pk}])
    for _ in range(2):
        phone.send(batch)
        assert taken(phone) == 2
    assert RoundEvent.objects.filter(device=phone.device, applied=False).exists()
    assert (taken(same_judge), taken(other)) == (1, 0)


def test_a_touch_known_from_an_earlier_phone_is_not_counted_again(judge: Judge):
    before, phone = Phone(judge), Phone(judge)
    batch = before.stamp([opened(first_entry(judge))])
    before.send(batch)
    assert [one["status"] for one in phone.send(batch)] == ["duplicate"]
    assert (taken(before), taken(phone)) == (1, 0)


def test_a_phone_that_keeps_its_round_hears_of_a_loss(judge: Judge, phone: Phone):
    entry = first_entry(judge)
    phone.send(phone.stamp([opened(entry)]))
    full = phone.round()
    sent = phone.stamp([opened(entry)])
    phone.send(sent)
    assert phone.round(**{"if-none-match": full["ETag"]}).status_code == 200
    with unguarded(RoundEvent):
        RoundEvent.objects.filter(pk=sent[0]["id"]).delete()
    again = phone.round(**{"if-none-match": full["ETag"]})
    # Not modified: the count in the round the phone keeps is the count here.
    assert (again.status_code, full.json()["device"]["taken"]) == (304, 1)
    with unguarded(RoundEvent):
        RoundEvent.objects.filter(device=phone.device).delete()
    assert phone.round(**{"if-none-match": full["ETag"]}).status_code == 200
