"""Everybody who may come to a show's doors, and a show with something behind each of them."""

from __future__ import annotations

import re
from datetime import timedelta
from uuid import uuid4

from django.conf import settings
from django.core.files.base import ContentFile
from django.test import Client

from entries.actions.put_photo import put_photo
from entries.actions.take_payment import take_payment
from entries.models import EntryImport
from entries.rules.ledger import Method
from judging.actions.calendar_links import make_calendar_link
from judging.actions.key_card import issue_cards
from judging.actions.seasons import add_class, make_season
from judging.models import (
    Criterion,
    ExhibitorQuery,
    Pause,
    Pin,
    PlanJob,
    Question,
    RigReport,
    RoundEvent,
    RoundPhoto,
    SafetyConcern,
)
from judging.queries.library import library_cards
from reports.actions.want_papers import want_papers
from reports.models import Paper
from showrun.shows.models import Passkey, Person
from tests.food_stage import drawn
from tests.judged_show import (
    AT,
    build_show,
    class_of,
    concern,
    entry_of,
    judge_of,
    mark,
    mark_everything,
    office_of,
    open_window,
    release_results,
    send,
    steward_of,
)
from tests.people import PersonFactory
from tests.pictures import picture

VISITORS = ("nobody", "stranger", "elsewhere", "neighbour", "owner", "judge", "steward", "office")


class Cast:
    """A show judged and released, with something of every kind, and the eight visitors."""

    def __init__(self) -> None:
        show = self.show = build_show()
        open_window(show)
        mark_everything(show)
        other = build_show(slug="other-ground", n_entries=1, n_judges=1)
        phone = judge_of(show, "J1").devices.first()
        seat = judge_of(show, "J1").seats.select_related("entry").first()
        assert phone and seat
        send(phone, [mark(seat.entry, "no_such_row", 1), concern(seat.entry, "mend", "loose hub")])
        results = release_results(show)
        want_papers(show=show, by=office_of(show), at=AT)
        entry = entry_of(show, 1)
        put_photo(entry, picture())
        row = Criterion.objects.filter(section__scorecard__show=show).select_related("section")[0]
        asked = Question.objects.create(
            judge=judge_of(show, "J1"), entry=seat.entry, value=1, expected=8, statistic=4.0,
            threshold=3.5, alpha=0.05, asked_at=AT,
            criterion=Criterion.objects.filter(section__scorecard__show=show)[0],
        )  # fmt: skip
        # Straight from rows: a phone's would be held, since the results are out.
        rig, event = seat.entry.rig.facts(), SafetyConcern.objects.get().event
        report = RigReport.objects.create(
            judge=judge_of(show, "J1"), entry=seat.entry, device=phone, seq=event.seq, event=event,
            entered=rig, facts={**rig, "pattern": "military"}, reported_at=AT,
        )  # fmt: skip
        paper = Paper.objects.filter(entry=entry, kind=Paper.Kind.FEEDBACK).first()
        assert paper
        paper.file.save("sheet.pdf", ContentFile(b"%PDF-1.7"), save=False)
        paper.state, paper.done_at, paper.content_hash, paper.pages = "done", AT, "0" * 64, 1
        paper.save()
        pause = Pause.objects.create(
            show=show, starts_at=AT, ends_at=AT + timedelta(hours=1), why="Cooks' meeting."
        )
        pin = Pin.objects.create(
            show=show, judge=judge_of(show, "J1"), entry=entry, must=True, why="Asked for."
        )
        photo = RoundPhoto(
            id=event.pk, show=show, judge=judge_of(show, "J1"), device=phone, entry=seat.entry,
            sent_hash="0" * 64, width=1, height=1, size_bytes=4, received_at=AT,
        )  # fmt: skip
        photo.file.save("photo.jpg", ContentFile(b"JPEG"))
        (paper_card,) = issue_cards(judge=judge_of(show, "J1"), entries=[seat.entry], at=AT)
        query = ExhibitorQuery.objects.create(
            result=results[0], entry=entry, text="Why third?", asked_by=entry.exhibitor, asked_at=AT
        )
        season = make_season(
            show=show, name="Lantern Season", points=["3", "1"], best_of=None,
            by=office_of(show), at=AT,
        )  # fmt: skip
        add_class(season=season, show_class=class_of(show), by=office_of(show), at=AT)
        job = PlanJob.objects.create(show=show, kind=PlanJob.Kind.DRAW, asked_at=AT)
        self.people: dict[str, Person | None] = {
            "nobody": None,
            "stranger": PersonFactory.create(),
            "elsewhere": office_of(other),
            "neighbour": entry_of(show, 2).exhibitor,
            "owner": entry.exhibitor,
            "judge": judge_of(show, "J1").person,
            "steward": steward_of(show),
            "office": office_of(show),
        }
        self.sessions = {name: session_of(person) for name, person in self.people.items()}
        self.values = {
            "slug": show.slug,
            "entry_id": entry.pk,
            "judge_id": judge_of(show, "J1").pk,
            "device_id": phone.pk,
            "class_id": class_of(show).pk,
            "result_id": results[0].pk,
            "question_id": asked.pk,
            "query_id": query.pk,
            "season_slug": season.slug,
            "event_id": RoundEvent.objects.get(show=show, applied=False).pk,
            "concern_id": SafetyConcern.objects.get().pk,
            "report_id": report.pk,
            "paper_id": paper.pk,
            "round_id": drawn(show).pk,
            "number": take_payment(
                entry=entry, cents=100, method=Method.CASH, key=uuid4(), by=office_of(show), at=AT
            ).number,
            "photo_id": photo.pk,
            "pause_id": pause.pk,
            "pin_id": pin.pk,
            "job_id": job.pk,
            "card_number": paper_card.number,
            "code": paper.code,
            "token": make_calendar_link(show=show, by=office_of(show), at=AT)[1],
            "kind": Paper.Kind.FEEDBACK.value,
            "card_id": row.section.scorecard_id,
            "section_id": row.section_id,
            "row_id": row.pk,
            "form": "yaml",
            "library_card": next(iter(library_cards())),
            "list_id": EntryImport.objects.create(
                show=show, file_name="list.csv", sha256="0" * 64, read_at=AT,
                read_by=office_of(show), rows=[{"line": 1, "headings": ["Wagon"]}],
            ).pk,
            "passkey_id": Passkey.objects.create(
                person=entry.exhibitor, credential_id="AA", credential_hash="0" * 64,
                public_key="AA", name="Phone", made_at=AT,
            ).pk,
        }  # fmt: skip

    def address(self, route: str) -> str:
        """Fill a route with the values of this show."""
        if route == "/^api/":
            return "/api/nowhere"
        return re.sub(r"<(?:\w+:)?(\w+)>", lambda found: str(self.values[found[1]]), route)


def session_of(person: Person | None) -> str:
    if person is None:
        return ""
    client = Client()
    client.force_login(person)
    return client.cookies[settings.SESSION_COOKIE_NAME].value
