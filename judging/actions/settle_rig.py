"""What the office does about a rig a judge found to be other than it was entered."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from django.db import transaction

from entries.models import Entry
from entries.rules.rig import FACTS
from judging.actions.reform_cards import rows_lacking, set_aside
from judging.models import Card, Judge, RigReport
from judging.queries.rigs import card_facts, facts_of
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

NOTE_LONGEST = 300


class Reformed(NamedTuple):
    """What became of the cards: marks set aside, marks that count again, cards opened again."""

    aside: int
    back: int
    opened: list[str]


@transaction.atomic
def adopt_rig(*, report: RigReport, note: str, by: Person, at: datetime) -> RigReport:
    """Let the entry's rig be as the judge found it; every judge's card of it goes by that.

    Reports of other judges that found the same are adopted with it. A card that was handed in
    and lacks rows on the new rig is opened again. Results already released stand as they are.
    """
    report = _hold(report)
    entry, found = report.entry, facts_of(report.facts)
    before = entry.rig.facts()
    for fact in FACTS:
        setattr(entry, fact, found[fact])
    entry.save(update_fields=list(FACTS))
    cards = _cards(entry)
    own = [card for card in cards if card.rig and facts_of(card.rig) == found]
    for card in own:
        card.rig = None
    Card.objects.filter(pk__in=[card.pk for card in own]).update(rig=None)
    done = _reform(entry, cards)
    reports = RigReport.objects.filter(entry=entry, state=RigReport.State.OPEN)
    same = [one for one in reports.select_related("judge__person") if facts_of(one.facts) == found]
    _settle(same, RigReport.State.ADOPTED, note, by, at)
    record_change(
        show=report.judge.show,
        actor=by,
        at=at,
        verb="adopted a rig",
        subject=f"the rig of wagon {entry}",
        before={"rig": before},
        after={"rig": found, "found_by": [str(one.judge) for one in same], **_told(done)},
        reason=note.strip(),
    )
    report.refresh_from_db()
    return report


@transaction.atomic
def decline_rig(*, report: RigReport, note: str, by: Person, at: datetime) -> RigReport:
    """Let the rig stay as it was entered; the judge's card goes back to it, and the judge is told.

    Marks on rows the entered rig does not have are kept aside. If the card was handed in and
    lacks rows then, it is opened again.
    """
    if not note.strip():
        raise InvalidInput(
            _("Say why the rig stays as it was entered."),
            fields={"note": _("Why? The judge reads this.")},
        )
    report = _hold(report)
    entry = report.entry
    cards = [card for card in _cards(entry) if card.judge_id == report.judge_id]
    for card in cards:
        card.rig = None
    Card.objects.filter(pk__in=[card.pk for card in cards]).update(rig=None)
    done = _reform(entry, cards)
    _settle([report], RigReport.State.DECLINED, note, by, at)
    record_change(
        show=report.judge.show,
        actor=by,
        at=at,
        verb="declined a rig",
        subject=f"the rig of wagon {entry}",
        before={"rig": facts_of(report.facts), "found_by": [str(report.judge)]},
        after={"rig": entry.rig.facts(), **_told(done)},
        reason=note.strip(),
    )
    report.refresh_from_db()
    return report


def _hold(report: RigReport) -> RigReport:
    """Keep the judges' phones waiting, as they keep each other, and look at the report again.

    The show comes first, as in every change of an entry; its key stays free, because a phone
    that already holds its judge writes rows that point to the show.
    """
    Show.objects.select_for_update(no_key=True).get(pk=report.judge.show_id)
    judges = Judge.objects.filter(show=report.judge.show_id).order_by("pk")
    # Any of them may be writing a first card of this entry just now.
    list(judges.select_for_update().values_list("pk", flat=True))
    held = (
        RigReport.objects.select_for_update(of=("self",))
        .select_related("judge__person", "judge__show", "entry")
        .get(pk=report.pk)
    )
    if held.state != RigReport.State.OPEN:
        raise Conflict(
            _("This report does not wait for the office any more: {state}.").format(
                state=held.get_state_display()
            ),
            code="rig-settled",
        )
    return held


def _cards(entry: Entry) -> list[Card]:
    """Return every card of the entry."""
    return list(Card.objects.filter(entry=entry).select_related("judge__person").order_by("pk"))


def _reform(entry: Entry, cards: Collection[Card]) -> Reformed:
    """Let the cards go by their rig as it is now; open again those handed in that lack rows."""
    rig_of = {card.pk: card_facts(card, entry) for card in cards}
    aside, back = set_aside(rig_of)
    handed_in = [card for card in cards if card.handed_in_at]
    lacking = rows_lacking(handed_in, rig_of)
    short = [card for card in handed_in if lacking[card.pk]]
    Card.objects.filter(pk__in=[card.pk for card in short]).open_again()
    return Reformed(aside, back, [str(card.judge) for card in short])


def _told(done: Reformed) -> dict[str, Any]:
    """Return what became of the cards, for the record."""
    return {
        "marks_set_aside": done.aside,
        "marks_taken_back": done.back,
        "cards_opened_again": done.opened,
    }


def _settle(
    reports: Sequence[RigReport], state: RigReport.State, note: str, by: Person, at: datetime
) -> None:
    RigReport.objects.filter(pk__in=[report.pk for report in reports]).update(
        state=state, settled_at=at, settled_by=by, settled_note=note.strip()[:NOTE_LONGEST]
    )
