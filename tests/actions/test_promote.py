"""A free place goes down the wait list: offered, taken up, declined, lapsed."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.core import mail

from entries.actions.decide_entry import confirm_entry, put_on_wait_list, scratch_entry
from entries.actions.mail_offers import MAILING, NOT_MAILED, TRIES, mail_offers
from entries.actions.promote import decline, lapse_due, offer_next, promote, take_up
from entries.actions.withdraw_entry import withdraw_entry
from entries.models import Entry, EntryTerms, Posting
from entries.rules.offers import GRACE
from entries.rules.places import Status
from entries.tasks import sweep_offers
from showrun.errors import Gone, InvalidInput, NotYet
from showrun.project.settings import CELERY_BEAT_SCHEDULE
from showrun.shows.models import AuditEntry, Person, Show
from tests.people import NOW, EntryFactory

pytestmark = pytest.mark.django_db

HOURS = timedelta(hours=48)


@pytest.fixture
def line(show: Show) -> list[Entry]:
    """A full show of three, and four who wait."""
    Show.objects.filter(pk=show.pk).update(entry_fee_cents=10_000)
    placed = [EntryFactory.create(show=show, wagon_name=f"In {n}") for n in range(3)]
    status = Status.WAITING.value
    return placed + [
        EntryFactory.create(show=show, wagon_name=f"Wait {n}", status=status) for n in range(4)
    ]


@pytest.fixture
def terms(show: Show) -> EntryTerms:
    return EntryTerms.objects.create(show=show, promotion_hours=48)


def standing(line: list[Entry]) -> str:
    """Where each stands, by the first letter, in the order of entering."""
    status = dict(Entry.objects.values_list("pk", "status"))
    return "".join(status[entry.pk][0] for entry in line)


def fresh(entry: Entry) -> Entry:
    return Entry.objects.select_related("show", "exhibitor").get(pk=entry.pk)


def test_a_show_without_hours_leaves_promoting_to_the_office(line: list[Entry], office: Person):
    scratch_entry(entry=line[0], by=office, at=NOW, reason="axle")
    assert standing(line) == "seewwww"
    assert confirm_entry(entry=line[3], by=office, at=NOW).status == Status.CONFIRMED
    assert standing(line) == "seecwww"
    assert Posting.objects.filter(entry=line[3]).count() == 1, "the place is given: the fee is due"


@pytest.mark.usefixtures("terms")
def test_a_scratched_place_is_offered_to_the_first_in_line(line: list[Entry], office: Person):
    scratch_entry(entry=line[0], by=office, at=NOW, reason="axle")
    assert standing(line) == "seeowww"
    offered = fresh(line[3])
    assert (offered.offered_at, offered.take_up_by) == (NOW, NOW + HOURS)
    assert not Posting.objects.exists(), "an offer costs nothing"
    noted = AuditEntry.objects.get(verb="offered")
    assert (noted.actor, noted.after["take_up_by"]) == (None, (NOW + HOURS).isoformat())


@pytest.mark.usefixtures("terms")
def test_who_is_put_on_the_list_does_not_get_the_place_back_at_once(
    line: list[Entry], office: Person
):
    put_on_wait_list(entry=line[0], by=office, at=NOW, reason="papers")
    assert standing(line) == "weeowww"
    scratch_entry(entry=line[1], by=office, at=NOW, reason="axle")
    assert standing(line) == "oseowww", "the next place is theirs, by the turn they entered"


@pytest.mark.usefixtures("terms")
def test_an_offer_put_back_or_scratched_goes_on(line: list[Entry], office: Person):
    withdraw_entry(entry=line[0], by=line[0].exhibitor, at=NOW)
    put_on_wait_list(entry=line[3], by=office, at=NOW)
    assert standing(line) == "seewoww"
    assert fresh(line[3]).take_up_by is None
    scratch_entry(entry=line[4], by=office, at=NOW, reason="asked by telephone")
    assert standing(line) == "seeosww"


@pytest.mark.usefixtures("terms")
def test_withdrawing_says_who_and_why_and_promotes(line: list[Entry]):
    with pytest.raises(InvalidInput, match="longer"):
        withdraw_entry(entry=line[0], by=line[0].exhibitor, at=NOW, reason="x" * 161)
    gone = withdraw_entry(entry=line[0], by=line[0].exhibitor, at=NOW, reason="A lame mule.")
    assert gone.status_reason == "Withdrawn by the exhibitor: A lame mule."
    assert standing(line) == "seeowww"
    with pytest.raises(NotYet, match="left the show already"):
        withdraw_entry(entry=line[0], by=line[0].exhibitor, at=NOW)
    withdraw_entry(entry=line[4], by=line[4].exhibitor, at=NOW)
    assert standing(line) == "seeosww", "leaving the line frees no place"
    late = line[1].show.judging_starts_at
    with pytest.raises(NotYet, match="Judging has started"):
        withdraw_entry(entry=line[1], by=line[1].exhibitor, at=late)


def test_withdrawing_frees_the_camp_spot(other_entry: Entry):
    withdraw_entry(entry=other_entry, by=other_entry.exhibitor, at=NOW)
    assert (fresh(other_entry).spot, fresh(other_entry).number) == (None, 1)


@pytest.mark.usefixtures("terms")
def test_taking_up_gives_the_place_and_charges_the_fee_once(line: list[Entry]):
    scratch_entry(entry=line[0], by=line[0].exhibitor, at=NOW, reason="axle")
    offered = line[3]
    taken = take_up(entry=offered, by=offered.exhibitor, at=NOW + HOURS)
    assert (taken.status, taken.take_up_by) == (Status.ENTERED, None)
    assert standing(line) == "seeewww"
    for again in (take_up, decline):
        with pytest.raises(NotYet, match="its place already"):
            again(entry=offered, by=offered.exhibitor, at=NOW)
    posting = Posting.objects.get()
    assert (posting.entry_id, posting.kind) == (offered.pk, Posting.Kind.CHARGE)


@pytest.mark.usefixtures("terms")
def test_declining_hands_the_place_on(line: list[Entry]):
    scratch_entry(entry=line[0], by=line[0].exhibitor, at=NOW, reason="axle")
    decline(entry=line[3], by=line[3].exhibitor, at=NOW)
    assert standing(line) == "seesoww"
    assert "declined" in fresh(line[3]).status_reason
    with pytest.raises(Gone, match="left the list"):
        take_up(entry=line[3], by=line[3].exhibitor, at=NOW)
    with pytest.raises(NotYet, match="keeps its order"):
        take_up(entry=line[6], by=line[6].exhibitor, at=NOW)


@pytest.mark.usefixtures("terms")
def test_an_offer_nobody_took_up_lapses_in_words_and_goes_on(line: list[Entry], office: Person):
    scratch_entry(entry=line[0], by=office, at=NOW, reason="axle")
    deadline = NOW + HOURS
    assert lapse_due(at=deadline + GRACE - timedelta(seconds=1)) == []
    # run out, not taken back yet: nobody gets it, neither by tap nor by the office
    late = deadline + timedelta(seconds=1)
    with pytest.raises(Gone, match="run out"):
        take_up(entry=line[3], by=line[3].exhibitor, at=late)
    with pytest.raises(NotYet, match="run out"):
        confirm_entry(entry=line[3], by=office, at=late)
    assert [entry.pk for entry in lapse_due(at=deadline + GRACE)] == [line[3].pk]
    assert standing(line) == "seesoww"
    reason = fresh(line[3]).status_reason
    assert reason == "The offered place was not taken up by Saturday, May 3, 2127, 9:00 AM MDT."
    assert fresh(line[4]).take_up_by == deadline + GRACE + HOURS
    assert lapse_due(at=deadline + GRACE) == []
    assert AuditEntry.objects.filter(verb="scratched", actor=None).count() == 1


@pytest.mark.usefixtures("terms")
def test_the_office_may_confirm_who_says_yes_by_telephone(line: list[Entry], office: Person):
    scratch_entry(entry=line[0], by=office, at=NOW, reason="axle")
    confirmed = confirm_entry(entry=line[3], by=office, at=NOW)
    assert (confirmed.status, confirmed.take_up_by) == (Status.CONFIRMED, None)
    assert Posting.objects.filter(entry=line[3]).count() == 1


def test_offering_by_hand(line: list[Entry], office: Person, show: Show):
    with pytest.raises(NotYet, match="All 3 places"):
        offer_next(show=show, by=office, at=NOW)
    Show.objects.filter(pk=show.pk).update(entry_cap=4)
    offered = offer_next(show=show, by=office, at=NOW)
    assert (offered.pk, offered.take_up_by) == (line[3].pk, NOW + HOURS)
    assert AuditEntry.objects.get(verb="offered").actor == office
    Show.objects.filter(pk=show.pk).update(entry_cap=9)
    with pytest.raises(NotYet, match="has begun"):
        offer_next(show=show, by=office, at=show.judging_starts_at)
    Entry.objects.waiting().update(status=Status.SCRATCHED.value)
    with pytest.raises(NotYet, match="Nobody waits"):
        offer_next(show=show, by=office, at=NOW)


def test_once_the_show_has_begun_nothing_is_offered_by_itself(
    line: list[Entry], show: Show, terms: EntryTerms, office: Person
):
    scratch_entry(entry=line[0], by=office, at=show.judging_starts_at, reason="axle")
    assert standing(line) == "seewwww"
    assert promote(show=show, at=show.judging_starts_at) == []


def test_the_deadline_stops_where_entries_close(line: list[Entry], terms: EntryTerms):
    terms.closes_at = NOW + timedelta(hours=5)
    terms.save()
    withdraw_entry(entry=line[0], by=line[0].exhibitor, at=NOW)
    assert fresh(line[3]).take_up_by == terms.closes_at


# --- Mail ----------------------------------------------------------------------------------


@pytest.mark.usefixtures("terms")
def test_an_offer_is_mailed_once(line: list[Entry], settings: Any):
    settings.PUBLIC_URL = "https://show.example/"
    withdraw_entry(entry=line[0], by=line[0].exhibitor, at=NOW)
    assert [entry.pk for entry in mail_offers(at=NOW)] == [line[3].pk]
    assert mail_offers(at=NOW) == []
    (sent,) = mail.outbox
    assert sent.to == [line[3].exhibitor.email]
    assert "Wait 0" in sent.subject
    text = str(sent.body)
    assert "Saturday, May 3, 2127, 9:00 AM MDT" in text
    assert f"https://show.example/entries/{line[3].pk}/\n" in text
    assert AuditEntry.objects.filter(verb=MAILING).count() == 1


@pytest.mark.usefixtures("terms")
def test_a_second_offer_to_the_same_entry_is_mailed_again(line: list[Entry], office: Person):
    withdraw_entry(entry=line[0], by=line[0].exhibitor, at=NOW)
    mail_offers(at=NOW)
    put_on_wait_list(entry=line[3], by=office, at=NOW)
    later = NOW + timedelta(hours=1)
    withdraw_entry(entry=line[1], by=line[1].exhibitor, at=later)
    mail_offers(at=later)
    to = [sent.to[0] for sent in mail.outbox]
    assert to.count(line[3].exhibitor.email) == 2
    assert "sign in where you entered" in str(mail.outbox[0].body), "no address is known here"


@pytest.mark.usefixtures("terms")
def test_a_mail_that_fails_is_tried_again_and_then_left(
    line: list[Entry], monkeypatch: pytest.MonkeyPatch
):
    def refuse(*_: Any, **__: Any) -> None:
        raise OSError("no mail server")

    withdraw_entry(entry=line[0], by=line[0].exhibitor, at=NOW)
    monkeypatch.setattr("entries.actions.mail_offers.send_mail", refuse)
    for _ in range(TRIES + 2):
        assert mail_offers(at=NOW) == []
    assert AuditEntry.objects.filter(verb=NOT_MAILED).count() == TRIES
    monkeypatch.undo()
    assert mail_offers(at=NOW) == []
    assert fresh(line[3]).status == Status.OFFERED, "the page still offers the place"


@pytest.mark.usefixtures("terms")
def test_an_offer_that_ran_out_is_not_mailed(line: list[Entry]):
    withdraw_entry(entry=line[0], by=line[0].exhibitor, at=NOW)
    assert mail_offers(at=NOW + HOURS + timedelta(seconds=1)) == []


def test_the_worker_sweeps_offers_by_the_clock(line: list[Entry]):
    planned = [one["task"] for one in CELERY_BEAT_SCHEDULE.values()]
    assert planned.count(sweep_offers.name) == 1
    past = NOW.replace(year=2020)
    Entry.objects.filter(pk=line[3].pk).update(status=Status.OFFERED.value, take_up_by=past)
    assert sweep_offers() == 1
    assert sweep_offers() == 0
    assert fresh(line[3]).status == Status.SCRATCHED
