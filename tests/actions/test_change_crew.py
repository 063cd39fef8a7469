"""Changing a crew: who may, when, and what the log keeps."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from entries.actions.change_crew import change_crew
from entries.models import CrewChange, CrewMember, Entry, EntryTerms
from entries.rules.places import Status
from showrun.errors import InvalidInput, NotYet
from showrun.shows.models import AuditEntry, Person
from tests.people import NOW

pytestmark = pytest.mark.django_db

NEW: list[dict[str, Any]] = [
    {"name": "Crew 0", "role": "head_cook"},
    {"name": " Ann Oak ", "role": "helper", "under_age": True},
    {"name": "  ", "role": "helper"},
]


def names(entry: Entry) -> list[tuple[str, str, bool]]:
    return [(m.name, m.role, m.under_age) for m in entry.crew.all()]


def test_the_owner_changes_the_crew_and_every_change_has_its_line(entry: Entry, exhibitor: Person):
    change_crew(entry=entry, crew=NEW, by=exhibitor, at=NOW)
    assert names(entry) == [("Crew 0", "head_cook", False), ("Ann Oak", "helper", True)]
    log = CrewChange.objects.filter(entry=entry)
    assert {(row.what, row.name, row.role) for row in log} == {
        ("removed", "Crew 1", "cook"),
        ("added", "Ann Oak", "helper"),
    }
    assert {(row.by, row.at, row.after_freeze) for row in log} == {(exhibitor, NOW, False)}
    change_crew(
        entry=entry, crew=[NEW[0], {"name": "ann oak", "role": "cook"}], by=exhibitor, at=NOW
    )
    newest = CrewChange.objects.filter(entry=entry)[0]
    assert (newest.what, newest.before) == ("changed", "Ann Oak, helper, under age")


def test_the_same_list_again_is_no_change(entry: Entry, exhibitor: Person):
    same = [{"name": m.name, "role": m.role} for m in entry.crew.all()]
    kept = set(entry.crew.values_list("pk", flat=True))
    assert change_crew(entry=entry, crew=same, by=exhibitor, at=NOW) == []
    assert set(entry.crew.values_list("pk", flat=True)) == kept
    assert not AuditEntry.objects.exists()


@pytest.mark.parametrize(
    ("crew", "reason", "field"),
    [
        (NEW[:1], "", "crew"),
        ([NEW[0], {"name": "B", "role": "head_cook"}], "", "crew"),
        ([NEW[0], {"name": "B", "role": "king"}], "", "crew"),
        (NEW, "x" * 201, "reason"),
    ],
)
def test_what_is_no_crew_changes_nothing(
    entry: Entry, exhibitor: Person, crew: list[dict[str, Any]], reason: str, field: str
):
    before = names(entry)
    with pytest.raises(InvalidInput) as refused:
        change_crew(entry=entry, crew=crew, by=exhibitor, at=NOW, reason=reason)
    assert list(refused.value.fields) == [field]
    assert names(entry) == before
    assert not CrewChange.objects.exists()


def test_after_the_freeze_only_the_office_and_with_a_reason(
    entry: Entry, exhibitor: Person, office: Person, steward: Person
):
    frozen = entry.show.judging_starts_at
    change_crew(entry=entry, crew=NEW, by=exhibitor, at=frozen - timedelta(seconds=1))
    back = [{"name": "Crew 0", "role": "head_cook"}, {"name": "Crew 1", "role": "cook"}]
    for person in (exhibitor, steward):
        with pytest.raises(NotYet, match="Tell the show office"):
            change_crew(entry=entry, crew=back, by=person, at=frozen, reason="ill")
    with pytest.raises(InvalidInput) as refused:
        change_crew(entry=entry, crew=back, by=office, at=frozen, reason=" ")
    assert "say why" in refused.value.fields["reason"]
    rows = change_crew(entry=entry, crew=back, by=office, at=frozen, reason=" Ann fell ill. ")
    assert {(row.after_freeze, row.reason) for row in rows} == {(True, "Ann fell ill.")}


def test_the_show_may_freeze_crews_at_an_hour_of_its_own(entry: Entry, exhibitor: Person):
    EntryTerms.objects.create(show=entry.show, crew_frozen_at=NOW)
    with pytest.raises(NotYet):
        change_crew(entry=entry, crew=NEW, by=exhibitor, at=NOW)


def test_who_left_the_show_keeps_the_crew_it_had(entry: Entry, office: Person):
    Entry.objects.filter(pk=entry.pk).update(status=Status.SCRATCHED.value)
    with pytest.raises(NotYet, match="left the show"):
        change_crew(entry=entry, crew=NEW, by=office, at=NOW, reason="x")
    assert CrewMember.objects.filter(entry=entry).count() == 2
