"""The office's money page, an entry's statement, and the ledger as a list."""

from __future__ import annotations

import csv
import re
from html import unescape
from io import StringIO
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from entries.actions.charge_entry import charge_entry, charge_other
from entries.actions.take_payment import take_payment
from entries.models import Entry, EntryTerms, Posting
from entries.queries.ledger import balance_of
from entries.rules.ledger import Account, Method
from entries.rules.places import Status
from showrun.shows.models import AuditEntry, Person, Show
from tests.people import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def show(show: Show) -> Show:
    """The small show with a fee of $150 and a deposit of $50."""
    Show.objects.filter(pk=show.pk).update(entry_fee_cents=15000)
    EntryTerms.objects.create(show=show, deposit_cents=5000, travel_cents=7500)
    show.refresh_from_db()
    return show


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def statement(entry: Entry) -> str:
    return reverse("entries:money-entry", args=[entry.pk])


def desk(show: Show) -> str:
    return reverse("entries:money", args=[show.slug])


def words_of(answer) -> str:
    text = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return " ".join(unescape(text).split())


def key_in(page: str, do: str) -> str:
    found = re.search(rf'name="{do}-key" value="([0-9a-f-]{{36}})"', page)
    assert found, do
    return found[1]


def send(client: Client, entry: Entry, do: str, *, key: str = "", **typed: str):
    """Open the entry's page and send one of its forms, as a browser would."""
    where = statement(entry)
    key = key or key_in(client.get(where).content.decode(), do)
    form = {"do": do, f"{do}-key": key, **{f"{do}-{name}": said for name, said in typed.items()}}
    return client.post(where, form, follow=True)


def test_a_payment_typed_by_the_office_stands_in_the_exhibitors_statement(
    entry: Entry, office: Person, exhibitor: Person
):
    charge_entry(entry=entry, by=office, at=NOW)
    answer = send(
        as_person(office), entry, "payment", amount="220.00", method="cheque", reference="1044"
    )
    said = words_of(answer)
    assert "Posting 3, $220.00: Cheque, Tin Sparrow." in said
    assert "$20.00 in the exhibitor's favor. More was paid than was owed." in said
    own = as_person(exhibitor).get(statement(entry))
    said = words_of(own)
    for words in ("Entry fee, Tin Sparrow", "Reference 1044", "$20.00 in the exhibitor's favor"):
        assert words in said
    page = own.content.decode()
    assert "payment-key" not in page
    assert reverse("reports:receipt", args=[entry.pk, 3]) in page
    assert "Take a payment" not in said


def test_a_double_tap_posts_once(entry: Entry, office: Person):
    client = as_person(office)
    key = key_in(client.get(statement(entry)).content.decode(), "payment")
    for _ in range(2):
        send(client, entry, "payment", key=key, amount="50", method="cash")
    assert Posting.objects.count() == 1
    refused = send(client, entry, "payment", key=key, amount="60", method="cash")
    assert refused.status_code == 422
    assert "posting 1 already" in words_of(refused)
    assert Posting.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "fault"),
    [
        ({"amount": "", "method": "cash"}, "How much?"),
        ({"amount": "12,5", "method": "cash"}, "An amount in dollars, please"),
        ({"amount": "50", "method": "cheque"}, "The number of the cheque, please."),
        ({"amount": "50", "method": "online"}, "is not one of the available choices"),
    ],
)
def test_a_refused_form_comes_back_as_it_was_typed(
    entry: Entry, office: Person, typed: dict[str, str], fault: str
):
    answer = send(as_person(office), entry, "payment", **typed)
    assert answer.status_code == 422
    assert fault in words_of(answer)
    assert f'value="{typed["amount"]}"' in answer.content.decode() or not typed["amount"]
    assert not Posting.objects.exists()


FIRST = {"purse_of": "none", "amount": "100", "words": "First place", "method": "transfer"}


def test_what_each_form_does(entry: Entry, office: Person):
    """From the fee to the last dollar out, by the office's forms alone."""
    client = as_person(office)
    assert "Fee and deposit" in words_of(client.get(desk(entry.show)))
    for do, typed, owed in (
        ("fees", {}, 20000),
        ("charge", {"account": "other", "amount": "10", "words": "A broken post"}, 21000),
        ("payment", {"amount": "300", "method": "cash"}, -9000),
        ("keep", {"amount": "20", "reason": "Camp left unclean"}, -9000),
        ("return", {}, -12000),
        ("refund", {"amount": "15", "reason": "A late start"}, -13500),
        ("travel", {"amount": "75", "method": ""}, -21000),
        ("purse", FIRST, -21000),
        ("pay-out", {"amount": "210", "method": "cash"}, 0),
        ("reverse", {"number": "3", "reason": "Nothing was broken"}, -1000),
    ):
        answer = send(client, entry, do, **typed)
        assert answer.status_code == 200, (do, words_of(answer))
        assert balance_of(entry) == owed, do
    assert "Undone by posting 11" in words_of(client.get(statement(entry)))
    for gone in ("fees-key", "keep-key", "return-key", "travel-key"):
        assert gone not in client.get(statement(entry)).content.decode()


def test_a_posting_of_another_entry_is_not_undone_here(
    entry: Entry, other_entry: Entry, office: Person
):
    charge_entry(entry=other_entry, by=office, at=NOW)
    charge_entry(entry=entry, by=office, at=NOW)
    answer = send(as_person(office), entry, "reverse", number="1", reason="Mixed up")
    assert answer.status_code == 422
    assert Posting.objects.count() == 4


def test_who_reads_a_statement(
    entry: Entry, exhibitor: Person, other_exhibitor: Person, steward: Person, stranger: Person
):
    statuses = {
        person.name: as_person(person).get(statement(entry)).status_code
        for person in (exhibitor, other_exhibitor, steward, stranger)
    }
    assert list(statuses.values()) == [200, 404, 403, 404]
    posted = as_person(exhibitor).post(statement(entry), {"do": "fees", "fees-key": str(uuid4())})
    assert posted.status_code == 403
    assert not Posting.objects.exists()


def test_the_money_page_tells_who_owes_what(
    entry: Entry, other_entry: Entry, office: Person, show: Show
):
    client = as_person(office)
    charged = client.post(desk(show), {"do": "charge-all"}, follow=True)
    assert "4 charges were posted." in words_of(charged)
    take_payment(entry=other_entry, cents=25000, method=Method.CASH, key=uuid4(), by=office, at=NOW)
    said = words_of(client.get(desk(show)))
    assert "$200.00 to pay, $50.00 in exhibitors' favor, $100.00 of deposits." in said
    assert "All (2) To pay (1) In favor (1) Settled (0)" in said
    # Both sides of the books: fees 300, deposits 100, cash 250, owed 150.
    assert "Both sides $400.00 $400.00" in said
    table = re.search(
        r"<table.*?</table>", client.get(f"{desk(show)}?balance=favor").content.decode(), re.S
    )
    assert table and "Copper Moth" in table[0] and "Tin Sparrow" not in table[0]
    charges = words_of(client.get(f"{desk(show)}?kind=payment"))
    assert "Payment : Cash, Copper Moth" in charges
    assert "Charge : Entry fee" not in charges
    assert "Nothing of that kind or day." in words_of(client.get(f"{desk(show)}?day=2127-04-30"))
    assert "Payment : Cash" in words_of(client.get(f"{desk(show)}?day=2127-05-01"))
    assert client.get(f"{desk(show)}?day=x&kind=y&page=z&balance=q").status_code == 200


def test_cash_goes_to_the_bank_from_the_money_page(entry: Entry, office: Person, show: Show):
    take_payment(entry=entry, cents=25000, method=Method.CASH, key=uuid4(), by=office, at=NOW)
    client = as_person(office)
    key = key_in(client.get(desk(show)).content.decode(), "bank")
    form = {"do": "bank", "bank-key": key, "bank-account": "cash", "bank-amount": "260"}
    refused = client.post(desk(show), form)
    assert refused.status_code == 422
    assert "At most $250.00, please." in words_of(refused)
    client.post(desk(show), {**form, "bank-amount": "250"})
    assert Posting.objects.latest("id").words == "Cash box to the bank"


def test_one_charge_is_said_as_one(entry: Entry, office: Person, show: Show):
    EntryTerms.objects.filter(show=show).update(deposit_cents=0)
    charged = as_person(office).post(desk(show), {"do": "charge-all"}, follow=True)
    assert "1 charge was posted." in words_of(charged)


def test_who_waits_owes_nothing_and_is_not_listed(entry: Entry, office: Person, show: Show):
    Entry.objects.filter(pk=entry.pk).update(status=Status.WAITING.value)
    client = as_person(office)
    assert "Everybody was charged already." in words_of(
        client.post(desk(show), {"do": "charge-all"}, follow=True)
    )
    assert "Tin Sparrow" not in words_of(client.get(desk(show)))


def test_the_list_of_the_ledger_adds_up_and_reckons_nothing(
    entry: Entry, office: Person, show: Show
):
    Entry.objects.filter(pk=entry.pk).update(wagon_name="=HYPERLINK(1)")
    entry.refresh_from_db()
    charge_entry(entry=entry, by=office, at=NOW)
    charge_other(
        entry=entry, account=Account.OTHER, cents=101, words="+1 late, \"so\"\nthere", key=uuid4(),
        by=office, at=NOW,
    )  # fmt: skip
    take_payment(
        entry=entry, cents=5, method=Method.CHEQUE, reference="@7", key=uuid4(), by=office, at=NOW
    )
    answer = as_person(office).get(reverse("entries:money-export", args=[show.slug]))
    assert answer["Content-Disposition"] == 'attachment; filename="ledger-lantern-draw.csv"'
    text = answer.content.decode("utf-8-sig")
    rows = list(csv.DictReader(StringIO(text, newline="")))
    assert len(rows) == 8
    taken_out = AuditEntry.objects.get(verb="took out the ledger")
    assert (taken_out.actor, taken_out.after) == (office, {"rows": 8})
    assert sum(float(row["debit"] or 0) for row in rows) == 201.06
    assert sum(float(row["credit"] or 0) for row in rows) == 201.06
    first, cheque = rows[0], rows[-1]
    assert first["at"] == "2127-05-01T09:00:00-06:00"
    assert first["wagon"] == "'=HYPERLINK(1)"
    assert (cheque["reference"], cheque["account"]) == ("'@7", "exhibitors")
    assert rows[4]["for"].startswith("'+1 late")
    for row in rows:
        assert not any(str(cell).startswith(("=", "+", "-", "@", "\t")) for cell in row.values())
