"""The office tells exhibitors something: kept as it was, read by those it is for, mailed apart."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core import mail
from django.db import transaction

from entries.actions.tell_exhibitors import tell
from entries.models import Entry, OfficeMessage
from entries.queries.messages import messages_of, messages_to
from entries.rules.places import Status
from showrun.errors import Conflict, InvalidInput
from showrun.shows.models import AuditEntry, Person, Show
from tests.people import NOW, EntryFactory, ShowFactory

pytestmark = pytest.mark.django_db
WORDS = "Water at gate 2 until noon."


def test_all_read_what_is_told_to_all_and_one_what_is_told_to_one(
    show: Show, entry: Entry, other_entry: Entry, office: Person
):
    tell(show=show, entry=None, text=f" {WORDS}\r\nBring buckets. ", by=office, at=NOW)
    tell(show=show, entry=entry, text="Come by the office.", by=office, at=NOW)
    assert [one.text for one in messages_to(entry)] == [
        "Come by the office.",
        f"{WORDS}\nBring buckets.",
    ]
    assert [one.text for one in messages_to(other_entry)] == [f"{WORDS}\nBring buckets."]
    elsewhere = EntryFactory.create(show=ShowFactory.create())
    assert messages_to(elsewhere) == []
    assert len(messages_of(show)) == 2
    assert messages_of(elsewhere.show) == []


def test_the_record_says_who_told_whom_what(show: Show, entry: Entry, office: Person):
    tell(show=show, entry=None, text=WORDS, by=office, at=NOW)
    tell(show=show, entry=entry, text=WORDS, by=office, at=NOW)
    to_one, to_all = AuditEntry.objects.filter(show=show, verb="told")
    assert to_all.subject == "all exhibitors"
    assert to_one.subject == f"wagon {entry}"
    assert to_one.after == {"message": WORDS}
    assert to_one.actor == office


@pytest.mark.parametrize("text", ["", "  ", "x" * 2001, "bell \x07"])
def test_what_cannot_be_read_is_not_sent(show: Show, office: Person, text: str):
    with pytest.raises(InvalidInput) as refused:
        tell(show=show, entry=None, text=text, by=office, at=NOW)
    assert "text" in refused.value.fields
    assert not OfficeMessage.objects.exists()


def test_a_wagon_of_another_show_and_the_practice_wagon_are_not_told(show: Show, office: Person):
    foreign = EntryFactory.create(show=ShowFactory.create())
    practice = EntryFactory.create(show=show, status=Status.PRACTICE.value)
    for entry in (foreign, practice):
        with pytest.raises(InvalidInput):
            tell(show=show, entry=entry, text=WORDS, by=office, at=NOW)
    assert not OfficeMessage.objects.exists()


def test_a_second_tap_sends_nothing_and_a_reminder_later_does(
    show: Show, entry: Entry, office: Person
):
    tell(show=show, entry=None, text=WORDS, by=office, at=NOW)
    with pytest.raises(Conflict):
        tell(show=show, entry=None, text=f"{WORDS} ", by=office, at=NOW + timedelta(seconds=2))
    tell(show=show, entry=entry, text=WORDS, by=office, at=NOW + timedelta(seconds=2))
    tell(show=show, entry=None, text=WORDS, by=office, at=NOW + timedelta(hours=1))
    assert OfficeMessage.objects.count() == 3


def test_each_exhibitor_gets_one_mail_of_their_own_after_all_is_kept(
    show: Show,
    entry: Entry,
    other_entry: Entry,
    exhibitor: Person,
    office: Person,
    django_capture_on_commit_callbacks,
):
    EntryFactory.create(show=show, exhibitor=exhibitor)  # a second wagon, one person
    gone = EntryFactory.create(show=show, status=Status.SCRATCHED.value)
    with django_capture_on_commit_callbacks(execute=True):
        tell(show=show, entry=None, text=WORDS, by=office, at=NOW, site="https://show.example/")
        assert mail.outbox == []
    assert sorted(one.to for one in mail.outbox) == sorted(
        [[exhibitor.email], [other_entry.exhibitor.email]]
    )
    assert gone.exhibitor.email not in str([one.recipients() for one in mail.outbox])
    assert WORDS in mail.outbox[0].body
    assert "https://show.example/\n" in mail.outbox[0].body


def test_a_mail_to_one_leads_to_the_entry(
    show: Show, entry: Entry, office: Person, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        tell(show=show, entry=entry, text="a <b> & c", by=office, at=NOW, site="http://x.example")
    (sent,) = mail.outbox
    assert f"http://x.example/entries/{entry.pk}/" in sent.body
    assert "a <b> & c" in sent.body
    assert sent.to == [entry.exhibitor.email]


def test_a_message_taken_back_with_its_transaction_is_not_mailed(show: Show, office: Person):
    with transaction.atomic():
        tell(show=show, entry=None, text=WORDS, by=office, at=NOW)
        transaction.set_rollback(True)
    assert mail.outbox == []
    assert not OfficeMessage.objects.exists()


def test_where_mail_fails_the_message_still_stands(
    show: Show,
    entry: Entry,
    office: Person,
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks,
):
    def down(*_: object, **__: object) -> None:
        raise ConnectionRefusedError

    monkeypatch.setattr("django.core.mail.backends.locmem.EmailBackend.send_messages", down)
    with django_capture_on_commit_callbacks(execute=True):
        tell(show=show, entry=None, text=WORDS, by=office, at=NOW)
    assert [one.text for one in messages_to(entry)] == [WORDS]
