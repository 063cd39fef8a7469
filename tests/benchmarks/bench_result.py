"""The result of a class of 40 entries, from the marks to the placings."""

from __future__ import annotations

from collections.abc import Iterator

from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from judging.actions.compute_result import compute_result
from judging.models import CardMark, Result
from tests.benchmarks.big_show import judged_show
from tests.benchmarks.measure import Bound, Row, paired
from tests.judged_show import AT, class_of, office_of

NAME = "result"
WAGONS = 40
REPEATS = 7
AT_MOST = 4.0


def rows() -> Iterator[Row]:
    """Measure the computing."""
    show = judged_show("result", WAGONS)
    show_class, by = class_of(show), office_of(show)

    def compute() -> None:
        with transaction.atomic():
            result = compute_result(show_class=show_class, by=by, at=AT)
            assert result.placings.count() == WAGONS
            transaction.set_rollback(True)

    def read() -> None:
        assert len(CardMark.objects.filter(card__judge__show=show)) == n_marks

    n_marks = CardMark.objects.filter(card__judge__show=show).count()
    with CaptureQueriesContext(connection) as asked:
        compute()
        queries = len(asked)
    assert not Result.objects.filter(show_class=show_class).exists()
    found = paired(compute, read, repeats=REPEATS)
    yield Row(
        NAME,
        f"compute the result of a class of {WAGONS}; read its {n_marks} marks as rows",
        found.ours_ms,
        found.floor_ms,
        found.ratio,
        (Bound("ratio", found.ratio, AT_MOST),),
        f"{queries} queries, checks and both methods included",
    )
