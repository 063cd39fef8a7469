"""A show whose card changes: the version in use, a draft put in use, what stands on which."""

from __future__ import annotations

from typing import Any

from judging.actions.version_scorecard import use_scorecard
from judging.models import CardMark, Criterion, Scorecard, Seat
from showrun.shows.models import Show


def used(show: Show) -> Scorecard:
    return Scorecard.objects.get(show=show, in_use=True)


def change(draft: Scorecard, code: str, **columns: Any) -> None:
    rows = Criterion.objects.filter(section__scorecard=draft, code=code)
    assert rows.update(**columns) == 1


def use(draft: Scorecard, who: dict[str, Any], reason: str = "The row was wrong.") -> Scorecard:
    draft.refresh_from_db()
    return use_scorecard(card=draft, reason=reason, **who)


def seats(show: Show) -> set[tuple[str, int | None, str]]:
    found = Seat.objects.filter(judge__show=show)
    return set(found.values_list("judge__code", "entry__number", "section__code"))


def marks_of(show: Show, code: str) -> set[tuple[int, bool]]:
    """Return (scorecard, aside) of every mark on the rows with this code."""
    marks = CardMark.objects.filter(card__judge__show=show, criterion__code=code)
    return set(marks.values_list("criterion__section__scorecard", "aside"))
