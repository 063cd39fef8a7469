"""Engage a judge for a show, and record what bars them from an entry."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from entries.models import Entry
from entries.rules.places import Status
from judging.actions.practice import seat_at_practice
from judging.models import Conflict, Judge, Seat
from judging.queries.cards import demand_card
from showrun import errors
from showrun.shows.actions.plan_show import give_role
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show
from showrun.shows.rules.access import Role


@transaction.atomic
def engage_judge(
    *,
    show: Show,
    person: Person,
    code: str,
    sections: Sequence[str],
    seniority: str = "senior",
    by: Person | None,
    at: datetime,
) -> Judge:
    """Engage the person for the sections named."""
    known = {section.code: section for section in demand_card(show).sections.all()}
    unknown = [name for name in sections if name not in known]
    if unknown or not sections:
        raise errors.InvalidInput(
            f"The scorecard has no section “{unknown[0]}”."
            if unknown
            else "Choose at least one section this judge may judge.",
            fields={"sections": "Choose from the scorecard's sections."},
        )
    if Judge.objects.filter(show=show, person=person).exists():
        raise errors.Conflict(f"{person.name} judges at this show already.")
    if Judge.objects.filter(show=show, code=code).exists():
        raise errors.Conflict(f"Another judge of this show has the short name “{code}”.")
    judge = Judge.objects.create(show=show, person=person, code=code, seniority=seniority)
    judge.sections.set(known[name] for name in sections)
    seat_at_practice(judge)
    give_role(show=show, person=person, role=Role.JUDGE)
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="engaged",
        subject=f"judge {judge}",
        after={"sections": list(sections), "seniority": seniority},
    )
    return judge


@transaction.atomic
def judge_leaves(*, judge: Judge, reason: str, by: Person | None, at: datetime) -> Judge:
    """Take the judge off the rest of the show; cards they handed in still count."""
    if judge.left_at:
        raise errors.Conflict(f"{judge} has left already.")
    if not reason.strip():
        raise errors.InvalidInput(
            "Say why the judge leaves.", fields={"reason": "A reason, please."}
        )
    judge.left_at = at
    judge.save(update_fields=["left_at"])
    record_change(
        show=judge.show,
        actor=by,
        at=at,
        verb="left",
        subject=f"judge {judge}",
        reason=reason.strip(),
    )
    return judge


@transaction.atomic
def declare_conflict(
    *, judge: Judge, entry: Entry, kind: str, reason: str, by: Person | None, at: datetime
) -> Conflict:
    """Bar the judge from the entry; a panel drawn before must be drawn again."""
    if kind not in dict(Conflict.KINDS):
        raise errors.InvalidInput(
            f"“{kind}” is no kind of conflict.", fields={"kind": "Choose one of the kinds."}
        )
    if entry.show_id != judge.show_id:
        raise errors.InvalidInput("That entry is in another show.")
    if entry.status == Status.PRACTICE:
        raise errors.InvalidInput("The practice wagon is for every judge; no conflict bars it.")
    conflict, made = Conflict.objects.get_or_create(
        judge=judge, entry=entry, defaults={"kind": kind, "reason": reason, "declared_at": at}
    )
    if not made:
        raise errors.Conflict(f"The conflict of {judge} with {entry} is recorded already.")
    seated = Seat.objects.filter(judge=judge, entry=entry).exists()
    record_change(
        show=judge.show,
        actor=by,
        at=at,
        verb="declared conflict",
        subject=f"{judge} and entry {entry}",
        after={"kind": kind, "seated_before": seated},
        reason=reason,
    )
    return conflict
