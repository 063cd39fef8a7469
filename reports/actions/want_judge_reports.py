"""Ask for the judges' own reports; workers draw them."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from judging.models import Judge
from judging.queries.panel_report import results_are_out
from reports.actions.print_anew import print_anew
from reports.models import Paper
from showrun.errors import NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


@transaction.atomic
def want_judge_reports(*, show: Show, by: Person | None, at: datetime) -> list[Paper]:
    """Want a new printing of the report of every judge whose results are all released.

    While a judge's last one waits to be drawn it is that one.
    """
    Show.objects.select_for_update().values_list("pk").get(pk=show.pk)
    judges = Judge.objects.filter(show=show).select_related("show", "person").order_by("code")
    out = [judge for judge in judges if results_are_out(judge)]
    if not out:
        raise NotYet(
            _(
                "No judge has all results released; a report is made once every class that counts "
                "a card of the judge is out."
            )
        )
    waiting = Paper.objects.filter(show=show, kind=Paper.Kind.REPORT, state=Paper.State.WANTED)
    there = {paper.judge_id: paper for paper in waiting}
    new = [judge for judge in out if judge.pk not in there]
    there |= {
        judge.pk: print_anew(show=show, kind=Paper.Kind.REPORT, judge=judge, by=by, at=at)
        for judge in new
    }
    if new:
        record_change(
            show=show,
            actor=by,
            at=at,
            verb="wanted",
            subject="judges' own reports",
            after={"judges": [judge.code for judge in new]},
        )
    return [there[judge.pk] for judge in out]
