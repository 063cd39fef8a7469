"""Many hands at the ledger at the same moment: each key posts once, no number is left out."""

from __future__ import annotations

from uuid import uuid4

import pytest

from entries.actions.charge_entry import charge_entry
from entries.actions.refund_entry import pay_out
from entries.actions.reverse_posting import reverse_posting
from entries.actions.take_payment import take_payment
from entries.models import Posting
from entries.queries.ledger import accounts_of, balance_of
from entries.rules.ledger import Account, Method
from showrun.errors import Conflict
from showrun.shows.models import Show
from tests.judged_show import AT, build_show, entry_of, office_of
from tests.services.test_race import at_once, locking  # noqa: F401  fixture

pytestmark = pytest.mark.django_db(transaction=True)


def numbers(show: Show) -> list[int]:
    return list(
        Posting.objects.filter(show=show).order_by("number").values_list("number", flat=True)
    )


def test_two_payments_of_one_form_at_once_post_once():
    show = build_show(n_entries=1, n_judges=1)
    entry, office, key = entry_of(show, 1), office_of(show), uuid4()

    def pay() -> int:
        return take_payment(
            entry=entry, cents=5000, method=Method.CASH, key=key, by=office, at=AT
        ).number

    before = balance_of(entry)
    told = at_once([pay] * 2)
    assert len(set(told)) == 1
    assert Posting.objects.filter(show=show, kind="payment").count() == 1
    assert balance_of(entry) == before - 5000


def test_twenty_postings_at_once_are_numbered_without_a_gap():
    show = build_show(n_entries=2, n_judges=1)
    entries, office = [entry_of(show, 1), entry_of(show, 2)], office_of(show)
    first = len(numbers(show))

    def payer(n: int):
        def pay() -> int:
            return take_payment(
                entry=entries[n % 2], cents=100 + n, method=Method.CASH, key=uuid4(), by=office,
                at=AT,
            ).number  # fmt: skip

        return pay

    told = at_once([payer(n) for n in range(20)])
    assert sorted(told) == list(range(first + 1, first + 21))
    assert numbers(show) == list(range(1, first + 21))
    assert accounts_of(show)[Account.CASH] == sum(100 + n for n in range(20))


def test_an_entry_charged_by_eight_at_once_owes_once():
    show = build_show(n_entries=1, n_judges=1)
    Show.objects.filter(pk=show.pk).update(entry_fee_cents=7500)
    entry = entry_of(show, 1)

    def charge() -> int:
        made = charge_entry(entry=entry, by=None, at=AT)
        assert made is not None
        return made.number

    assert len(set(at_once([charge] * 8))) == 1
    assert balance_of(entry) == 7500


def test_what_stands_in_favor_is_paid_out_once_and_a_payment_undone_once():
    show = build_show(n_entries=1, n_judges=1)
    entry, office = entry_of(show, 1), office_of(show)
    paid = take_payment(entry=entry, cents=5000, method=Method.CASH, key=uuid4(), by=office, at=AT)
    favor = -balance_of(entry)

    def refused(deed) -> str:
        try:
            deed()
        except Conflict:
            return "refused"
        return "posted"

    def out() -> str:
        return refused(
            lambda: pay_out(
                entry=entry, cents=favor, method=Method.CASH, key=uuid4(), by=office, at=AT
            )
        )

    def undo() -> str:
        return refused(
            lambda: reverse_posting(posting=paid, key=uuid4(), reason="Twice", by=office, at=AT)
        )

    assert sorted(at_once([out] * 4)) == ["posted"] + ["refused"] * 3
    assert sorted(at_once([undo] * 4)) == ["posted"] + ["refused"] * 3
    assert Posting.objects.filter(show=show, kind="refund").count() == 1
    assert Posting.objects.filter(show=show, kind="reversal").count() == 1
