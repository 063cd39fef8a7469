"""Calendar links: one that works for each, told once, revoked for good, and on the record."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from judging.actions.calendar_links import make_calendar_link, revoke_calendar_link
from judging.models import CalendarLink
from judging.queries.calendars import link_by_token, live_links
from showrun.errors import Conflict, InvalidInput
from showrun.shows.models import AuditEntry, Show
from tests import timetable_stage as stage

pytestmark = pytest.mark.django_db
AT = stage.PUBLISHED_AT


@pytest.fixture
def show() -> Show:
    return stage.planned(2, 2)


def test_a_token_opens_its_own_link_and_is_kept_nowhere(show: Show) -> None:
    office = stage.person("Nora", "office", show=show)
    judge, entry = stage.judge_of(show), stage.entry_of(show)
    made = [
        make_calendar_link(show=show, by=office, at=AT),
        make_calendar_link(show=show, judge=judge, by=office, at=AT),
        make_calendar_link(show=show, entry=entry, by=entry.exhibitor, at=AT),
    ]
    assert [link.kind for link, _ in made] == ["office", "judge", "entry"]
    kept = str(list(CalendarLink.objects.values())) + str(list(AuditEntry.objects.values()))
    for link, token in made:
        assert link_by_token(token) == link
        assert len(token) >= 43  # 256 bits
        assert token not in kept
        assert link.token_hash not in str(list(AuditEntry.objects.values()))
    assert len({token for _, token in made}) == 3
    lines = AuditEntry.objects.filter(show=show, verb="made").order_by("pk")
    assert [line.actor for line in lines] == [office, office, entry.exhibitor]
    assert "Judith Number1 (J1)" in lines[1].subject


def test_a_new_link_takes_the_place_of_the_old_and_of_no_other(show: Show) -> None:
    judge, other = stage.judge_of(show), stage.judge_of(show, "J2")
    _, first = make_calendar_link(show=show, judge=judge, by=None, at=AT)
    _, beside = make_calendar_link(show=show, judge=other, by=None, at=AT)
    _, whole = make_calendar_link(show=show, by=None, at=AT)
    link, second = make_calendar_link(show=show, judge=judge, by=None, at=AT + timedelta(hours=1))
    assert link_by_token(first) is None
    assert link_by_token(second) == link
    assert link_by_token(beside) is not None
    assert link_by_token(whole) is not None
    assert live_links(show)["judge", judge.pk] == link
    newest = AuditEntry.objects.filter(verb="made").latest("pk")
    assert newest.after == {"kind": "judge", "replaces_one": True}


def test_a_revoked_link_opens_nothing_and_is_revoked_once(show: Show) -> None:
    link, token = make_calendar_link(show=show, by=None, at=AT)
    revoke_calendar_link(link=link, by=None, at=AT)
    assert link_by_token(token) is None
    link.refresh_from_db()
    assert link.revoked_at == AT
    with pytest.raises(Conflict, match="revoked already"):
        revoke_calendar_link(link=link, by=None, at=AT)
    assert AuditEntry.objects.filter(verb="revoked").count() == 1


def test_links_of_another_show_are_refused(show: Show) -> None:
    other = stage.planned(1, 1, slug="elsewhere")
    with pytest.raises(InvalidInput, match="another show"):
        make_calendar_link(show=show, judge=stage.judge_of(other), by=None, at=AT)
    with pytest.raises(InvalidInput, match="another show"):
        make_calendar_link(show=show, entry=stage.entry_of(other), by=None, at=AT)
    with pytest.raises(InvalidInput, match="of a judge, of a wagon or"):
        make_calendar_link(
            show=show, judge=stage.judge_of(show), entry=stage.entry_of(show), by=None, at=AT
        )
    assert not CalendarLink.objects.exists()


@pytest.mark.parametrize("kind", ["office", "judge", "entry"])
def test_the_rows_hold_one_live_link_each_whoever_writes(show: Show, kind: str) -> None:
    whose: dict[str, dict[str, Any]] = {
        "judge": {"judge": stage.judge_of(show)},
        "entry": {"entry": stage.entry_of(show)},
        "office": {},
    }
    make_calendar_link(show=show, by=None, at=AT, **whose[kind])
    row: dict[str, Any] = {"show": show, "kind": kind, "made_at": AT, **whose[kind]}
    with pytest.raises(IntegrityError), transaction.atomic():
        CalendarLink.objects.create(token_hash="a" * 64, **row)
    CalendarLink.objects.create(token_hash="b" * 64, revoked_at=AT, **row)
    wrong: dict[str, Any] = {"office": whose["judge"], "judge": whose["entry"], "entry": {}}[kind]
    with pytest.raises(IntegrityError), transaction.atomic():
        CalendarLink.objects.create(
            token_hash="c" * 64, show=show, kind=kind, made_at=AT, revoked_at=AT, **wrong
        )
