"""Posting into the show's ledger: charges, payments, refunds, and undoing them."""

from __future__ import annotations

from datetime import date, timedelta
from importlib import import_module
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.apps import apps
from django.db.models import Sum

from entries.actions.charge_entry import charge_entry, charge_everybody, charge_other
from entries.actions.pay_exhibitor import pay_purse, pay_travel
from entries.actions.refund_entry import keep_deposit_of, pay_out, refund_entry, return_deposit
from entries.actions.reverse_posting import reverse_posting
from entries.actions.take_payment import take_payment
from entries.actions.take_to_bank import bank_money
from entries.actions.withdraw_entry import withdraw_entry
from entries.models import Entry, EntryTerms, Posting, PostingLine
from entries.queries.ledger import accounts_of, balance_of, balances_of, deposit_held, postings_of
from entries.queries.money_pages import entry_balances, left_on, statement_of
from entries.rules.ledger import Account, Method
from entries.rules.places import Status
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.shows.models import AuditEntry, Person, Show
from tests.people import NOW, EntryFactory

pytestmark = pytest.mark.django_db

STEPS = [
    {"until": "2127-04-30", "share_percent": 100},
    {"until": "2127-05-10", "share_percent": 50},
]


@pytest.fixture
def show(show: Show) -> Show:
    """The small show, with a fee of $150, a deposit of $50 and travel money of $75."""
    Show.objects.filter(pk=show.pk).update(entry_fee_cents=15000)
    EntryTerms.objects.create(show=show, deposit_cents=5000, travel_cents=7500, refund_steps=STEPS)
    show.refresh_from_db()
    return show


def charge(entry: Entry, office: Person | None = None) -> Posting | None:
    return charge_entry(entry=entry, by=office, at=NOW)


def pay(entry: Entry, office: Person, cents: int, key: UUID | None = None, **other) -> Posting:
    asked: dict[str, Any] = {"method": Method.CASH, "reference": "", **other}
    return take_payment(entry=entry, cents=cents, key=key or uuid4(), by=office, at=NOW, **asked)


def leave(entry: Entry) -> None:
    Entry.objects.filter(pk=entry.pk).update(status=Status.SCRATCHED.value)


def demand_books_balance(show: Show) -> None:
    """Every posting adds up to nothing, and the numbers have no gap."""
    postings = Posting.objects.filter(show=show)
    for posting in postings.annotate(total=Sum("lines__amount_cents")):
        assert posting.total == 0, posting
    numbers = list(postings.order_by("number").values_list("number", flat=True))
    assert numbers == list(range(1, len(numbers) + 1))
    assert sum(accounts_of(show).values()) == 0


# --- Charging ------------------------------------------------------------------------------


def test_fee_and_deposit_are_charged_once_however_often_asked(entry: Entry, office: Person):
    first = charge(entry, office)
    assert first is not None
    assert (first.number, first.kind, first.entry) == (1, "charge", entry)
    assert charge(entry) == first
    assert balance_of(entry) == 20000
    assert deposit_held(entry) == 5000
    words = [(one.number, one.words) for one in postings_of(entry)]
    assert words == [(1, "Entry fee, Tin Sparrow"), (2, "Deposit, Tin Sparrow")]
    lines = PostingLine.objects.filter(posting=first).values_list("account", "amount_cents")
    assert list(lines) == [("exhibitors", 15000), ("fees", -15000)]
    demand_books_balance(entry.show)


@pytest.mark.parametrize("status", [Status.WAITING, Status.SCRATCHED, Status.PRACTICE])
def test_who_has_no_place_is_charged_nothing(entry: Entry, status: Status):
    Entry.objects.filter(pk=entry.pk).update(status=status.value)
    assert charge(entry) is None
    assert not Posting.objects.exists()


def test_a_show_that_asks_for_nothing_charges_nothing(entry: Entry):
    Show.objects.update(entry_fee_cents=0)
    EntryTerms.objects.update(deposit_cents=0)
    assert charge(entry) is None
    EntryTerms.objects.update(deposit_cents=4000)
    deposit = charge(entry)
    assert deposit is not None
    assert balance_of(entry) == 4000


def test_a_charge_the_office_undid_is_not_made_again(entry: Entry, office: Person):
    fee = charge(entry)
    assert fee is not None
    reverse_posting(posting=fee, key=uuid4(), reason="Guest of the show.", by=office, at=NOW)
    assert charge(entry) == fee
    assert balance_of(entry) == 5000


def test_everybody_with_a_place_is_charged(entry: Entry, other_entry: Entry, office: Person):
    EntryFactory.create(show=entry.show, status=Status.WAITING.value)
    charge(other_entry)
    assert charge_everybody(show=entry.show, by=office, at=NOW) == 2
    assert charge_everybody(show=entry.show, by=office, at=NOW) == 0
    assert balances_of(entry.show) == {entry.pk: 20000, other_entry.pk: 20000}
    assert [line.owed for line in entry_balances(entry.show)] == [20000, 20000]


def test_another_charge_needs_words_and_an_amount(entry: Entry, office: Person):
    asked: dict[str, Any] = {"entry": entry, "account": Account.OTHER, "by": office, "at": NOW}
    charge_other(words="A broken post", cents=2000, key=uuid4(), **asked)
    assert balance_of(entry) == 2000
    for wrong, field in (({"words": " "}, "words"), ({"cents": 0}, "amount")):
        with pytest.raises(InvalidInput) as refused:
            charge_other(**{"words": "Late", "cents": 1, "key": uuid4(), **asked, **wrong})
        assert list(refused.value.fields) == [field]
    assert Posting.objects.count() == 1


# --- Payments ------------------------------------------------------------------------------


def test_a_payment_lowers_what_is_owed_and_too_much_stands_in_favor(entry: Entry, office: Person):
    charge(entry)
    pay(entry, office, 12000, method=Method.CHEQUE, reference="1044")
    assert balance_of(entry) == 8000
    pay(entry, office, 10000)
    assert balance_of(entry) == -2000
    owed = [(line.change, line.owed) for line in statement_of(entry)]
    assert owed == [(15000, 15000), (5000, 20000), (-12000, 8000), (-10000, -2000)]
    held = accounts_of(entry.show)
    assert (held[Account.CHEQUES], held[Account.CASH]) == (12000, 10000)
    record = AuditEntry.objects.filter(verb="payment").latest("id")
    assert record.actor == office
    assert record.after["amount"] == "$100.00"
    demand_books_balance(entry.show)


def test_the_same_form_sent_twice_posts_once(entry: Entry, office: Person):
    key = uuid4()
    assert pay(entry, office, 5000, key) == pay(entry, office, 5000, key)
    assert Posting.objects.count() == 1
    assert AuditEntry.objects.filter(verb="payment").count() == 1


def test_a_form_used_for_something_else_is_refused_not_swallowed(
    entry: Entry, other_entry: Entry, office: Person
):
    key = uuid4()
    pay(entry, office, 5000, key)
    for deed in (
        lambda: pay(entry, office, 6000, key),
        lambda: pay(other_entry, office, 5000, key),
        lambda: charge_other(
            entry=entry, account=Account.OTHER, cents=5000, words="Late", key=key,
            by=office, at=NOW,
        ),
    ):  # fmt: skip
        with pytest.raises(Conflict, match="posting 1 already"):
            deed()
    assert Posting.objects.count() == 1


def test_a_cheque_has_a_number(entry: Entry, office: Person):
    with pytest.raises(InvalidInput) as refused:
        pay(entry, office, 5000, method=Method.CHEQUE)
    assert list(refused.value.fields) == ["reference"]


def test_money_goes_to_the_bank_and_no_more_than_there_is(entry: Entry, office: Person):
    pay(entry, office, 5000)
    asked: dict[str, Any] = {"show": entry.show, "account": Account.CASH, "by": office, "at": NOW}
    with pytest.raises(Conflict, match=r"\$50\.00"):
        bank_money(cents=5001, key=uuid4(), **asked)
    key = uuid4()
    for _ in range(2):
        bank_money(cents=4000, key=key, **asked)
    held = accounts_of(entry.show)
    assert (held[Account.CASH], held[Account.BANK]) == (1000, 4000)
    with pytest.raises(InvalidInput):
        bank_money(cents=1, key=uuid4(), **{**asked, "account": Account.FEES})


# --- Giving back ---------------------------------------------------------------------------


def test_by_the_dates_half_the_fee_comes_back_and_the_deposit_apart_from_it(
    entry: Entry, office: Person
):
    charge(entry)
    pay(entry, office, 20000)
    leave(entry)
    given: dict[str, Any] = {"entry": entry, "by": office, "at": NOW}
    back = refund_entry(key=uuid4(), left_on=date(2127, 5, 1), **given)
    assert back.words == "50 percent of the fee, left May 1"
    assert balance_of(entry) == -7500
    return_deposit(key=uuid4(), **given)
    assert (balance_of(entry), deposit_held(entry)) == (-12500, 0)
    with pytest.raises(Conflict, match=r"\$125\.00 stands"):
        pay_out(cents=12501, method=Method.CASH, key=uuid4(), **given)
    key = uuid4()
    for _ in range(2):
        pay_out(cents=12500, method=Method.CHEQUE, key=key, reference="88", **given)
    assert balance_of(entry) == 0
    assert accounts_of(entry.show)[Account.BANK] == -12500
    demand_books_balance(entry.show)


@pytest.mark.parametrize(
    ("left_on", "cents"), [(date(2127, 4, 30), 15000), (date(2127, 5, 1), 7500)]
)
def test_the_day_of_leaving_decides(entry: Entry, office: Person, left_on: date, cents: int):
    charge(entry)
    leave(entry)
    refund_entry(entry=entry, key=uuid4(), left_on=left_on, by=office, at=NOW)
    assert balance_of(entry) == 20000 - cents


def test_the_day_of_leaving_is_the_wagons_own(entry: Entry, exhibitor: Person):
    """A wagon of the same name that left later changes nothing of an earlier one's refund."""
    namesake: Any = EntryFactory(show=entry.show, wagon_name=entry.wagon_name)
    assert left_on(entry) is None
    left = withdraw_entry(entry=entry, by=exhibitor, at=NOW)
    withdraw_entry(entry=namesake, by=namesake.exhibitor, at=NOW + timedelta(days=4))
    left.refresh_from_db()
    assert left_on(left) == NOW.astimezone(entry.show.tz).date()


def test_a_day_of_leaving_that_only_the_record_had_is_kept(entry: Entry, exhibitor: Person):
    withdraw_entry(entry=entry, by=exhibitor, at=NOW)
    Entry.objects.update(left_at=None)
    import_module("entries.migrations.0005_when_an_entry_left").from_the_record(apps, None)
    assert Entry.objects.get(pk=entry.pk).left_at == NOW


def test_after_the_last_day_nothing_comes_back_but_what_the_office_gives(
    entry: Entry, office: Person
):
    charge(entry)
    leave(entry)
    late = NOW + timedelta(days=20)
    asked: dict[str, Any] = {"entry": entry, "by": office, "at": late}
    with pytest.raises(NotYet, match="nothing of the fee comes back"):
        refund_entry(key=uuid4(), **asked)
    with pytest.raises(InvalidInput) as refused:
        refund_entry(key=uuid4(), cents=3000, **asked)
    assert list(refused.value.fields) == ["reason"]
    refund_entry(key=uuid4(), cents=3000, reason="A lame horse", **asked)
    assert balance_of(entry) == 17000
    assert AuditEntry.objects.filter(verb="credit").latest("id").reason == "A lame horse"
    with pytest.raises(Conflict, match=r"fee still charged, \$120\.00"):
        refund_entry(key=uuid4(), cents=12001, reason="More", **asked)


def test_the_dates_are_for_who_has_left_today_or_before_and_once(entry: Entry, office: Person):
    charge(entry)
    asked: dict[str, Any] = {"entry": entry, "by": office, "at": NOW}
    with pytest.raises(NotYet, match="has left"):
        refund_entry(key=uuid4(), **asked)
    leave(entry)
    with pytest.raises(InvalidInput, match="not come yet"):
        refund_entry(key=uuid4(), left_on=date(2127, 5, 2), **asked)
    first = refund_entry(key=uuid4(), **asked)
    with pytest.raises(Conflict, match=f"posting {first.number}"):
        refund_entry(key=uuid4(), **asked)
    reverse_posting(posting=first, key=uuid4(), reason="Wrong day", by=office, at=NOW)
    refund_entry(key=uuid4(), left_on=date(2127, 4, 1), **asked)
    assert balance_of(entry) == 5000


def test_a_deposit_is_kept_with_a_reason_and_once(entry: Entry, office: Person):
    charge(entry)
    asked: dict[str, Any] = {"entry": entry, "by": office, "at": NOW}
    with pytest.raises(InvalidInput):
        keep_deposit_of(key=uuid4(), reason="", **asked)
    key = uuid4()
    for _ in range(2):
        keep_deposit_of(key=key, reason="Camp left unclean", cents=2000, **asked)
    assert (deposit_held(entry), balance_of(entry)) == (3000, 20000)
    with pytest.raises(Conflict, match=r"deposit held, \$30\.00"):
        return_deposit(key=uuid4(), cents=3001, **asked)
    return_deposit(key=uuid4(), **asked)
    with pytest.raises(NotYet):
        return_deposit(key=uuid4(), **asked)
    assert accounts_of(entry.show)[Account.OTHER] == -2000
    demand_books_balance(entry.show)


# --- Travel money and purses ---------------------------------------------------------------


def test_travel_money_is_paid_once_unless_it_was_undone(entry: Entry, office: Person):
    asked: dict[str, Any] = {"entry": entry, "by": office, "at": NOW, "method": Method.CASH}
    paid = pay_travel(key=uuid4(), **asked)
    assert balance_of(entry) == 0
    assert accounts_of(entry.show)[Account.TRAVEL] == 7500
    with pytest.raises(Conflict, match="posting 1"):
        pay_travel(key=uuid4(), **asked)
    reverse_posting(posting=paid, key=uuid4(), reason="Twice as far", by=office, at=NOW)
    pay_travel(key=uuid4(), cents=15000, **{**asked, "method": None})
    assert balance_of(entry) == -15000
    leave(entry)
    with pytest.raises(NotYet, match="no place"):
        pay_travel(key=uuid4(), **asked)


def test_a_purse_is_handed_out_or_set_against_what_is_owed(entry: Entry, office: Person):
    asked: dict[str, Any] = {
        "entry": entry,
        "by": office,
        "at": NOW,
        "words": "First place, Trail wagon",
    }
    pay_purse(key=uuid4(), cents=30000, method=Method.CHEQUE, reference="7", **asked)
    assert balance_of(entry) == 0
    pay_purse(key=uuid4(), cents=30000, method=None, **asked)
    assert balance_of(entry) == -30000
    with pytest.raises(InvalidInput):
        pay_purse(key=uuid4(), cents=30000, method=Method.ONLINE, **asked)
    demand_books_balance(entry.show)


# --- Undoing -------------------------------------------------------------------------------


def test_a_posting_is_undone_whole_and_once(entry: Entry, office: Person):
    charge(entry)
    paid = pay(entry, office, 20000)
    asked: dict[str, Any] = {"by": office, "at": NOW}
    key = uuid4()
    undone = reverse_posting(posting=paid, key=key, reason="Bounced", **asked)
    assert reverse_posting(posting=paid, key=key, reason="Bounced", **asked) == undone
    assert (undone.kind, undone.reverses, balance_of(entry)) == ("reversal", paid, 20000)
    assert undone.words == "Reverses posting 3: Bounced"
    with pytest.raises(Conflict, match="was reversed already, by 4"):
        reverse_posting(posting=paid, key=uuid4(), reason="Again", **asked)
    with pytest.raises(NotYet, match="A reversal is not undone"):
        reverse_posting(posting=undone, key=uuid4(), reason="Oh", **asked)
    with pytest.raises(InvalidInput):
        reverse_posting(posting=paid, key=uuid4(), reason=" ", **asked)
    first = Posting.objects.get(number=1)
    with pytest.raises(Conflict, match="another posting"):
        reverse_posting(posting=first, key=key, reason="Mixed up", **asked)
    demand_books_balance(entry.show)


def test_what_is_posted_is_neither_edited_nor_removed(entry: Entry):
    posting = charge(entry)
    assert posting is not None
    line = posting.lines.all()[0]
    for row in (posting, line):
        with pytest.raises(TypeError):
            row.save()
        with pytest.raises(TypeError):
            row.delete()


def test_shows_count_their_postings_apart(entry: Entry, office: Person):
    pay(entry, office, 100)
    elsewhere = EntryFactory.create()
    assert pay(elsewhere, office, 100).number == 1
    assert pay(entry, office, 100).number == 2
