"""The one place where announced times are made known and changed."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Max

from entries.models import Entry
from judging.models import Announcement, CalledOffVisit, Judge, Visit, Window
from judging.queries.announcements import last_number
from judging.queries.window import window_of
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

Pair = tuple[int, int]
Times = tuple[datetime, datetime]
REASON_MAX = 200


@transaction.atomic
def announce_first(*, window: Window, by: Person | None, at: datetime) -> Announcement:
    """Note what was told when the window was published: every visit with its times.

    A window published anew after it was withdrawn goes on with the count, and its visits' revisions
    go on with it, so that a calendar that knows the old times takes the new ones.
    """
    number = last_number(window.show) + 1
    if number > 1:
        window.visits.update(revision=number - 1, changed_at=at)
    pairs = window.visits.values_list("judge_id", "entry_id", "starts_at", "ends_at")
    now = {(judge, entry): (start, end) for judge, entry, start, end in pairs.order_by("starts_at")}
    gone = CalledOffVisit.objects.filter(show=window.show)
    again = [row.pk for row in gone if (row.judge_id, row.entry_id) in now]
    gone.filter(pk__in=again).delete()
    return Announcement.objects.create(
        show=window.show,
        number=number,
        at=at,
        by=by,
        changes=_lines(window.show, dict.fromkeys(now), dict(now)),
    )


@transaction.atomic
def change_times(
    *,
    show: Show,
    times: Mapping[Pair, Times],
    called_off: Collection[Pair] = (),
    reason: str,
    by: Person | None,
    at: datetime,
) -> Announcement:
    """Change announced times, add visits and call some off, and tell it all as one announcement.

    `times` are by (judge id, entry id); those that stay as they are may be among them.
    """
    show = Show.objects.select_for_update().get(pk=show.pk)
    window = window_of(show)
    if window is None or window.published_at is None:
        raise NotYet(_("The times are not published yet; publish the window first."))
    if not reason.strip():
        raise InvalidInput(
            _("Say why the times change; judges and exhibitors will ask."),
            fields={"reason": _("A reason, please.")},
        )
    present = {(visit.judge_id, visit.entry_id): visit for visit in window.visits.all()}
    before: dict[Pair, Times | None] = {
        pair: (visit.starts_at, visit.ends_at) for pair, visit in present.items()
    }
    after = {pair: span for pair, span in times.items() if before.get(pair) != span}
    off = {pair for pair in called_off if pair in present}
    _demand_sense(after, off)
    _write(show, window, present, after, at)
    _call_off(show, present, off, at)
    measure(window, changed="times changed")
    changed: dict[Pair, Times | None] = {**after, **dict.fromkeys(off)}
    told = Announcement.objects.create(
        show=show,
        number=last_number(show) + 1,
        at=at,
        by=by,
        reason=reason.strip()[:REASON_MAX],
        changes=_lines(show, {pair: before.get(pair) for pair in changed}, changed),
    )
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="announced",
        subject="changed times",
        before={"visits": [_in_words(line, "was") for line in told.changes if line["was"]]},
        after={
            "announcement": told.number,
            "visits": [_in_words(line, "now") for line in told.changes if line["now"]],
            "called_off": len(off),
        },
        reason=told.reason,
    )
    return told


def _demand_sense(after: Mapping[Pair, Times], off: Collection[Pair]) -> None:
    if not after and not off:
        raise Conflict(_("No announced time would change."), code="nothing-changes")
    if any(start >= end for start, end in after.values()):
        raise InvalidInput(_("A visit ends after it starts."))
    if any(pair in after for pair in off):
        raise InvalidInput(_("A visit is either moved or called off."))


def _write(
    show: Show,
    window: Window,
    present: Mapping[Pair, Visit],
    after: Mapping[Pair, Times],
    at: datetime,
) -> None:
    """Write new times in place; a visit that comes back after it was called off counts on."""
    gone = {(row.judge_id, row.entry_id): row for row in CalledOffVisit.objects.filter(show=show)}
    moved, made = [], []
    for pair, (start, end) in after.items():
        visit = present.get(pair)
        if visit is None:
            visit = Visit(window=window, judge_id=pair[0], entry_id=pair[1])
            visit.revision = gone[pair].revision if pair in gone else 0
            made.append(visit)
        else:
            moved.append(visit)
        if visit.pk or pair in gone:
            visit.revision += 1
        visit.starts_at, visit.ends_at, visit.changed_at = start, end, at
    Visit.objects.bulk_update(moved, ("starts_at", "ends_at", "revision", "changed_at"))
    Visit.objects.bulk_create(made)
    back = [row.pk for pair, row in gone.items() if pair in after]
    CalledOffVisit.objects.filter(pk__in=back).delete()


def _call_off(
    show: Show, present: Mapping[Pair, Visit], off: Collection[Pair], at: datetime
) -> None:
    visits = [present[pair] for pair in sorted(off)]
    CalledOffVisit.objects.bulk_create(
        CalledOffVisit(
            show=show,
            judge_id=visit.judge_id,
            entry_id=visit.entry_id,
            starts_at=visit.starts_at,
            ends_at=visit.ends_at,
            revision=visit.revision + 1,
            called_off_at=at,
        )
        for visit in visits
    )
    Visit.objects.filter(pk__in=[visit.pk for visit in visits]).delete()


def measure(window: Window, *, changed: str) -> None:
    """Say anew what the window needs; what was reckoned for the first plan no longer holds."""
    last = window.visits.aggregate(last=Max("ends_at"))["last"] or window.opens_at
    window.needed_minutes = int((last - window.opens_at).total_seconds() // 60)
    window.proven, window.likely_minutes, window.chance = False, None, None
    over = window.needed_minutes - window.available_minutes
    held = f"{over} minutes over." if over > 0 else f"{-over} to spare."
    window.advice = [
        f"With the {changed} on the day the judging needs {window.needed_minutes} of "
        f"{window.available_minutes} minutes: {held}"
    ]
    window.save(update_fields=["needed_minutes", "proven", "likely_minutes", "chance", "advice"])


def _lines(
    show: Show, before: Mapping[Pair, Times | None], after: Mapping[Pair, Times | None]
) -> list[dict[str, Any]]:
    """Return a line a visit, in order of time, with short names that outlast every change."""
    codes = dict(Judge.objects.filter(show=show).values_list("pk", "code"))
    numbers = dict(Entry.objects.filter(show=show).values_list("pk", "number"))

    def span(times: Times | None) -> list[str] | None:
        return [moment.isoformat() for moment in times] if times else None

    def when(pair: Pair) -> tuple[datetime, str]:
        times = after[pair] or before[pair]
        assert times
        return times[0], codes.get(pair[0], "")

    return [
        {
            "judge": pair[0],
            "judge_code": codes.get(pair[0], ""),
            "entry": pair[1],
            "entry_number": numbers.get(pair[1]),
            "was": span(before[pair]),
            "now": span(after[pair]),
        }
        for pair in sorted(after, key=when)
    ]


def _in_words(line: Mapping[str, Any], which: str) -> str:
    return f"{line['judge_code']} at entry {line['entry_number']}: {line[which][0]}"
