"""Paying online: no way without a provider, and with one each payment settles once."""

from __future__ import annotations

import hashlib
import hmac
import json
from collections.abc import Mapping
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from entries.actions.charge_entry import charge_entry
from entries.actions.online_payment import Begun, Notice, NoticeRefused
from entries.actions.take_payment import take_payment
from entries.models import Entry, OnlinePayment, Posting
from entries.queries.ledger import accounts_of, balance_of
from entries.rules.ledger import Account, Method
from showrun.shows.models import AuditEntry, Person, Show
from tests.people import NOW

pytestmark = pytest.mark.django_db
SECRET = b"between the provider and the show"
NOTICE = "/payments/notice/"


class PretendProvider:
    """A provider that signs its notices and keeps what it was asked."""

    name = "Pretend Pay"
    asked: list[dict[str, object]] = []

    def start(self, *, cents: int, words: str, return_to: str, notify_at: str) -> Begun:
        reference = f"P-{len(self.asked) + 1}"
        self.asked.append({"cents": cents, "words": words, "to": return_to, "notify": notify_at})
        return Begun(reference, f"https://pay.example/{reference}")

    def read_notice(self, *, body: bytes, headers: Mapping[str, str]) -> Notice:
        right = hmac.new(SECRET, body, hashlib.sha256).hexdigest()
        if not hmac.compare_digest(right, headers.get("x-pretend", "")):
            raise NoticeRefused("signature")
        said = json.loads(body)
        return Notice(
            said["reference"], OnlinePayment.State(said["state"]), said["cents"], said["currency"]
        )


@pytest.fixture(autouse=True)
def provider(settings) -> None:
    settings.PAYMENT_PROVIDER = f"{__name__}.PretendProvider"
    PretendProvider.asked.clear()


@pytest.fixture
def owing(entry: Entry) -> Entry:
    """An entry that owes $75."""
    Show.objects.update(entry_fee_cents=7500)
    charge_entry(entry=entry, by=None, at=NOW)
    return entry


def page(entry: Entry) -> str:
    return reverse("entries:money-entry", args=[entry.pk])


def as_person(person: Person) -> Client:
    client = Client(enforce_csrf_checks=False)
    client.force_login(person)
    return client


def begin(entry: Entry) -> OnlinePayment:
    answer = as_person(entry.exhibitor).post(page(entry), {"do": "pay-online"})
    assert answer.status_code == 200, answer
    return OnlinePayment.objects.latest("id")


def tell(
    reference: str,
    *,
    cents: int = 7500,
    state: str = "paid",
    currency: str = "USD",
    secret: bytes = SECRET,
):
    body = json.dumps(
        {"reference": reference, "cents": cents, "state": state, "currency": currency}
    ).encode()
    signed = hmac.new(secret, body, hashlib.sha256).hexdigest()
    client = Client(enforce_csrf_checks=True)
    return client.post(NOTICE, body, content_type="application/json", headers={"x-pretend": signed})


def test_without_a_provider_there_is_no_button_and_no_door(owing: Entry, settings):
    settings.PAYMENT_PROVIDER = ""
    client = as_person(owing.exhibitor)
    assert "pay-online" not in client.get(page(owing)).content.decode()
    assert client.post(page(owing), {"do": "pay-online"}).status_code == 404
    assert tell("P-1").status_code == 404
    assert not OnlinePayment.objects.exists()


def test_the_exhibitor_goes_on_to_the_provider_by_a_link(owing: Entry):
    client = as_person(owing.exhibitor)
    assert "Pay $75.00 online" in client.get(page(owing)).content.decode()
    answer = client.post(page(owing), {"do": "pay-online"})
    assert 'href="https://pay.example/P-1"' in answer.content.decode()
    asked = PretendProvider.asked[0]
    assert asked["cents"] == 7500
    assert str(asked["to"]).endswith(page(owing))
    assert str(asked["notify"]).endswith(NOTICE)
    assert balance_of(owing) == 7500, "nothing is posted before the provider's own notice"


def test_the_office_is_offered_no_way_to_pay_for_others(owing: Entry, office: Person):
    client = as_person(office)
    assert "pay-online" not in client.get(page(owing)).content.decode()
    assert client.post(page(owing), {"do": "pay-online"}).status_code == 404


def test_a_payment_settles_once_however_often_it_is_told(owing: Entry):
    payment = begin(owing)
    for _ in range(3):
        assert tell(payment.reference).status_code == 200
    payment.refresh_from_db()
    assert payment.state == "paid"
    assert payment.posting is not None
    assert (payment.posting.method, payment.posting.reference) == ("online", "P-1")
    assert Posting.objects.filter(kind="payment").count() == 1
    assert balance_of(owing) == 0
    assert accounts_of(owing.show)[Account.ONLINE] == 7500
    # A notice that comes late changes nothing that is paid.
    assert tell(payment.reference, state="failed", cents=0).status_code == 200
    payment.refresh_from_db()
    assert payment.state == "paid"


def test_a_message_that_is_not_the_providers_is_refused(owing: Entry):
    payment = begin(owing)
    assert tell(payment.reference, secret=b"another").status_code == 409
    assert Client().post(NOTICE, b"", content_type="application/json").status_code == 409
    assert tell("P-99").status_code == 404
    payment.refresh_from_db()
    assert payment.state == "started"
    assert balance_of(owing) == 7500


@pytest.mark.parametrize(("cents", "currency"), [(7499, "USD"), (7501, "USD"), (7500, "CAD")])
def test_another_amount_is_not_posted_but_put_to_the_office(
    owing: Entry, office: Person, cents: int, currency: str
):
    payment = begin(owing)
    for _ in range(2):
        assert tell(payment.reference, cents=cents, currency=currency).status_code == 200
    payment.refresh_from_db()
    assert (payment.state, payment.posting) == ("failed", None)
    assert balance_of(owing) == 7500
    assert AuditEntry.objects.filter(verb="did not post").count() == 1
    desk = reverse("entries:money", args=[owing.show.slug])
    told = as_person(office).get(desk).content.decode()
    assert f"The provider told {cents // 100}.{cents % 100:02} {currency}" in told
    take_payment(
        entry=owing, cents=7400, method=Method.TRANSFER, reference="P-1", by=office, at=NOW,
        key=uuid4(),
    )  # fmt: skip
    assert "was not posted" not in as_person(office).get(desk).content.decode()


def test_a_declined_payment_can_still_be_paid_later(owing: Entry):
    payment = begin(owing)
    tell(payment.reference, state="failed", cents=0)
    payment.refresh_from_db()
    assert payment.state == "failed"
    tell(payment.reference)
    assert balance_of(owing) == 0


def test_who_owes_nothing_begins_no_payment(entry: Entry):
    client = as_person(entry.exhibitor)
    assert "pay-online" not in client.get(page(entry)).content.decode()
    answer = client.post(page(entry), {"do": "pay-online"}, follow=True)
    assert "Nothing is owed for this entry." in answer.content.decode()
    assert not OnlinePayment.objects.exists()
