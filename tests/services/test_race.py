"""Many people at the same moment, in threads, against a database that really locks.

On PostgreSQL the test database itself; on SQLite a file of its own beside it, since threads
that share one connection to memory would take turns and prove nothing.
"""

from __future__ import annotations

import json
import sqlite3
import threading
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.conf import settings
from django.db import connection, connections
from django.test import Client
from django.utils import timezone

from entries.models import Entry
from entries.rules.places import Status
from judging.actions.compute_result import compute_result
from judging.actions.pair_device import make_pairing_code
from judging.models import Card, CardMark, Device, Question, Result, RoundEvent, Signature
from showrun.shows.models import Person, Show
from tests.http_phone import EVENTS, PAIR
from tests.judged_show import (
    AT,
    build_show,
    card_events,
    class_of,
    entry_of,
    judge_of,
    mark,
    mark_everything,
    office_of,
    open_window,
    pair,
    steward_of,
)
from tests.people import RIG, PersonFactory

pytestmark = pytest.mark.django_db(transaction=True)

CREW = [{"name": "Ada Moor", "role": "head_cook"}, {"name": "Ben Oak", "role": "cook"}]


@pytest.fixture(autouse=True)
def locking(transactional_db: None, tmp_path: Path) -> Iterator[None]:
    """Give every thread its own connection to one and the same database."""
    if connection.vendor != "sqlite":
        yield
        return
    file, memory = tmp_path / "race.sqlite3", connections["default"]
    with closing(sqlite3.connect(file)) as copy:
        memory.connection.backup(copy)
    kept = connections.settings["default"]
    connections.settings["default"] = {**kept, "NAME": str(file)}
    connections["default"] = connections.create_connection("default")
    try:
        yield
    finally:
        connections["default"].close()
        connections.settings["default"] = kept
        connections["default"] = memory


def at_once(deeds: Sequence[Callable[[], Any]]) -> list[Any]:
    """Do all of it at the same moment, each in a thread with its own connection."""
    gate = threading.Barrier(len(deeds))

    def one(deed: Callable[[], Any]) -> Any:
        try:
            gate.wait(timeout=30)
            return deed()
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(deeds)) as pool:
        return list(pool.map(one, deeds))


def poster(path: str, sent: Any, *, session: str = "", token: str = "") -> Callable[[], Any]:
    """Return a deed that posts, as the person of the session or the phone of the token."""

    def deed() -> Any:
        client = Client(raise_request_exception=False)
        if session:
            client.cookies[settings.SESSION_COOKIE_NAME] = session
        headers = {"authorization": f"Bearer {token}"} if token else {}
        return client.post(path, json.dumps(sent), content_type="application/json", headers=headers)

    return deed


def signed_in(person: Person) -> str:
    client = Client()
    client.force_login(person)
    return client.cookies[settings.SESSION_COOKIE_NAME].value


# --- Entering ------------------------------------------------------------------------------


def test_forty_people_and_five_places():
    show = build_show(n_entries=3, n_judges=1)
    Show.objects.filter(pk=show.pk).update(entry_cap=3 + 5)
    path = f"/api/v1/shows/{show.slug}/entries"
    answers = at_once(
        [
            poster(
                path,
                {"wagon_name": f"Rush {n}", "rig": RIG, "classes": ["trail"], "crew": CREW},
                session=signed_in(person),
            )
            for n, person in enumerate(PersonFactory.create_batch(40))
        ]
    )
    assert Counter(answer.status_code for answer in answers) == {201: 40}
    told = [answer.json() for answer in answers]
    assert Counter(one["status"] for one in told) == {"entered": 5, "waiting": 35}
    line = {one["place_in_line"]: one["id"] for one in told if one["status"] == "waiting"}
    assert sorted(line) == list(range(1, 36)), "35 people, 35 different turns"
    there = Entry.objects.filter(show=show)
    assert there.holding_a_place().count() == 8
    assert list(there.waiting().values_list("pk", flat=True)) == [line[n] for n in range(1, 36)]
    # whoever got a place asked before everybody who waits
    placed = [one["id"] for one in told if one["status"] == "entered"]
    assert max(placed) < min(line.values())


def test_one_person_pressing_eight_times_enters_once():
    show = build_show(n_entries=1, n_judges=1)
    Show.objects.filter(pk=show.pk).update(entry_cap=20)
    session = signed_in(PersonFactory.create())
    sent = {"wagon_name": "Rush", "rig": RIG, "classes": ["trail"], "crew": CREW}
    path = f"/api/v1/shows/{show.slug}/entries"
    answers = at_once([poster(path, sent, session=session)] * 8)
    assert Counter(answer.status_code for answer in answers) == {201: 1, 422: 7}
    assert Entry.objects.filter(wagon_name="Rush").count() == 1


def test_two_of_the_office_confirming_everybody_at_once_give_every_number_once():
    show = build_show(n_entries=2, n_judges=1)
    Show.objects.filter(pk=show.pk).update(entry_cap=12)
    sent = {"rig": RIG, "classes": ["trail"], "crew": CREW}
    entered = [
        poster(
            f"/api/v1/shows/{show.slug}/entries",
            {**sent, "wagon_name": f"Wagon {n}"},
            session=signed_in(PersonFactory.create()),
        )().json()["id"]
        for n in range(10)
    ]
    session = signed_in(office_of(show))
    answers = at_once(
        [
            poster(f"/api/v1/entries/{pk}/confirm", {}, session=session)
            for pk in entered
            for _ in range(2)
        ]
    )
    assert Counter(answer.status_code for answer in answers) == {200: 10, 409: 10}
    numbers = Entry.objects.filter(show=show).values_list("number", flat=True)
    assert sorted(n for n in numbers if n) == list(range(1, 13))
    assert Entry.objects.filter(show=show, status=Status.CONFIRMED.value).count() == 12


# --- Phones --------------------------------------------------------------------------------


def stamped(events: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [
        {"id": str(uuid4()), "seq": seq, "at": "2027-05-15T09:00:00-06:00", **event}
        for seq, event in enumerate(events, start=1)
    ]


def test_a_code_two_phones_race_for_pairs_one_of_them():
    show = build_show(n_entries=1, n_judges=1)
    _, code = make_pairing_code(judge=judge_of(show), by=None, at=timezone.now())
    answers = at_once([poster(PAIR, {"code": code, "label": f"phone {n}"}) for n in range(6)])
    assert Counter(answer.status_code for answer in answers) == {201: 1, 410: 5}
    assert Device.objects.count() == 1


def test_the_same_batch_eight_times_at_once_counts_each_event_once():
    show = build_show(n_entries=3, n_judges=3)
    open_window(show)
    judge = judge_of(show, "J1")
    device, token = pair(judge)
    entry = entry_of(show, 2)
    events = stamped([*card_events(judge, entry), {"kind": "mark", "entry": 1}])
    answers = at_once([poster(EVENTS, {"events": events}, token=token)] * 8)
    assert Counter(answer.status_code for answer in answers) == {200: 8}
    fates: Counter[tuple[int, str]] = Counter()
    for answer in answers:
        results = answer.json()["results"]
        assert [one["id"] for one in results] == [event["id"] for event in events]
        fates.update((n, one["status"]) for n, one in enumerate(results))
    for n, event in enumerate(events):
        first = "held" if n == len(events) - 1 else "applied"
        assert (fates[n, first], fates[n, "duplicate"]) == (1, 7), event
    assert RoundEvent.objects.filter(device=device).count() == len(events)
    card = Card.objects.get(judge=judge, entry=entry)
    assert card.handed_in_at is not None
    assert card.marks.count() == len(events) - 2
    assert {mark.version for mark in card.marks.all()} == {1}
    hashes = {answer.json()["cards"][str(entry.pk)]["hash"] for answer in answers}
    assert len(hashes) == 1


def test_two_phones_of_one_judge_at_once_lose_nothing():
    show = build_show(n_entries=3, n_judges=3)
    open_window(show)
    judge = judge_of(show, "J1")
    phones = [pair(judge, label=f"phone {n}") for n in range(2)]
    entry = entry_of(show, 2)
    rows = [event["criterion"] for event in card_events(judge, entry)[:-1]]
    # the same rows on both phones, with the same mark on the first of them only
    batches = [
        stamped([mark(entry, row, 5 if row == rows[0] else 6 + n) for row in rows])
        for n in range(2)
    ]
    answers = at_once(
        [
            poster(EVENTS, {"events": batches[n]}, token=token)
            for n, (_, token) in enumerate(phones)
            for _ in range(3)
        ]
    )
    assert Counter(answer.status_code for answer in answers) == {200: 6}
    assert RoundEvent.objects.count() == 2 * len(rows)
    held = RoundEvent.objects.filter(applied=False)
    assert {event.reason_code for event in held} == {"other-device"}
    assert held.count() == len(rows) - 1, "one phone's marks stand, the other's wait whole"
    assert len({event.device_id for event in held}) == 1
    winner = next(device for device, _ in phones if device.pk != held[0].device_id)
    stands = CardMark.objects.filter(card__judge=judge).select_related("criterion")
    assert {one.criterion.code for one in stands} == set(rows)
    assert stands.count() == len(rows)
    given = {one.criterion.code: int(one.value or 0) for one in stands}
    kept = 6 + [device for device, _ in phones].index(winner)
    assert given == {row: 5 if row == rows[0] else kept for row in rows}


def test_four_judges_send_their_rounds_at_once():
    show = build_show(n_entries=4, n_judges=4)
    open_window(show)
    deeds, sent = [], 0
    for code in ("J1", "J2", "J3", "J4"):
        judge = judge_of(show, code)
        _, token = pair(judge)
        entries = Entry.objects.filter(pk__in=judge.seats.values("entry")).distinct()
        events = stamped([e for entry in entries for e in card_events(judge, entry)])
        sent += len(events)
        batches = [events[start : start + 20] for start in range(0, len(events), 20)]
        deeds += [poster(EVENTS, {"events": batch}, token=token) for batch in batches]
    answers = at_once(deeds)
    assert Counter(answer.status_code for answer in answers) == {200: len(deeds)}
    assert RoundEvent.objects.filter(applied=True).count() == sent
    cards = Card.objects.filter(judge__show=show)
    assert cards.count() == cards.filter(handed_in_at__isnull=False).count() > 10


# --- Results -------------------------------------------------------------------------------


def test_computing_signing_and_releasing_at_once_happen_once():
    show = build_show(n_entries=3, n_judges=3)
    mark_everything(show)
    office, steward, trail = office_of(show), steward_of(show), class_of(show)
    hands = [signed_in(office), signed_in(steward)]
    path = f"/api/v1/classes/{trail.pk}/result"
    answers = at_once([poster(path, {}, session=hand) for hand in hands for _ in range(4)])
    assert Counter(answer.status_code for answer in answers) == {200: 8}
    assert Result.objects.filter(show_class=trail).count() == 1
    assert not Question.objects.exists()
    result = compute_result(show_class=trail, by=office, at=AT)
    sign = f"/api/v1/results/{result.pk}/sign"
    answers = at_once([poster(sign, {}, session=hand) for hand in hands for _ in range(3)])
    assert Counter(answer.status_code for answer in answers) == {200: 2, 409: 4}
    signers = Signature.objects.filter(result=result).values_list("person", flat=True)
    assert sorted(signers) == sorted([office.pk, steward.pk])
    release = f"/api/v1/results/{result.pk}/release"
    answers = at_once([poster(release, {}, session=hands[0])] * 4)
    assert Counter(answer.status_code for answer in answers) == {200: 4}
    assert len({answer.json()["released_at"] for answer in answers}) == 1
