"""Purses paid from a released result: each entry's once, a correction's difference too."""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from entries.actions.reverse_posting import reverse_posting
from entries.models import Posting
from entries.queries.ledger import accounts_of, balance_of
from entries.rules.ledger import Account, Method
from judging.models import Placing, Result
from reports.actions.pay_purses import pay_purses
from reports.queries.purses import purses_of, purses_released
from showrun.errors import NotYet
from showrun.shows.models import Show
from tests.judged_show import AT, office_of
from tests.released_show import judged_with_purse, released

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return judged_with_purse()


def pay(result: Result, method: Method | None = Method.CHEQUE) -> list[Posting]:
    office = office_of(result.show_class.show)
    return pay_purses(result=result, method=method, by=office, at=AT)


def test_each_placing_gets_its_purse_once(show: Show):
    result = released(show)
    due = {p.entry_id: p.purse_cents for p in result.placings.all() if p.purse_cents}
    assert len(due) >= 2
    made = pay(result)
    assert {one.entry_id: one.kind for one in made} == dict.fromkeys(due, "purse")
    assert pay(result) == []
    held = accounts_of(show)
    assert held[Account.PURSE] == sum(due.values()) == -held[Account.BANK]
    first = min(made, key=lambda one: one.number)
    assert first.words == f"First place, {result.show_class.name}"
    assert [line.left for line in purses_of(result)] == [0] * len(due)


def test_set_against_what_is_owed_it_stands_in_favor(show: Show):
    result = released(show)
    line = purses_of(result)[0]
    before = balance_of(line.entry)
    pay(result, None)
    assert balance_of(line.entry) == before - line.due


def test_a_purse_undone_is_to_be_paid_again(show: Show):
    result = released(show)
    made = pay(result)
    office = office_of(show)
    reverse_posting(posting=made[0], key=uuid4(), reason="Lost cheque", by=office, at=AT)
    again = pay(result)
    assert [one.entry_id for one in again] == [made[0].entry_id]
    assert pay(result) == []


def test_a_correction_pays_the_difference_and_takes_nothing_back(show: Show):
    result = released(show)
    pay(result)
    first, second = Placing.objects.filter(result=result, purse_cents__gt=0).order_by("place")[:2]
    Placing.objects.filter(pk=first.pk).update(purse_cents=first.purse_cents - 500)
    Placing.objects.filter(pk=second.pk).update(purse_cents=second.purse_cents + 500)
    made = pay(result)
    assert [one.entry_id for one in made] == [second.entry_id]
    assert [line.left for line in purses_of(result)][:2] == [-500, 0]
    assert pay(result) == []


def test_who_was_paid_and_has_no_place_now_stays_on_the_page(show: Show):
    result = released(show)
    first = purses_of(result)[0]
    pay(result)
    Placing.objects.filter(result=result, entry=first.entry).delete()
    gone = purses_of(result)[-1]
    assert (gone.entry, gone.placing, gone.due, gone.paid) == (first.entry, None, 0, first.due)
    assert pay(result) == []
    client = Client()
    client.force_login(office_of(show))
    page = client.get(reverse("reports:purses", args=[show.slug])).content.decode()
    assert "More was paid than the version that counts gives" in page
    reverse_posting(
        posting=gone.postings[0], key=uuid4(), reason="Taken out", by=office_of(show), at=AT
    )
    assert first.entry not in [line.entry for line in purses_of(result)]


def by_hand(client: Client, line, of: str, cents: int):
    """Pay a purse on the entry's own page."""
    where = reverse("entries:money-entry", args=[line.entry.pk])
    form = {"key": str(uuid4()), "purse_of": of, "amount": str(cents // 100)}
    form |= {"words": "Paid at the wagon", "method": "cash"}
    typed = {f"purse-{name}": said for name, said in form.items()}
    return client.post(where, {"do": "purse", **typed}, follow=True)


def test_a_purse_paid_by_hand_is_not_paid_again(show: Show):
    result = released(show)
    line = purses_of(result)[0]
    client = Client()
    client.force_login(office_of(show))
    page = client.get(reverse("entries:money-entry", args=[line.entry.pk])).content.decode()
    assert f'<option value="{line.next_key}">Trail wagon</option>' in page
    assert "The purse of which class?" in by_hand(client, line, "", 100).content.decode()
    # Sent twice, as by an impatient finger, it is posted once.
    for _ in range(2):
        assert by_hand(client, line, str(line.next_key), line.due - 10000).status_code == 200
    assert purses_of(result)[0].left == 10000
    page = client.get(reverse("reports:purses", args=[show.slug])).content.decode()
    assert "$100.00 still to pay</span>" in page
    made = {one.entry_id: one for one in pay(result)}
    assert made[line.entry.pk].lines.get(account="purse").amount_cents == 10000
    assert [one.left for one in purses_of(result)] == [0, 0, 0]


def test_a_purse_paid_by_hand_of_no_class_is_put_to_the_office(show: Show):
    result = released(show)
    line = purses_of(result)[0]
    client = Client()
    client.force_login(office_of(show))
    by_hand(client, line, "none", line.due)
    (loose,) = purses_of(result)[0].of_no_class
    page = client.get(reverse("reports:purses", args=[show.slug])).content.decode()
    assert f"without naming a class: {loose.number} (Paid at the wagon)." in page
    assert purses_of(result)[1].of_no_class == []


def test_only_a_released_result_that_counts_is_paid(show: Show):
    result = released(show)
    assert [one for one, _ in purses_released(show)] == [result]
    for column in ("replaced_at", "released_at"):
        Result.objects.filter(pk=result.pk).update(
            released_at=None if column == "released_at" else AT, replaced_at=AT
        )
        with pytest.raises(NotYet):
            pay(result)
    assert purses_released(show) == []
    assert not Posting.objects.filter(kind="purse").exists()


def test_the_office_pays_them_from_their_page(show: Show):
    result = released(show)
    client = Client()
    client.force_login(office_of(show))
    where = reverse("reports:purses", args=[show.slug])
    assert client.get(where).content.decode().count("to pay</span>") >= 2
    form = {"result": str(result.pk), "method": "cheque"}
    told = client.post(where, form, follow=True).content.decode()
    assert "purses of Trail" in told and "$900.00." in told
    assert "to pay</span>" not in told
    assert "paid already" in client.post(where, form, follow=True).content.decode()
    for wrong in ({**form, "method": "online"}, {**form, "result": "x"}):
        client.post(where, wrong)
    assert Posting.objects.filter(kind="purse").count() == 3
