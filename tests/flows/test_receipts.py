"""The receipt of a payment: from the office's form to the PDF, and what undoing does to it."""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from entries.actions.charge_entry import charge_entry
from entries.actions.reverse_posting import reverse_posting
from entries.actions.take_payment import take_payment
from entries.models import Entry, Posting
from entries.rules.ledger import Method
from reports import tasks
from reports.actions.draw_paper import draw_paper, lay_out
from reports.actions.redo_papers import redo_paper
from reports.actions.want_receipt import want_receipt
from reports.models import Paper
from reports.queries.papers import current_papers, papers_of
from showrun.errors import Conflict, NotYet
from showrun.shows.models import AuditEntry, Person, Show
from tests.drawn_papers import (
    demand_accessible,
    demand_inside,
    demand_sound,
    drawn_from,
    letters,
    text,
)
from tests.people import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def sent(monkeypatch: pytest.MonkeyPatch, settings, tmp_path) -> list[int]:
    """Note what the queue is asked for instead of asking it; keep files apart."""
    asked: list[int] = []
    monkeypatch.setattr(tasks, "ask_for", lambda paper: asked.append(paper.pk))
    settings.MEDIA_ROOT = tmp_path
    return asked


@pytest.fixture
def paid(entry: Entry, office: Person) -> Posting:
    """The entry's fee of $150, and $200 paid by cheque."""
    Show.objects.update(entry_fee_cents=15000)
    charge_entry(entry=entry, by=office, at=NOW)
    return pay(entry, office, 20000)


def pay(entry: Entry, office: Person, cents: int) -> Posting:
    return take_payment(
        entry=entry, cents=cents, method=Method.CHEQUE, reference="1044", key=uuid4(), by=office,
        at=NOW,
    )  # fmt: skip


def want(posting: Posting) -> Paper:
    return want_receipt(posting=posting, by=None, at=NOW)


def undo(posting: Posting, office: Person) -> Posting:
    return reverse_posting(posting=posting, key=uuid4(), reason="Bounced", by=office, at=NOW)


def as_person(person: Person | None) -> Client:
    client = Client()
    if person:
        client.force_login(person)
    return client


def page(posting: Posting) -> str:
    return reverse("reports:receipt", args=[posting.entry_id, posting.number])


def test_the_receipt_says_what_was_paid_by_whom_and_what_is_left(paid: Posting) -> None:
    paper = want(paid)
    drawn = demand_sound(paper)
    said = text(drawn)
    for words in (
        "Lantern Draw Chuckwagon Days",
        "Receipt 2",
        "Saturday, May 1, 2127".replace("Saturday", f"{NOW:%A}"),
        "$200.00",
        "Two hundred dollars",
        "Received from Edna Cook",
        "Tin Sparrow",
        "Cheque, reference 1044",
        "$50.00 in the exhibitor's favor",
        "Olive Secretary",
        paper.code_printed,
    ):
        assert words in said
    assert drawn.pages == 1


def test_what_is_posted_later_changes_nothing_on_it(paid: Posting, office: Person) -> None:
    paper = want(paid)
    first = drawn_from(paper)
    assert paid.entry is not None
    pay(paid.entry, office, 1000)
    assert drawn_from(Paper.objects.get(pk=paper.pk)) == first
    done = draw_paper(paper_id=paper.pk, at=NOW)
    assert done is not None
    again = draw_paper(paper_id=redo_paper(paper=done, by=office, at=NOW).pk, at=NOW)
    assert again is not None and again.content_hash == done.content_hash


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_long_and_hostile_names_stay_words_inside_the_page(
    entry: Entry, office: Person, settings, size: str
) -> None:
    settings.PAPER_SIZE = size
    words = "<b>Bold</b> & 'sons' {{ 7|add:7 }} " + "W" * 44
    Entry.objects.update(wagon_name=words)
    Person.objects.filter(pk=entry.exhibitor_id).update(name="Maximilian " * 9)
    Show.objects.update(name="N" * 120, ground="G" * 160)
    entry.refresh_from_db()
    drawn = lay_out(want(pay(entry, office, 99_999_99)))
    demand_accessible(drawn)
    demand_inside(drawn)
    assert letters(words) in letters(text(drawn))


def test_wanted_twice_it_is_one_paper(paid: Posting) -> None:
    assert want(paid) == want(paid)
    assert AuditEntry.objects.filter(verb="wanted").count() == 1
    assert want(paid).download_name == "receipt-lantern-draw-v2.pdf"
    Paper.objects.update(state=Paper.State.FAILED, error="x", attempts=6)
    assert want(paid).state == Paper.State.WANTED


def test_there_are_receipts_of_payments_that_stand_and_of_nothing_else(
    paid: Posting, office: Person
) -> None:
    with pytest.raises(NotYet, match="payments only"):
        want(Posting.objects.get(number=1))
    back = undo(paid, office)
    for posting, fault in ((paid, Conflict), (back, NotYet)):
        with pytest.raises(fault):
            want(posting)


def test_receipts_are_kept_apart_from_the_papers_of_results(paid: Posting) -> None:
    want(paid)
    assert not papers_of(paid.show).exists()
    assert not current_papers(paid.show).exists()


def test_its_exhibitor_makes_and_fetches_it_and_nobody_else_does(
    paid: Posting,
    sent: list[int],
    exhibitor: Person,
    office: Person,
    other_exhibitor: Person,
    steward: Person,
    django_capture_on_commit_callbacks,
) -> None:
    mine = as_person(exhibitor)
    assert "Make the receipt" in mine.get(page(paid)).content.decode()
    with django_capture_on_commit_callbacks(execute=True):
        mine.post(page(paid))
    paper = Paper.objects.get()
    assert sent == [paper.pk]
    waiting = mine.get(page(paid)).content.decode()
    assert "ready in a minute" in waiting and "Make the receipt" not in waiting
    draw_paper(paper_id=paper.pk, at=NOW)
    where = reverse("reports:paper-file", args=[paper.pk])
    assert where in mine.get(page(paid)).content.decode()
    for client in (mine, as_person(office)):
        assert b"".join(client.get(where)).startswith(b"%PDF-")  # type: ignore[arg-type]
    for person, status in ((other_exhibitor, 404), (steward, 403), (None, 404)):
        assert as_person(person).get(page(paid)).status_code == status
        assert as_person(person).get(where).status_code == status
    charged = reverse("reports:receipt", args=[paid.entry_id, 1])
    assert mine.get(charged).status_code == 404


def test_a_payment_undone_replaces_its_receipt(
    paid: Posting, office: Person, exhibitor: Person
) -> None:
    paper = draw_paper(paper_id=want(paid).pk, at=NOW)
    assert paper is not None
    check = f"/papers/check/{paper.code_printed}/"
    said = Client().get(check).content.decode()
    assert "is genuine.</strong> It stands on a receipt made here, of posting 2" in said
    undo(paid, office)
    said = Client().get(check).content.decode()
    assert "is genuine, but replaced.</strong>" in said
    assert "which was undone since" in said
    assert "Edna" not in said and "200" not in said
    where = reverse("reports:paper-file", args=[paper.pk])
    assert as_person(exhibitor).get(where).status_code == 410
    assert "There is no receipt of it any more" in (
        as_person(exhibitor).get(page(paid)).content.decode()
    )
    with pytest.raises(Conflict, match="undid this payment"):
        lay_out(paper)
