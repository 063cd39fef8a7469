"""Want a paper anew: the code it bears, and the number of its printing."""

from __future__ import annotations

import secrets
from datetime import datetime
from typing import Any

from django.db.models import Max

from judging.models import Judge
from reports.models import Paper
from reports.rules.code import RANDOM_BYTES, make_code
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


def wanting(*, by: Person | None, at: datetime) -> dict[str, Any]:
    """Return what every wanted paper begins with: a code not to be guessed, who and when."""
    return {
        "code": make_code(secrets.token_bytes(RANDOM_BYTES)),
        "wanted_at": at,
        "wanted_by": by,
    }


def print_anew(
    *,
    show: Show,
    kind: Paper.Kind,
    by: Person | None,
    at: datetime,
    judge: Judge | None = None,
    **of: Any,
) -> Paper:
    """Want the next printing of a kind, of the show or of one judge; `of` is what else it is of.

    Whoever calls it holds the show or the judge, so that no two get the same number.
    """
    printings = Paper.objects.filter(show=show, kind=kind, judge=judge)
    last = printings.aggregate(last=Max("version"))["last"] or 0
    return Paper.objects.create(
        show=show, kind=kind, judge=judge, version=last + 1, **of, **wanting(by=by, at=at)
    )


def print_of_show(
    *, show: Show, kind: Paper.Kind, subject: str, by: Person | None, at: datetime
) -> Paper:
    """Want a new printing of the kind; while the last one waits to be drawn it is that one."""
    last = Paper.objects.filter(show=show, kind=kind).order_by("-version").first()
    if last and last.state == Paper.State.WANTED:
        return last
    paper = print_anew(show=show, kind=kind, by=by, at=at)
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="wanted",
        subject=subject,
        after={"printing": paper.version},
    )
    return paper
