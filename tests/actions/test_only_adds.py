"""The database itself keeps lines that are only added, whoever asks, in raw SQL as well."""

from __future__ import annotations

import importlib
from typing import Any

import pytest
from django.db import IntegrityError, connection, models, transaction

from entries.models import CrewChange, Posting, PostingLine
from judging.models import KeyedRow, Keying, RoundEvent, Signature, TemperatureReading
from showrun.shows.actions.record import record_change
from showrun.shows.models import AuditEntry, Person, Show
from tests.judged_show import build_show, draw_panel, judge_of, mark_everything
from tests.people import NOW
from tests.tampered import guarded_tables, unguarded

pytestmark = pytest.mark.django_db

KINDS = (
    *(AuditEntry, Posting, PostingLine, CrewChange),
    *(RoundEvent, Signature, Keying, KeyedRow, TemperatureReading),
)


@pytest.fixture
def line(show: Show, office: Person) -> AuditEntry:
    return record_change(show=show, actor=office, at=NOW, verb="moved", subject="wagon 1")


def run(sql: str, *given: Any) -> int:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, given)
        return int(cursor.rowcount)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_the_table_has_its_two_triggers(kind: type[models.Model]):
    """Fails where a later migration made the table anew and lost them."""
    table = kind._meta.db_table
    names = {name for name, _ in guarded_tables()[table]}
    assert names == {f"{table}_no_update", f"{table}_no_delete"}


def test_no_other_table_is_guarded():
    assert set(guarded_tables()) == {kind._meta.db_table for kind in KINDS}


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE shows_auditentry SET reason = 'another' WHERE id = %s",
        "UPDATE shows_auditentry SET actor_id = NULL WHERE id = %s",
        "DELETE FROM shows_auditentry WHERE id = %s",
    ],
)
def test_a_line_of_the_record_stays_as_it_was_written(line: AuditEntry, sql: str):
    before = AuditEntry.objects.values().get(pk=line.pk)
    with pytest.raises(IntegrityError, match="added, never edited or removed"):
        run(sql, line.pk)
    assert AuditEntry.objects.values().get(pk=line.pk) == before


def test_lines_are_added_as_ever(line: AuditEntry):
    sql = (
        "INSERT INTO shows_auditentry (show_id, at, device, verb, subject, reason) "
        "SELECT show_id, at, device, verb, subject, reason FROM shows_auditentry WHERE id = %s"
    )
    assert run(sql, line.pk) == 1


def test_what_a_judge_touched_stays_and_what_became_of_it_is_added(db: None):
    show = build_show(n_entries=2)
    draw_panel(show)
    mark_everything(show)
    event = RoundEvent.objects.filter(kind="mark").earliest("seq")
    asked = RoundEvent.objects.filter(pk=event.pk)
    for changed in (
        {"body": {**event.body, "value": "0"}},
        {"keyed_by": "Another"},
        {"seq": event.seq + 1000},
        {"received_at": NOW},
        {"happened_at": None},
        {"body_hash": "0" * 64, "settled_note": "Looked at."},
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            asked.update(**changed)
    with pytest.raises(IntegrityError), transaction.atomic():
        asked.delete()
    assert asked.update(settled_at=NOW, settled_note="Looked at.", applied=False) == 1
    event.refresh_from_db()
    assert (event.settled_note, event.applied) == ("Looked at.", False)
    event.save()  # nothing of what was touched differs
    assert judge_of(show).devices.count() == 1


def test_only_who_takes_the_triggers_off_can_edit(line: AuditEntry):
    with unguarded(AuditEntry):
        assert AuditEntry.objects.filter(pk=line.pk).update(reason="mended") == 1
    with pytest.raises(IntegrityError), transaction.atomic():
        AuditEntry.objects.filter(pk=line.pk).update(reason="again")


@pytest.mark.parametrize(
    ("app", "name"),
    [
        ("showrun.shows", "0004_record_only_adds"),
        ("entries", "0004_ledger_only_adds"),
        ("judging", "0007_touches_only_add"),
    ],
)
def test_a_migration_can_be_taken_back_and_made_again(db: None, app: str, name: str):
    steps = importlib.import_module(f"{app}.migrations.{name}").Migration.operations
    # Not entered: SQLite would want to be outside of the test's transaction for what tables need.
    editor, kept = connection.schema_editor(), guarded_tables()
    for step in steps:
        step.reverse_code(None, editor)
    assert len(guarded_tables()) == len(kept) - len(steps)
    for step in steps:
        step.code(None, editor)
    assert guarded_tables() == kept
