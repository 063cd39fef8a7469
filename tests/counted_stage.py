"""The class of the papers' stage, its result computed, signed and released by the real actions."""

from __future__ import annotations

from datetime import timedelta

from judging.actions.accept_gaps import accept_gaps
from judging.actions.compute_result import compute_result
from judging.actions.release_result import release_result, sign_result
from judging.models import (
    Card,
    ClassCard,
    Placing,
    Question,
    Result,
    Section,
    Signature,
)
from showrun.shows.models import Show
from tests import papers_stage as stage
from tests.tampered import unguarded

AT = stage.AT


def counted_class(
    show: Show,
    sections: list[Section],
    *,
    method: str,
    n_entries: int = 4,
    n_judges: int = 4,
    purse_cents: int = 0,
    leave_out: tuple[tuple[str, int], ...] = (),
) -> Result:
    """Judge a class, take back the cards left out (judge, entry number), and release the rest."""
    drawn = stage.released_class(
        show, sections, n_entries=n_entries, n_judges=n_judges, method=method, released_at=None
    )
    show_class = drawn.show_class
    with unguarded(Signature):
        Signature.objects.filter(result=drawn).delete()
    Placing.objects.filter(result=drawn).delete()
    drawn.delete()
    ClassCard.objects.filter(show_class=show_class).update(
        purse_cents=purse_cents, purse_weights=["60", "40"]
    )
    for judge, number in leave_out:
        Card.objects.filter(judge__code=judge, entry__number=number).update(handed_in_at=None)
    return released(show, show_class.code)


def released(show: Show, code: str = "trail") -> Result:
    """Compute the class's result, accept what is missing, sign and release it."""
    show_class = show.classes.get(code=code)
    office, steward = stage.person("Mara Ellison"), stage.person("Jonah Petrie")
    result = compute_result(
        show_class=show_class, by=office, at=AT, with_gaps=True, reason="Read again."
    )
    # The stage's marks follow a pattern, which the checks notice; no paper hangs on that.
    Question.objects.filter(judge__show=show).update(state=Question.State.CLOSED)
    if result.gaps:
        accept_gaps(result=result, by=office, reason="The judge was taken ill.", at=AT)
    for hand in (office, steward):
        sign_result(result=result, by=hand, at=AT)
    release_result(result=result, by=office, at=AT + timedelta(minutes=5))
    return Result.objects.get(pk=result.pk)
