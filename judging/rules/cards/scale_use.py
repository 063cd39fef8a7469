"""Which part of the scale a judge used on the practice wagon."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from judging.rules.cards.norming import ENOUGH_ROWS, Marks, graded, numbers_of
from judging.rules.cards.scorecard import Criterion

SAME_MARK_SHARE = Fraction(3, 4)


@dataclass(frozen=True)
class ScaleUse:
    """Which part of the scale a judge used.

    Attributes
    ----------
    judge : str
    n_rows : int
    lowest, highest : Fraction or None
        Lowest and highest mark as a share of its row's maximum.
    commonest : Fraction or None
        The share of the maximum given most often; of equals the highest.
    n_commonest : int
        Rows that got it.
    """

    judge: str
    n_rows: int
    lowest: Fraction | None = None
    highest: Fraction | None = None
    commonest: Fraction | None = None
    n_commonest: int = 0

    @property
    def one_mark(self) -> bool:
        """Whether nearly every row got the same mark, on enough rows to say so."""
        enough = self.n_rows >= ENOUGH_ROWS
        return enough and Fraction(self.n_commonest, self.n_rows) >= SAME_MARK_SHARE


def scale_uses(rows: Iterable[Criterion], marks: Marks) -> tuple[ScaleUse, ...]:
    """Say which part of the scale each judge used, and how often the same mark.

    Parameters
    ----------
    rows : iterable of Criterion
        Rows with two marks only (pass or fail) are left out.
    marks : mapping of judge to mapping of row code to Mark [marks]

    Returns
    -------
    tuple of ScaleUse, shape (n_judges,)
        In the order of `marks`.

    Source
    ------
    Common practice, no source: three quarters of at least five rows with one mark is worth a
    look.

    Examples
    --------
    >>> from decimal import Decimal
    >>> from judging.rules.cards.scorecard import Mark, MarkState
    >>> rows = [Criterion(code, code, Decimal(10), Decimal(1)) for code in "abcde"]
    >>> given = {"J1": {row.code: Mark(MarkState.MARKED, Decimal(8)) for row in rows}}
    >>> [(use.commonest, use.n_commonest, use.one_mark) for use in scale_uses(rows, given)]
    [(Fraction(4, 5), 5, True)]
    """
    most = {row.code: Fraction(row.max_mark) for row in rows if graded(row)}
    found = []
    for judge, said in marks.items():
        shares = [Fraction(m) / most[code] for code, m in numbers_of(said) if code in most]
        if not shares:
            found.append(ScaleUse(judge, 0))
            continue
        counts = Counter(shares)
        commonest = max(counts, key=lambda share: (counts[share], share))
        found.append(
            ScaleUse(judge, len(shares), min(shares), max(shares), commonest, counts[commonest])
        )
    return tuple(found)
