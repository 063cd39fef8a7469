"""Eight shows at once: phones that judge, exhibitors whose results are out, papers that wait."""

from __future__ import annotations

import random
import threading
from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from uuid import UUID

import httpx
from django.test import Client
from django.utils import timezone

from entries.models import Entry
from judging.models import DayRules, Judge, Visit, Window
from reports.actions.want_papers import want_papers
from reports.models import Paper
from showrun.shows.models import Person, Show
from tests import papers_stage
from tests.benchmarks.big_show import CARD
from tests.judged_show import build_show, draw_panel, office_of, open_window, pair, rows_of

EVENTS = "/api/v1/device/events"
# Half an hour into the window, whatever the clock says now.
INTO_S = 1800
EXHIBITORS = 22  # each has a feedback sheet, the first three an award sheet besides: 25 papers
Json = dict[str, Any]


@dataclass
class Phone:
    """A judge's phone: a few touches now and then, sent as one batch."""

    token: str
    show: int
    device: int
    rows: list[tuple[int, str]]
    rng: random.Random
    at: str
    made: int = 0

    def __post_init__(self) -> None:
        """A phone sends one batch at a time; what was answered for is noted."""
        self.lock, self.answered = threading.Lock(), set[str]()

    def batch(self, touches: int) -> list[Json]:
        """Make some touches."""
        events = []
        for _ in range(touches):
            entry, row = self.rng.choice(self.rows)
            self.made += 1
            key = str(UUID(int=self.rng.getrandbits(128), version=4))
            told = {"kind": "mark", "state": "marked", "value": str(self.rng.randrange(11))}
            about = {"entry": entry, "criterion": row, "at": self.at}
            events.append({"id": key, "seq": self.made, **told, **about})
        return events

    def send(self, http: httpx.Client, touches: int) -> int:
        """Send a batch; every touch in it must be answered for."""
        with self.lock:
            events = self.batch(touches)
            answer = http.post(
                EVENTS,
                json={"unsent": len(events), "events": events},
                headers={"Authorization": f"Bearer {self.token}"},
            )
            if answer.status_code == 200:
                told = answer.json()["results"]
                self.answered |= {one["id"] for one in told if one["status"] == "applied"}
            return answer.status_code

    def write_bare(self, http: httpx.Client, touches: int) -> int:
        """Send a batch to the floor."""
        with self.lock:
            body = {"show": self.show, "device": self.device, "events": self.batch(touches)}
            return http.post("/write/", json=body).status_code


@dataclass(frozen=True)
class Reader:
    """Somebody signed in who opens one page again and again."""

    kind: str
    path: str
    cookie: str

    def send(self, http: httpx.Client) -> int:
        """Open the page."""
        cookie = {"Cookie": f"sessionid={self.cookie}"} if self.cookie else {}
        return http.get(self.path, headers=cookie).status_code


@dataclass(frozen=True)
class Saturday:
    """Who is there."""

    phones: list[Phone]
    office: list[Reader]
    exhibitors: list[Reader]
    papers: list[Paper]


def set_up(*, shows: int, wagons: int, judges: int, seed: int) -> Saturday:
    """Build all shows: in half of the work judging goes on, in the other results are out."""
    phones: list[Phone] = []
    office: list[Reader] = []
    exhibitors: list[Reader] = []
    papers: list[Paper] = []
    for number in range(shows):
        show = _judging(number, wagons, judges)
        for judge in Judge.objects.filter(show=show).select_related("show", "person"):
            phones.append(_phone(judge, seed * 10_000 + len(phones)))
        page = f"/shows/{show.slug}/office/progress/"
        office.append(Reader("office, running board", page, _session(office_of(show))))
        over = _released(number)
        papers += want_papers(show=over, by=None, at=timezone.now())
        results = f"/shows/{over.slug}/results/"
        for entry in Entry.objects.filter(show=over).select_related("exhibitor"):
            cookie = _session(entry.exhibitor)
            exhibitors.append(Reader("exhibitor, own entry", f"/entries/{entry.pk}/", cookie))
            exhibitors.append(Reader("public, results", results, ""))
    return Saturday(phones, office, exhibitors, papers)


def _judging(number: int, wagons: int, judges: int) -> Show:
    show = build_show(
        slug=f"saturday-{number}",
        n_entries=wagons,
        n_judges=judges,
        judges_per_section=3,
        judging_minutes=60 * wagons,
        scorecard=CARD,
        kin=False,
    )
    draw_panel(show)
    open_window(show)
    # The window is open now: touches of this moment are in time.
    opened = timezone.now() - timedelta(seconds=INTO_S)
    Visit.objects.filter(window__show=show).delete()
    Window.objects.filter(show=show).update(opens_at=opened)
    DayRules.objects.get_or_create(show=show)
    return show


def _phone(judge: Judge, seed: int) -> Phone:
    device, token = pair(judge, at=timezone.now())
    entries = Entry.objects.filter(pk__in=judge.seats.order_by().values("entry"))
    rows = [(entry.pk, row.code) for entry in entries for row in rows_of(judge, entry)]
    at = timezone.now().isoformat()
    return Phone(token, judge.show_id, device.pk, rows, random.Random(seed), at)


def _released(number: int) -> Show:
    show = papers_stage.show(slug=f"out-{number}", name=f"Results out {number}")
    sections = papers_stage.scorecard(show)
    papers_stage.released_class(show, sections, n_entries=EXHIBITORS)
    return show


def _session(person: Person) -> str:
    browser = Client()
    browser.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return browser.cookies["sessionid"].value
