"""Whatever is done to a wait list, in any order: the cap holds and nobody overtakes."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from entries.actions.decide_entry import confirm_entry, put_on_wait_list, scratch_entry
from entries.actions.enter import enter
from entries.actions.promote import decline, lapse_due, offer_next, take_up
from entries.actions.set_terms import set_terms
from entries.actions.withdraw_entry import withdraw_entry
from entries.models import Entry, EntryTerms
from entries.rules.places import Status
from entries.rules.terms import Terms
from showrun.errors import ShowError
from showrun.shows.models import AuditEntry, Person, Show
from tests.people import NOW, RIG, PersonFactory

pytestmark = pytest.mark.django_db

CREW = [{"name": "Ada Moor", "role": "head_cook"}, {"name": "Ben Oak", "role": "cook"}]
DEEDS = [
    "enter", "enter", "enter", "scratch", "withdraw", "wait", "confirm", "offer", "take_up",
    "decline", "lapse", "cap",
]  # fmt: skip


class Line:
    """A show whose wait list is played with, and what must stay true of it."""

    def __init__(self, show: Show, office: Person, hours: int | None) -> None:
        self.show, self.office, self.hours = show, office, hours
        self.at: datetime = NOW
        EntryTerms.objects.create(show=show, promotion_hours=hours)

    def play(self, deed: str, which: int) -> None:
        """Do one deed to one of the entries; a refusal is an answer too."""
        before, last = self.standing(), AuditEntry.objects.order_by("-id").first()
        try:
            with transaction.atomic():
                self._do(deed, which)
        except ShowError:
            assert self.standing() == before, "refused, and yet something moved"
        noted = AuditEntry.objects.filter(show=self.show, pk__gt=last.pk if last else 0)
        self._check(before, put_back=deed == "wait", noted=noted.filter(verb="offered").count())

    def standing(self) -> dict[int, str]:
        rows = Entry.objects.filter(show=self.show).order_by("pk")
        return dict(rows.values_list("pk", "status"))

    def _do(self, deed: str, which: int) -> None:
        self.at += timedelta(minutes=1)
        if deed == "enter":
            enter(
                show=self.show, exhibitor=PersonFactory.create(), wagon_name="Wagon", rig=RIG,
                classes=["trail"], crew=CREW, at=self.at,
            )  # fmt: skip
        elif deed == "cap":
            set_terms(
                show=self.show, by=self.office, at=self.at,
                terms=replace(Terms(entry_cap=1 + which % 5), promotion_hours=self.hours),
            )  # fmt: skip
        elif deed == "offer":
            offer_next(show=self.show, by=self.office, at=self.at)
        elif deed == "lapse":
            self.at += timedelta(hours=30)
            lapse_due(at=self.at)
        elif entries := list(Entry.objects.filter(show=self.show).order_by("pk")):
            self._to(deed, entries[which % len(entries)])

    def _to(self, deed: str, entry: Entry) -> None:
        own, office, at = entry.exhibitor, self.office, self.at
        if deed == "scratch":
            scratch_entry(entry=entry, by=office, at=at, reason="asked")
        elif deed == "withdraw":
            withdraw_entry(entry=entry, by=own, at=at)
        elif deed == "wait":
            put_on_wait_list(entry=entry, by=office, at=at)
        elif deed == "confirm":
            confirm_entry(entry=entry, by=office, at=at)
        elif deed == "take_up":
            take_up(entry=entry, by=own, at=at)
        else:
            decline(entry=entry, by=own, at=at)

    def _check(self, before: dict[int, str], *, put_back: bool, noted: int) -> None:
        now, cap = self.standing(), Show.objects.get(pk=self.show.pk).entry_cap
        assert before.keys() <= now.keys(), "none is lost"
        held = [pk for pk, status in now.items() if status in ("entered", "confirmed", "offered")]
        assert len(held) <= cap
        # who left the line by a place stood before everybody who still waits
        moved = [
            pk
            for pk, status in before.items()
            if status == Status.WAITING and now[pk] in ("offered", "confirmed", "entered")
        ]
        waited = [pk for pk, status in before.items() if status == Status.WAITING]
        assert moved == [pk for pk in waited if now[pk] != Status.SCRATCHED][: len(moved)]
        assert len(moved) >= noted
        # a new entry never gets a place past those who wait
        new = [pk for pk in now if pk not in before]
        assert not (new and now[new[0]] == "entered" and waited)
        # with hours set no place stays free while somebody waits, but for who was just put back
        offered = Entry.objects.filter(show=self.show, status=Status.OFFERED.value)
        assert not offered.filter(take_up_by__isnull=True).exists()
        others = Entry.objects.filter(show=self.show).exclude(status=Status.OFFERED.value)
        assert not others.filter(take_up_by__isnull=False).exists(), "in two states at once"
        waiting = [pk for pk, status in now.items() if status == Status.WAITING]
        self.put_back = put_back or (getattr(self, "put_back", False) and bool(waiting))
        if self.hours and not self.put_back:
            assert not waiting or len(held) == cap


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    hours=st.sampled_from([24, 24, None]),
    deeds=st.lists(st.tuples(st.sampled_from(DEEDS), st.integers(0, 30)), min_size=6, max_size=18),
)
def test_any_sequence(
    show: Show, office: Person, hours: int | None, deeds: list[tuple[str, int]]
) -> None:
    with transaction.atomic():
        line = Line(show, office, hours)
        for deed, which in [("enter", 0)] * 5 + deeds:
            line.play(deed, which)
        transaction.set_rollback(True)
