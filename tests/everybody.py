"""Everybody who may come to a show's doors, and a show, phase by phase, with what it has then."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

from django.conf import settings
from django.core.files.base import ContentFile
from django.test import Client

from entries.actions.put_photo import put_photo
from entries.actions.take_payment import take_payment
from entries.models import Entry, EntryImport
from entries.rules.ledger import Method
from judging.actions.calendar_links import make_calendar_link
from judging.actions.compute_result import compute_result
from judging.actions.key_card import issue_cards
from judging.actions.release_result import release_result, sign_result
from judging.actions.seasons import add_class, make_season
from judging.models import (
    Criterion,
    ExhibitorQuery,
    Pause,
    Pin,
    PlanJob,
    Question,
    Result,
    RigReport,
    RoundEvent,
    RoundPhoto,
    SafetyConcern,
    Season,
)
from judging.queries.library import library_cards
from reports.actions.want_papers import want_papers
from reports.models import Paper
from showrun.shows.models import Passkey, Person, Show, ShowClass
from showrun.shows.rules.access import Role
from tests.food_stage import drawn, key_holder
from tests.judged_show import (
    AT,
    build_show,
    card_events,
    class_of,
    concern,
    entry_of,
    judge_of,
    mark,
    mark_everything,
    office_of,
    open_window,
    pair,
    send,
    steward_of,
)
from tests.people import PersonFactory, give
from tests.pictures import picture

VISITORS = (
    *("nobody", "stranger", "elsewhere", "neighbour", "owner", "judge"),
    *("scribe", "phone", "announcer", "key", "steward", "office"),
)
PHASES = ("entries", "judging", "signed", "released", "after")
# What an address is filled with where the show has no such object in this phase.
NO_SUCH = {"photo_id": str(UUID(int=0)), "event_id": str(UUID(int=0)), "season_slug": "no-season"}


class Cast:
    """A show in one of its phases, with something of every kind it has then, and its visitors."""

    def __init__(self, phase: str = "released") -> None:
        self.phase = phase
        show = self.show = build_show()
        other = build_show(slug="other-ground", n_entries=1, n_judges=1)
        entry = entry_of(show, 1)
        put_photo(entry, picture())
        self.values: dict[str, Any] = {
            "slug": show.slug,
            "entry_id": entry.pk,
            "judge_id": judge_of(show, "J1").pk,
            "class_id": class_of(show).pk,
            "kind": Paper.Kind.FEEDBACK.value,
            "form": "yaml",
            "guide_name": "office",
            "library_card": next(iter(library_cards())),
            "token": make_calendar_link(show=show, by=office_of(show), at=AT)[1],
        }
        if phase != "entries":
            open_window(show)  # before the pin and the pause, which a panel and a day would keep
        self._set_up(entry)
        self.phone = ""
        if phase != "entries":
            self._judge(entry)
        if phase in ("released", "after"):
            self._release(entry)
        self.people: dict[str, Person | None] = {
            "nobody": None,
            "stranger": PersonFactory.create(),
            "elsewhere": office_of(other),
            "neighbour": entry_of(show, 2).exhibitor,
            "owner": entry.exhibitor,
            "judge": judge_of(show, "J1").person,
            "scribe": give(PersonFactory.create(), show, Role.SCRIBE),
            "phone": None,
            "announcer": give(PersonFactory.create(), show, Role.ANNOUNCER),
            "key": key_holder(show),
            "steward": steward_of(show),
            "office": office_of(show),
        }
        self.sessions = {name: session_of(person) for name, person in self.people.items()}

    def _set_up(self, entry: Entry) -> None:
        """What a show has while people enter."""
        show = self.show
        row = Criterion.objects.filter(section__scorecard__show=show).select_related("section")[0]
        pause = Pause.objects.create(
            show=show, starts_at=AT, ends_at=AT + timedelta(hours=1), why="Cooks' meeting."
        )
        pin = Pin.objects.create(
            show=show, judge=judge_of(show, "J1"), entry=entry, must=True, why="Asked for."
        )
        paid = take_payment(
            entry=entry, cents=100, method=Method.CASH, key=uuid4(), by=office_of(show), at=AT
        )
        listed = EntryImport.objects.create(
            show=show, file_name="list.csv", sha256="0" * 64, read_at=AT,
            read_by=office_of(show), rows=[{"line": 1, "headings": ["Wagon"]}],
        )  # fmt: skip
        passkey = Passkey.objects.create(
            person=entry.exhibitor, credential_id="AA", credential_hash="0" * 64,
            public_key="AA", name="Phone", made_at=AT,
        )  # fmt: skip
        season = make_season(
            show=show, name="Lantern Season", points=["3", "1"], best_of=None,
            by=office_of(show), at=AT,
        )  # fmt: skip
        self.values |= {
            "card_id": row.section.scorecard_id,
            "section_id": row.section_id,
            "row_id": row.pk,
            "pause_id": pause.pk,
            "pin_id": pin.pk,
            "number": paid.number,
            "list_id": listed.pk,
            "passkey_id": passkey.pk,
            "season_slug": season.slug,
        }

    def _judge(self, entry: Entry) -> None:
        """What a show has once its round is under way; signed and later, every card is in."""
        show, judge = self.show, judge_of(self.show, "J1")
        phone, self.phone = pair(judge)
        seat = judge.seats.select_related("entry").first()
        assert seat
        if self.phase == "judging":
            send(phone, card_events(judge, seat.entry)[:2])
        else:
            mark_everything(show)
        send(phone, [mark(seat.entry, "no_such_row", 1), concern(seat.entry, "mend", "loose hub")])
        if self.phase != "judging":
            self.results = [signed(show, one) for one in show.classes.all()]
            self.values["result_id"] = self.results[0].pk
        if self.phase in ("released", "after"):
            for result in self.results:
                release_result(result=result, by=office_of(show), at=AT)
        asked = Question.objects.create(
            judge=judge, entry=seat.entry, value=1, expected=8, statistic=4.0,
            threshold=3.5, alpha=0.05, asked_at=AT,
            criterion=Criterion.objects.filter(section__scorecard__show=show)[0],
        )  # fmt: skip
        # Straight from rows: where results are out, a question comes too late and what a phone
        # tells is held.
        rig, event = seat.entry.rig.facts(), SafetyConcern.objects.get().event
        report = RigReport.objects.create(
            judge=judge, entry=seat.entry, device=phone, seq=event.seq, event=event,
            entered=rig, facts={**rig, "pattern": "military"}, reported_at=AT,
        )  # fmt: skip
        photo = RoundPhoto(
            id=event.pk, show=show, judge=judge, device=phone, entry=seat.entry,
            sent_hash="0" * 64, width=1, height=1, size_bytes=4, received_at=AT,
        )  # fmt: skip
        photo.file.save("photo.jpg", ContentFile(b"JPEG"))
        (paper_card,) = issue_cards(judge=judge, entries=[seat.entry], at=AT)
        job = PlanJob.objects.create(show=show, kind=PlanJob.Kind.DRAW, asked_at=AT)
        self.values |= {
            "device_id": phone.pk,
            "question_id": asked.pk,
            "event_id": RoundEvent.objects.get(show=show, applied=False).pk,
            "concern_id": SafetyConcern.objects.get().pk,
            "report_id": report.pk,
            "round_id": drawn(show).pk,
            "photo_id": photo.pk,
            "job_id": job.pk,
            "card_number": paper_card.number,
        }

    def _release(self, entry: Entry) -> None:
        """What a show has when its results are out: papers, a query, a season's class."""
        show, office = self.show, office_of(self.show)
        want_papers(show=show, by=office, at=AT)
        paper = Paper.objects.filter(entry=entry, kind=Paper.Kind.FEEDBACK).first()
        assert paper
        paper.file.save("sheet.pdf", ContentFile(b"%PDF-1.7"), save=False)
        paper.state, paper.done_at, paper.content_hash, paper.pages = "done", AT, "0" * 64, 1
        paper.save()
        query = ExhibitorQuery.objects.create(
            result=self.results[0], entry=entry, text="Why third?", asked_by=entry.exhibitor,
            asked_at=AT,
        )  # fmt: skip
        season = Season.objects.get(slug=self.values["season_slug"])
        add_class(season=season, show_class=class_of(show), by=office, at=AT)
        self.values |= {"query_id": query.pk, "paper_id": paper.pk, "code": paper.code}

    def lacks(self, route: str) -> bool:
        """Whether the show has nothing yet that this route or form would name."""
        return any(name not in self.values for name in re.findall(r"<(?:\w+:)?(\w+)>", route))

    def address(self, route: str) -> str:
        """Fill a route with the values of this show."""
        if route == "/^api/":
            return "/api/nowhere"
        return re.sub(r"<(?:\w+:)?(\w+)>", self._filled, route)

    def _filled(self, found: re.Match[str]) -> str:
        return str(self.values.get(found[1], NO_SUCH.get(found[1], 10**8)))

    def client(self, visitor: str) -> Client:
        """Return a browser of the visitor, or the phone with its token."""
        told = {"authorization": f"Bearer {self.phone}"} if visitor == "phone" else {}
        client = Client(raise_request_exception=False, headers=told)
        if session := self.sessions[visitor]:
            client.cookies[settings.SESSION_COOKIE_NAME] = session
        return client


def signed(show: Show, show_class: ShowClass) -> Result:
    """Compute the class's result and put two hands under it."""
    result = compute_result(show_class=show_class, by=office_of(show), at=AT)
    for hand in (office_of(show), steward_of(show)):
        result = sign_result(result=result, by=hand, at=AT)
    return result


def session_of(person: Person | None) -> str:
    if person is None:
        return ""
    client = Client()
    client.force_login(person)
    return client.cookies[settings.SESSION_COOKIE_NAME].value
