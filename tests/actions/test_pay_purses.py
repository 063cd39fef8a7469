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
    before = balance_of(line.placing.entry)
    pay(result, None)
    assert balance_of(line.placing.entry) == before - line.due


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
