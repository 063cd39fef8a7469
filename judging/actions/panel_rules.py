"""Set what is asked of the panel: its rules, and seats set by hand."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from entries.models import Entry
from entries.rules.places import Status
from judging.actions.seat_panel import demand_undrawn
from judging.models import Judge, PanelRules, Section
from judging.models import Pin as PinRow
from judging.queries.panel_task import panel_rules
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

LONGEST_WHY = 200  # letters


@transaction.atomic
def set_panel_rules(
    *,
    show: Show,
    novices_beside_seniors: bool,
    balance_by: str,
    max_seats: int | None,
    by: Person | None,
    at: datetime,
) -> PanelRules:
    """Say what counts from the next draw on."""
    show = Show.objects.select_for_update().get(pk=show.pk)
    demand_undrawn(show)
    if balance_by not in dict(PanelRules.BALANCES):
        raise InvalidInput(
            _("“{balance_by}” cannot be made equal.").format(balance_by=balance_by),
            fields={"balance_by": _("Seats or minutes.")},
        )
    if max_seats is not None and max_seats < 1:
        raise InvalidInput(
            _("A limit below one seat leaves nobody to judge."),
            fields={"max_seats": _("At least one, or nothing for no limit.")},
        )
    rules = panel_rules(show)
    before = _as_record(rules)
    rules.novices_beside_seniors = novices_beside_seniors
    rules.balance_by = balance_by
    rules.max_seats = max_seats
    rules.save()
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="set",
        subject="the panel's rules",
        before=before,
        after=_as_record(rules),
    )
    return rules


def _as_record(rules: PanelRules) -> dict[str, str | bool | int | None]:
    return {
        "novices_beside_seniors": rules.novices_beside_seniors,
        "balance_by": rules.balance_by,
        "max_seats": rules.max_seats,
    }


@transaction.atomic
def pin(
    *,
    show: Show,
    judge: Judge,
    entry: Entry,
    section: Section | None,
    must: bool,
    why: str,
    by: Person | None,
    at: datetime,
) -> PinRow:
    """Set a seat by hand: the judge must sit there, or must not; it counts from the next draw."""
    show = Show.objects.select_for_update().get(pk=show.pk)
    demand_undrawn(show)
    _demand_own(show, judge, entry, section)
    if not why.strip() or len(why) > LONGEST_WHY:
        raise InvalidInput(
            _("Say in one sentence why the seat is set by hand; judges and exhibitors will ask."),
            fields={"why": _("A reason, please.")},
        )
    if must and section is not None and not judge.sections.filter(pk=section.pk).exists():
        raise InvalidInput(
            _("{judge} is not engaged for {section}. Engage them for it first.").format(
                judge=judge, section=section.name
            ),
            fields={"section": _("Not a section of this judge.")},
        )
    same = PinRow.objects.filter(judge=judge, entry=entry, section=section).first()
    if same is not None:
        raise Conflict(_("It is set already: {same}. Free that seat first.").format(same=same))
    row = PinRow.objects.create(
        show=show, judge=judge, entry=entry, section=section, must=must, why=why.strip()
    )
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="set by hand",
        subject=str(row),
        after={"must": must},
        reason=row.why,
    )
    return row


def _demand_own(show: Show, judge: Judge, entry: Entry, section: Section | None) -> None:
    if judge.show_id != show.pk or entry.show_id != show.pk:
        raise InvalidInput(_("That judge or entry is in another show."))
    if section is not None and section.scorecard.show_id != show.pk:
        raise InvalidInput(_("That section is on another show's scorecard."))
    if judge.left_at is not None:
        raise InvalidInput(_("{judge} has left and sits nowhere any more.").format(judge=judge))
    if entry.status == Status.PRACTICE:
        raise InvalidInput(
            _("The practice wagon is for every judge; no seat is set by hand there.")
        )


@transaction.atomic
def unpin(*, pin: PinRow, by: Person | None, at: datetime) -> None:
    """Let the seat be free again."""
    show = Show.objects.select_for_update().get(pk=pin.show_id)
    demand_undrawn(show)
    subject, must, why = str(pin), pin.must, pin.why
    pin.delete()
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="freed",
        subject=subject,
        before={"must": must, "why": why},
    )
