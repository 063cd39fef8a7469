"""A round told again from its touches: which marks stand when all of them have come in."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from judging.rules.cards.scorecard import Mark


class Row(NamedTuple):
    """A row of a card: the judge's and the entry's key, and the row's code."""

    judge: int
    entry: int
    criterion: str


class Touch(NamedTuple):
    """A touch that took effect when it came in, or could have.

    `device` is None for the office. `given` is the mark, None when it was taken back. `settles`
    says that it is an answer or a correction, which replaces whatever stands.
    """

    row: Row
    device: int | None
    seq: int
    given: Mark | None
    settles: bool = False


def replayed(touches: Iterable[Touch]) -> dict[Row, Mark | None]:
    """Tell which mark stands on each row.

    Parameters
    ----------
    touches : iterable of Touch
        In the order they came in; held ones are left out. Twice the same counts once.

    Returns
    -------
    dict of Row to Mark or None
        None where the mark was taken back.

    Notes
    -----
    As `takes_effect`: of one phone the later in its own count stands, in whatever order they
    came. Another phone's touch that says the same changes nothing; one that says something else
    was let in only because the first phone no longer counts, so it replaces.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> from judging.rules.cards.scorecard import MarkState
    >>> hub = Row(1, 3, "hub")
    >>> late = Touch(hub, 7, 2, Mark(MarkState.NOT_INSPECTED, None))
    >>> early = Touch(hub, 7, 1, Mark(MarkState.NOT_APPLICABLE, None))
    >>> replayed([late, early, late])[hub].state.value
    'not_inspected'
    """
    standing: dict[Row, Touch] = {}
    for touch in touches:
        before = standing.get(touch.row)
        if before is None or touch.settles:
            standing[touch.row] = touch
        elif touch.device == before.device:
            if touch.seq > before.seq:
                standing[touch.row] = touch
        elif touch.given != before.given:
            standing[touch.row] = touch
    return {row: touch.given for row, touch in standing.items()}
