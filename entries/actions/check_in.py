"""Check a wagon in: each tick is something a person saw, written alone and taken back alone.

Two tablets may work on the same wagon: a tick changes its own column only, a tick that is there
already stays as it is, and every change is a line of the record.
"""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from entries.models import Animal, CheckIn, Entry
from entries.rules.gate import TICK_WORDS, Tick
from entries.rules.places import Status
from showrun.errors import InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


def _row(entry: Entry, by: Person, at: datetime) -> CheckIn:
    """Return the entry's row, made on the first touch; the show's lock lines tablets up."""
    Show.objects.select_for_update().get(pk=entry.show_id)
    status = Entry.objects.values_list("status", flat=True).get(pk=entry.pk)
    if status != Status.CONFIRMED:
        raise NotYet(
            _("{entry} is {status}; only confirmed wagons are checked in.").format(
                entry=entry.called, status=status
            )
        )
    row, _unused = CheckIn.objects.get_or_create(
        entry=entry, defaults={"changed_at": at, "changed_by": by}
    )
    return row


@transaction.atomic
def note_tick(*, entry: Entry, tick: Tick, done: bool, by: Person, at: datetime) -> bool:
    """Tick something off or take the tick back; false where it was so already."""
    if tick is Tick.PAPERS and entry.animals.exists():
        raise InvalidInput(_("Papers are ticked off animal by animal where animals are listed."))
    return _set(_row(entry, by, at), entry, tick, done, by, at)


def _set(row: CheckIn, entry: Entry, tick: Tick, done: bool, by: Person, at: datetime) -> bool:
    column = f"{tick.value}_at"
    mine = CheckIn.objects.filter(pk=row.pk, **{f"{column}__isnull": done})
    changed = mine.update(**{column: at if done else None, "changed_at": at, "changed_by": by})
    if changed:
        _record(entry, TICK_WORDS[tick], done, by, at)
    return bool(changed)


def _record(entry: Entry, what: str, done: bool, by: Person, at: datetime) -> None:
    record_change(
        show=entry.show,
        actor=by,
        at=at,
        verb="checked in",
        subject=f"entry {entry}",
        before={what: not done},
        after={what: done},
    )


@transaction.atomic
def note_papers(*, animal: Animal, seen: bool, by: Person, at: datetime) -> bool:
    """Note that an animal's papers were seen, or take it back; false where it was so already.

    Once the papers of all animals of the entry were seen, the entry's are.
    """
    entry = animal.entry
    row = _row(entry, by, at)
    mine = Animal.objects.filter(pk=animal.pk, papers_seen_at__isnull=seen)
    values = {"papers_seen_at": at, "papers_seen_by": by} if seen else {
        "papers_seen_at": None, "papers_seen_by": None
    }  # fmt: skip
    if not mine.update(**values):
        return False
    _record(entry, f"papers of {animal.name} seen", seen, by, at)
    every = not Animal.objects.filter(entry=entry, papers_seen_at__isnull=True).exists()
    column_set = CheckIn.objects.filter(pk=row.pk, papers_seen_at__isnull=every)
    column_set.update(papers_seen_at=at if every else None, changed_at=at, changed_by=by)
    return True


@transaction.atomic
def change_note(*, entry: Entry, note: str, by: Person, at: datetime) -> bool:
    """Write the note about this wagon; false where it says so already."""
    note = " ".join(note.split())
    if len(note) > CheckIn.NOTE_MAX:
        raise InvalidInput(
            _("The note is longer than {most} letters.").format(most=CheckIn.NOTE_MAX),
            fields={"note": _("Shorter, please.")},
        )
    row = _row(entry, by, at)
    if row.note == note:
        return False
    CheckIn.objects.filter(pk=row.pk).update(note=note, changed_at=at, changed_by=by)
    record_change(
        show=entry.show,
        actor=by,
        at=at,
        verb="checked in",
        subject=f"entry {entry}",
        before={"note": row.note},
        after={"note": note},
    )
    return True
