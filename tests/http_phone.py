"""A judge's phone in the tests, talking to the API over HTTP as the real one does."""

from __future__ import annotations

import json
from typing import Any
from uuid import uuid4

from django.test import Client

from entries.models import Entry
from judging.models import CardMark, Judge
from judging.models.card import EMPTY
from showrun.shows.models import Show
from tests.judged_show import office_of, pair

PAIR, CODE = "/api/v1/device/pair", "/api/v1/device/code"
ROUND, EVENTS = "/api/v1/device/round", "/api/v1/device/events"


class Phone:
    """A paired phone talking HTTP; it has no cookies."""

    def __init__(self, judge: Judge, label: str = "") -> None:
        self.device, self.token = pair(judge, label=label)
        self.http, self.seq = Client(enforce_csrf_checks=True), 0

    @property
    def headers(self) -> dict[str, str]:
        return {"authorization": f"Bearer {self.token}"}

    def stamp(self, events: list[Any]) -> list[Any]:
        """Give each event its id, count and time, as the phone does when it is made."""
        ready = []
        for event in events:
            self.seq += 1
            stamps = {"id": str(uuid4()), "seq": self.seq, "at": "2027-05-15T09:00:00-06:00"}
            ready.append({**stamps, **event} if isinstance(event, dict) else event)
        return ready

    def post(self, body: Any) -> Any:
        """Send a body as it is; text goes out untouched."""
        text = body if isinstance(body, str | bytes) else json.dumps(body)
        return self.http.post(EVENTS, text, content_type="application/json", headers=self.headers)

    def send(self, events: list[Any], unsent: int = 0) -> list[dict[str, Any]]:
        """Send a batch that is taken; return the answers event by event."""
        taken = self.post({"unsent": unsent, "events": events})
        assert taken.status_code == 200, taken.content
        return list(taken.json()["results"])

    def round(self, **headers: str) -> Any:
        return self.http.get(ROUND, headers={**self.headers, **headers})


def first_entry(judge: Judge) -> Entry:
    entry = Entry.objects.filter(pk__in=judge.seats.values("entry")).order_by("number").first()
    assert entry is not None
    return entry


def first_section(judge: Judge) -> str:
    """Return a section the judge looks at on the first entry."""
    seat = judge.seats.filter(entry=first_entry(judge)).select_related("section").first()
    assert seat is not None
    return seat.section.code


def held_at_the_office(show: Show) -> list[dict[str, Any]]:
    """What GET progress tells the office of events kept for it."""
    client = Client()
    client.force_login(office_of(show))
    answered = client.get(f"/api/v1/shows/{show.slug}/progress")
    assert answered.status_code == 200
    return list(answered.json()["held"])


def standing_marks(judge: Judge) -> dict[tuple[int, str], Any]:
    marks = CardMark.objects.filter(card__judge=judge).exclude(state=EMPTY)
    return {(m.card.entry_id, m.criterion.code): m.value for m in marks.select_related("card")}
