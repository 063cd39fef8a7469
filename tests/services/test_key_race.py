"""One key, one tag, many requests at the same moment: done once, overwritten never."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.conf import settings
from django.test import Client

from entries.models import Entry
from showrun.shows.models import KeptAnswer, Show
from tests.judged_show import build_show, entry_of, office_of
from tests.people import RIG, PersonFactory
from tests.services.test_race import CREW, at_once, locking, signed_in  # noqa: F401  a fixture

pytestmark = pytest.mark.django_db(transaction=True)


def sender(method: str, path: str, sent: Any, session: str, **headers: str) -> Callable[[], Any]:
    def deed() -> Any:
        client = Client(raise_request_exception=False)
        client.cookies[settings.SESSION_COOKIE_NAME] = session
        text, kind = json.dumps(sent), "application/json"
        return client.generic(method, f"/api/v1/{path}", text, content_type=kind, headers=headers)

    return deed


def test_one_key_eight_times_at_once_enters_one_wagon():
    show = build_show(n_entries=1, n_judges=1)
    Show.objects.filter(pk=show.pk).update(entry_cap=20)
    session, key = signed_in(PersonFactory.create()), str(uuid4())
    sent = {"wagon_name": "Rush", "rig": RIG, "classes": ["trail"], "crew": CREW}
    one = sender("POST", f"shows/{show.slug}/entries", sent, session, **{"idempotency-key": key})
    answers = at_once([one] * 8)
    counted = Counter(answer.status_code for answer in answers)
    assert set(counted) <= {201, 409}
    assert counted[201] >= 1
    assert {a.json()["code"] for a in answers if a.status_code == 409} <= {"in-progress"}
    assert Entry.objects.filter(wagon_name="Rush").count() == 1
    after = one()
    assert (after.status_code, after["Idempotency-Replayed"]) == (201, "true")
    told = {json.dumps(a.json(), sort_keys=True) for a in [after, *answers] if a.status_code == 201}
    assert len(told) == 1
    assert KeptAnswer.objects.count() == 1


def test_many_keys_at_once_are_each_done():
    show = build_show(n_entries=1, n_judges=1)
    Show.objects.filter(pk=show.pk).update(entry_cap=20)
    path = f"shows/{show.slug}/entries"
    wagon = {"rig": RIG, "classes": ["trail"], "crew": CREW}
    key = {"idempotency-key": "everybodys-own"}
    deeds = [
        sender("POST", path, {**wagon, "wagon_name": f"Rush {n}"}, signed_in(person), **key)
        for n, person in enumerate(PersonFactory.create_batch(8))
    ]
    assert Counter(answer.status_code for answer in at_once(deeds * 2))[201] >= 8
    assert Entry.objects.filter(wagon_name__startswith="Rush").count() == 8


def test_of_many_with_one_tag_one_writes():
    show = build_show(n_entries=1, n_judges=1)
    entry, office = entry_of(show), signed_in(office_of(show))
    path = f"entries/{entry.pk}"
    tag = sender("GET", path, None, office)()["ETag"]
    answers = at_once(
        [
            sender("PATCH", path, {"frontage_ft": 41 + n}, office, **{"if-match": tag})
            for n in range(6)
        ]
    )
    assert Counter(answer.status_code for answer in answers) == {200: 1, 412: 5}
    entry.refresh_from_db()
    (written,) = (answer.json()["frontage_ft"] for answer in answers if answer.status_code == 200)
    assert entry.frontage_ft == written
