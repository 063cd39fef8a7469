"""What judges are called on the feedback of one entry: letters, or their names where the show says.

Which of the two holds for a result is the show's term as it stood when the result was released,
read from the record: a change of the terms afterwards changes no sheet that is drawn again.
"""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Q

from entries.models import Entry
from entries.queries.terms import terms_of
from judging.models import Judge, Result
from reports.rules.letters import judge_letters
from showrun.shows.models import AuditEntry

# The terms' own word for it, in their row and in the record's `before` and `after`.
TERM = "names_judges"


def judges_named(result: Result) -> bool:
    """Say whether the show's terms named judges on feedback when the result was released."""
    show = result.show_class.show
    if result.released_at is not None:
        later = AuditEntry.objects.filter(show=show, at__gt=result.released_at)
        changes = later.filter(Q(before__has_key=TERM) | Q(after__has_key=TERM))
        first = changes.order_by("at", "pk").first()
        if first is not None:
            # Terms set for the first time have nothing before them: no judge was named.
            return bool((first.before or {}).get(TERM, False))
    return bool(terms_of(show).names_judges)


def called_judges(
    entry: Entry, result: Result, judges: Iterable[str], *, named: bool
) -> dict[str, str]:
    """Return what the entry's feedback calls each of its judges, by the judge's short name.

    The letters hang on a number that only the office sees, so that nobody who holds a sheet can
    work out which judge a letter stands for.
    """
    codes = sorted(set(judges))
    show = entry.show
    if named:
        there = Judge.objects.filter(show=show, code__in=codes).select_related("person")
        return {judge.code: str(judge.person) for judge in there}
    of = (result.inputs_hash, show.slug, result.show_class.code, str(entry.number))
    return judge_letters(codes, "\n".join(of))
