"""Places and the wait list when everybody comes at once, each over a connection of their own."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client

from entries.actions.promote import lapse_due, take_up
from entries.actions.set_terms import set_terms
from entries.actions.withdraw_entry import withdraw_entry
from entries.models import Entry, EntryTerms, Posting
from entries.rules.offers import GRACE
from entries.rules.places import Status
from entries.rules.terms import Terms
from showrun.errors import ShowError
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import build_show, office_of
from tests.people import NOW, RIG, EntryFactory, PersonFactory
from tests.services.test_race import CREW, at_once, locking, poster  # noqa: F401  fixture

pytestmark = pytest.mark.django_db(transaction=True)

PEOPLE, PLACES = 200, 5
# Threads that serve them without a pause, each with its own connection: eight as our web server
# has them where SQLite is used; with PostgreSQL there may be many more servers.
HANDS = {"sqlite": 8, "postgresql": 40}


def sessions(count: int) -> list[str]:
    """Sign new people in."""
    found = []
    for person in PersonFactory.create_batch(count):
        client = Client()
        client.force_login(person)
        found.append(client.cookies[settings.SESSION_COOKIE_NAME].value)
    return found


def test_two_hundred_people_and_five_places():
    show = build_show(n_entries=3, n_judges=1)
    Show.objects.filter(pk=show.pk).update(entry_cap=3 + PLACES)
    path = f"/api/v1/shows/{show.slug}/entries"
    people = [
        poster(
            path,
            {"wagon_name": f"Rush {n}", "rig": RIG, "classes": ["trail"], "crew": CREW},
            session=session,
        )
        for n, session in enumerate(sessions(PEOPLE))
    ]

    def hand(share: list[Callable[[], Any]]) -> Callable[[], list[Any]]:
        return lambda: [post() for post in share]

    hands = HANDS[connection.vendor]
    served = at_once([hand(people[n::hands]) for n in range(hands)])
    answers = [answer for share in served for answer in share]
    assert Counter(answer.status_code for answer in answers) == {201: PEOPLE}
    told = [answer.json() for answer in answers]
    waits = PEOPLE - PLACES
    assert Counter(one["status"] for one in told) == {"entered": PLACES, "waiting": waits}
    line = {one["place_in_line"]: one["id"] for one in told if one["status"] == "waiting"}
    assert sorted(line) == list(range(1, waits + 1)), "everybody has a turn of their own"
    there = Entry.objects.filter(show=show)
    assert there.holding_a_place().count() == 3 + PLACES
    assert list(there.waiting().values_list("pk", flat=True)) == [line[n] for n in sorted(line)]
    names = there.filter(wagon_name__startswith="Rush").values_list("wagon_name", flat=True)
    assert sorted(names) == sorted(f"Rush {n}" for n in range(PEOPLE)), "none lost, none twice"
    # whoever got a place asked before everybody who waits
    placed = [one["id"] for one in told if one["status"] == "entered"]
    assert max(placed) < min(line.values())


def a_line(waiting: int) -> tuple[Show, list[Entry], list[Entry]]:
    """A full show of four that promotes by itself, and people waiting."""
    show = build_show(n_entries=1, n_judges=1)
    Show.objects.filter(pk=show.pk).update(entry_cap=4, entry_fee_cents=5_000)
    show.refresh_from_db()
    EntryTerms.objects.create(show=show, promotion_hours=24)
    placed = [EntryFactory.create(show=show) for _ in range(3)]
    line = [EntryFactory.create(show=show, status=Status.WAITING.value) for _ in range(waiting)]
    return show, placed, line


def before_show(show: Show) -> Any:
    return show.judging_starts_at - timedelta(days=20)


def outcome(deed: Callable[[], Any]) -> Callable[[], str]:
    def done() -> str:
        try:
            return str(deed())
        except ShowError as refused:
            return refused.code

    return done


def test_two_withdrawals_and_a_higher_cap_at_once_promote_exactly_the_first_four():
    show, placed, line = a_line(waiting=8)
    at, office = before_show(show), office_of(show)
    wanted = Terms(entry_cap=6, entry_fee_cents=5_000, promotion_hours=24)

    def leave(entry: Entry) -> Callable[[], str]:
        return outcome(
            lambda: withdraw_entry(entry=entry, by=entry.exhibitor, at=at).status == "scratched"
        )

    raised = outcome(lambda: bool(set_terms(show=show, terms=wanted, by=office, at=at)))
    came = at_once([leave(placed[0]), raised, leave(placed[1]), leave(placed[0])])
    assert Counter(came) == {"True": 3, "not-yet": 1}, "one of them pressed twice"
    status = dict(Entry.objects.values_list("pk", "status"))
    assert [status[entry.pk] for entry in line] == ["offered"] * 4 + ["waiting"] * 4
    assert Entry.objects.filter(show=show).holding_a_place().count() == 6
    assert AuditEntry.objects.filter(show=show, verb="offered").count() == 4


def test_an_offer_taken_up_at_the_moment_it_lapses_has_one_outcome():
    show, _, line = a_line(waiting=3)
    deadline = before_show(show)
    first = line[0]
    Show.objects.filter(pk=show.pk).update(entry_cap=5)
    Entry.objects.filter(pk=first.pk).update(
        status=Status.OFFERED.value, offered_at=NOW, take_up_by=deadline
    )
    take = outcome(lambda: take_up(entry=first, by=first.exhibitor, at=deadline).status)
    lapse = outcome(lambda: [entry.pk for entry in lapse_due(at=deadline + GRACE)])
    came = Counter(at_once([take, lapse] * 4))
    status = dict(Entry.objects.values_list("pk", "status"))
    if status[first.pk] == Status.ENTERED:
        assert came == {"entered": 1, "not-yet": 3, "[]": 4}
        assert [status[entry.pk] for entry in line[1:]] == ["waiting", "waiting"]
        assert Posting.objects.filter(entry=first).count() == 1
    else:
        assert status[first.pk] == Status.SCRATCHED
        assert came == {f"[{first.pk}]": 1, "[]": 3, "offer-gone": 4}
        assert [status[entry.pk] for entry in line[1:]] == ["offered", "waiting"]
        assert not Posting.objects.exists()
    assert Entry.objects.filter(show=show).holding_a_place().count() == 5


def test_sweeps_at_once_lapse_every_offer_once():
    show, _, line = a_line(waiting=6)
    deadline = before_show(show)
    Show.objects.filter(pk=show.pk).update(entry_cap=6)
    Entry.objects.filter(pk__in=[entry.pk for entry in line[:2]]).update(
        status=Status.OFFERED.value, offered_at=NOW, take_up_by=deadline
    )
    taken = at_once([lambda: len(lapse_due(at=deadline + GRACE))] * 5)
    assert sum(taken) == 2
    status = dict(Entry.objects.values_list("pk", "status"))
    now = ["scratched"] * 2 + ["offered"] * 2 + ["waiting"] * 2
    assert [status[entry.pk] for entry in line] == now
    until = Entry.objects.filter(show=show, status="offered").values_list("take_up_by", flat=True)
    assert set(until) == {deadline + GRACE + timedelta(hours=24)}
