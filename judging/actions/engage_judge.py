"""Engage a judge for a show, and record what bars them from an entry."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import IntegrityError, transaction

from entries.models import Entry
from entries.rules.places import Status
from judging.actions.practice import seat_at_practice
from judging.models import Conflict, Judge, Seat, Section
from judging.queries.cards import demand_card
from showrun import errors
from showrun.language import gettext as _
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
    chosen = _chosen(show, sections)
    _refuse_taken(show, person, code)
    try:
        with transaction.atomic():
            judge = Judge.objects.create(show=show, person=person, code=code, seniority=seniority)
    except IntegrityError:  # engaged by another request this moment
        _refuse_taken(show, person, code)
        raise
    judge.sections.set(chosen)
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


def _refuse_taken(show: Show, person: Person, code: str) -> None:
    if Judge.objects.filter(show=show, person=person).exists():
        raise errors.Conflict(_("{person} judges at this show already.").format(person=person.name))
    if Judge.objects.filter(show=show, code=code).exists():
        raise errors.Conflict(
            _("Another judge of this show has the short name “{code}”.").format(code=code)
        )


def _chosen(show: Show, sections: Sequence[str]) -> list[Section]:
    known = {section.code: section for section in demand_card(show).sections.all()}
    unknown = [name for name in sections if name not in known]
    if unknown or not sections:
        raise errors.InvalidInput(
            _("The scorecard has no section “{code}”.").format(code=unknown[0])
            if unknown
            else _("Choose at least one section this judge may judge."),
            fields={"sections": _("Choose from the scorecard's sections.")},
        )
    return [known[name] for name in sections]


@transaction.atomic
def change_judge(
    *,
    judge: Judge,
    sections: Sequence[str],
    seniority: str,
    max_seats: int | None,
    by: Person | None,
    at: datetime,
) -> Judge:
    """Change what a judge may be asked to do; a panel drawn before is mended or drawn again."""
    judge = Judge.objects.select_for_update().select_related("show").get(pk=judge.pk)
    if judge.left_at:
        raise errors.Conflict(
            _("{judge} has left; what they may judge is not changed any more.").format(judge=judge)
        )
    chosen = _chosen(judge.show, sections)
    if seniority not in ("senior", "novice"):
        raise errors.InvalidInput(
            _("“{seniority}” is no seniority.").format(seniority=seniority),
            fields={"seniority": _("Senior or novice.")},
        )
    if max_seats is not None and max_seats < 0:
        raise errors.InvalidInput(
            _("A limit of seats cannot be below zero."), fields={"max_seats": _("Zero or above.")}
        )
    before = _as_record(judge)
    judge.sections.set(chosen)
    judge.seniority, judge.max_seats = seniority, max_seats
    judge.save(update_fields=["seniority", "max_seats"])
    seat_at_practice(judge)
    record_change(
        show=judge.show,
        actor=by,
        at=at,
        verb="changed",
        subject=f"judge {judge}",
        before=before,
        after=_as_record(judge),
    )
    return judge


def _as_record(judge: Judge) -> dict[str, object]:
    codes = judge.sections.order_by("position").values_list("code", flat=True)
    return {
        "sections": list(codes),
        "seniority": judge.seniority,
        "max_seats": judge.max_seats,
    }


@transaction.atomic
def judge_leaves(*, judge: Judge, reason: str, by: Person | None, at: datetime) -> Judge:
    """Take the judge off the rest of the show; cards they handed in still count."""
    if judge.left_at:
        raise errors.Conflict(_("{judge} has left already.").format(judge=judge))
    if not reason.strip():
        raise errors.InvalidInput(
            _("Say why the judge leaves."), fields={"reason": _("A reason, please.")}
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
            _("“{kind}” is no kind of conflict.").format(kind=kind),
            fields={"kind": _("Choose one of the kinds.")},
        )
    if entry.show_id != judge.show_id:
        raise errors.InvalidInput(_("That entry is in another show."))
    if entry.status == Status.PRACTICE:
        raise errors.InvalidInput(_("The practice wagon is for every judge; no conflict bars it."))
    conflict, made = Conflict.objects.get_or_create(
        judge=judge, entry=entry, defaults={"kind": kind, "reason": reason, "declared_at": at}
    )
    if not made:
        raise errors.Conflict(
            _("The conflict of {judge} with {entry} is recorded already.").format(
                judge=judge, entry=entry.called
            )
        )
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
