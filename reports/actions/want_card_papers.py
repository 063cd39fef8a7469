"""Ask for a judge's paper cards; a worker draws them."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from entries.models import Entry
from judging.actions.key_card import issue_cards
from judging.models import Judge
from judging.queries.cards import demand_card
from judging.queries.keyings import sheets_of
from reports.actions.print_anew import print_anew
from reports.models import Paper
from showrun.errors import NotFound, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person


@transaction.atomic
def want_card_papers(
    *, judge: Judge, entry: Entry | None = None, by: Person | None, at: datetime
) -> Paper:
    """Want the judge's card of every wagon and a spare, or of one wagon; a printing of its own.

    While the last printing of the same waits to be drawn it is that one. A card keeps its number
    from printing to printing.
    """
    Judge.objects.select_for_update().values_list("pk").get(pk=judge.pk)
    scorecard = demand_card(judge.show)
    entries = [sheet.entry for sheet in sheets_of(judge, scorecard)]
    if entry is not None and entry not in entries:
        raise NotFound(
            _("{judge} does not sit at wagon {entry}.").format(judge=judge, entry=entry.called)
        )
    if not entries:
        raise NotYet(_("{judge} sits nowhere yet; draw the panel first.").format(judge=judge))
    printings = Paper.objects.filter(judge=judge, kind=Paper.Kind.CARD)
    waiting = printings.filter(entry=entry, scorecard=scorecard, state=Paper.State.WANTED)
    if there := waiting.first():
        return there
    issue_cards(judge=judge, entries=entries if entry is None else [entry], at=at)
    paper = print_anew(
        show=judge.show,
        kind=Paper.Kind.CARD,
        judge=judge,
        scorecard=scorecard,
        entry=entry,
        by=by,
        at=at,
    )
    record_change(
        show=judge.show,
        actor=by,
        at=at,
        verb="wanted",
        subject=f"{paper}",
        after={"scorecard": str(scorecard), "entry": str(entry) if entry else None},
    )
    return paper
