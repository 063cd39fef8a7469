"""How the judges' marks on one practice wagon compare: row by row, and judge by judge.

The marks are for talking over before the round. They are never counted, and no figure here
says who is right.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import sqrt
from statistics import median

from judging.rules.cards.scorecard import Criterion, Mark, MarkState

# Judge to row code to mark; a row without a mark is absent, never 0.
Marks = Mapping[str, Mapping[str, Mark]]

DISCUSS_SHARE = Fraction(5, 100)
FINE_STEP_SHARE = Fraction(1, 10)
ENOUGH_ROWS = 5
# A difference larger than this many standard errors is called clear.
CLEAR_ERRORS = 2


@dataclass(frozen=True)
class RowSpread:
    """What the judges gave one row.

    Attributes
    ----------
    row : Criterion
    given : tuple of (str, Decimal) [marks]
        Judge and mark, lowest first; only rows marked with a number.
    not_applicable, not_inspected : tuple of str
        Judges who said so.
    """

    row: Criterion
    given: tuple[tuple[str, Decimal], ...]
    not_applicable: tuple[str, ...] = ()
    not_inspected: tuple[str, ...] = ()

    @property
    def n(self) -> int:
        """Judges who gave a number."""
        return len(self.given)

    @property
    def lowest(self) -> Decimal | None:
        """The lowest mark, None where there is none."""
        return self.given[0][1] if self.given else None

    @property
    def highest(self) -> Decimal | None:
        """The highest mark, None where there is none."""
        return self.given[-1][1] if self.given else None

    @property
    def middle(self) -> Decimal | None:
        """The median mark; of an even number the mean of the middle two."""
        return median(mark for _, mark in self.given) if self.given else None

    @property
    def apart(self) -> Decimal:
        """How far the highest mark is above the lowest [marks]."""
        return self.given[-1][1] - self.given[0][1] if self.given else Decimal(0)

    @property
    def steps(self) -> int:
        """The same in steps of the row."""
        return int(self.apart / self.row.step)

    @property
    def share(self) -> Fraction:
        """The same as a share of the row's maximum."""
        return Fraction(self.apart) / Fraction(self.row.max_mark)

    @property
    def states_differ(self) -> bool:
        """Whether judges disagree on what can be marked at all."""
        said = (self.given, self.not_applicable, self.not_inspected)
        return sum(bool(group) for group in said) > 1


@dataclass(frozen=True)
class Agreement:
    """How far the judges' totals of a section lie apart.

    Attributes
    ----------
    n_judges, n_rows : int
        Judges who marked anything here, and the rows every one of them marked.
    lowest, highest : Fraction
        Of the judges' totals over these rows, as a share of the most they could give.
    """

    n_judges: int
    n_rows: int
    lowest: Fraction
    highest: Fraction

    @property
    def share(self) -> Fraction:
        """How far the highest total is above the lowest."""
        return self.highest - self.lowest

    @property
    def worth_a_talk(self) -> bool:
        """Whether it is more than the published figure."""
        return self.share > DISCUSS_SHARE


@dataclass(frozen=True)
class Severity:
    """How much higher or lower a judge marks than the others do on the same rows.

    Attributes
    ----------
    judge : str
    share : Fraction or None
        Mean difference as a share of a row's maximum, above 0 when higher than the others;
        None when no row was marked by another judge too.
    n_rows : int
        Rows it rests on.
    standard_error : float or None
        Of `share`; None with fewer than two rows.
    """

    judge: str
    share: Fraction | None
    n_rows: int
    standard_error: float | None

    @property
    def clear(self) -> bool:
        """Whether it rests on enough rows and is larger than chance among them explains."""
        if self.share is None or self.standard_error is None or self.n_rows < ENOUGH_ROWS:
            return False
        return abs(float(self.share)) > CLEAR_ERRORS * self.standard_error


def row_spreads(rows: Iterable[Criterion], marks: Marks) -> tuple[RowSpread, ...]:
    """Lay out what the judges gave each row, the widest apart first.

    Parameters
    ----------
    rows : iterable of Criterion
        In the card's order, which rows equally far apart keep.
    marks : mapping of judge to mapping of row code to Mark [marks]

    Returns
    -------
    tuple of RowSpread
        Of the rows at least one judge said something about.

    Notes
    -----
    Rows are compared by the share of their maximum, so that a row of 5 and a row of 20 stand
    on one scale. A judge who could not inspect a row, or says it does not apply, gives no number.

    Source
    ------
    Range and median: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.6 and 1.3.5.1
    (sections from memory).

    Examples
    --------
    >>> hub = Criterion("hub", "Hubs", Decimal(10), Decimal(1))
    >>> given = {name: {"hub": Mark(MarkState.MARKED, Decimal(m))}
    ...          for name, m in (("J1", 4), ("J2", 7), ("J3", 9))}
    >>> spread = row_spreads([hub], given)[0]
    >>> spread.n, spread.lowest, spread.middle, spread.highest, spread.steps, spread.share
    (3, Decimal('4'), Decimal('7'), Decimal('9'), 5, Fraction(1, 2))
    """
    found = []
    for row in rows:
        said = {judge: given[row.code] for judge, given in marks.items() if row.code in given}
        spread = RowSpread(
            row=row,
            given=tuple(sorted(numbers_of(said), key=lambda pair: (pair[1], pair[0]))),
            not_applicable=_who(said, MarkState.NOT_APPLICABLE),
            not_inspected=_who(said, MarkState.NOT_INSPECTED),
        )
        if said:
            found.append(spread)
    return tuple(sorted(found, key=lambda spread: -spread.share))


def to_discuss(spread: RowSpread) -> bool:
    """Say whether a row is worth a talk before the round.

    Notes
    -----
    It is when the marks lie more than 5 % of the maximum apart, or when judges disagree on
    whether the row can be marked at all. Marks one step apart are let go where a step is at
    most a tenth of the maximum: on such a scale neighbours cannot be nearer and still differ.

    Source
    ------
    As `agreement`, there said of totals; that it serves for a row is our own. One step and a
    tenth: common practice, no source.

    Examples
    --------
    >>> fine = Criterion("hub", "Hubs", Decimal(10), Decimal(1))
    >>> pairs = [(("J1", Decimal(7)), ("J2", Decimal(m))) for m in (8, 9)]
    >>> [to_discuss(RowSpread(fine, given)) for given in pairs]
    [False, True]
    """
    fine = Fraction(spread.row.step) / Fraction(spread.row.max_mark) <= FINE_STEP_SHARE
    far = spread.share > DISCUSS_SHARE and not (fine and spread.steps <= 1)
    return far or spread.states_differ


def agreement(rows: Sequence[Criterion], marks: Marks) -> Agreement | None:
    """Compare the judges' totals over the rows that every one of them marked.

    Parameters
    ----------
    rows : sequence of Criterion
        Of one section.
    marks : mapping of judge to mapping of row code to Mark [marks]

    Returns
    -------
    Agreement or None
        None with fewer than two judges, or no row that all of them marked.

    Notes
    -----
    total = sum(weight x mark) / sum(weight x maximum), as the section's points are made.

    Source
    ------
    More than 5 % between judges' totals is looked into: Judging accuracy, Eurodressage, 2018;
    B. Maurel, Why make it simple if it can be complicated, Eurodressage, 15 September 2017.

    Examples
    --------
    >>> hub = Criterion("hub", "Hubs", Decimal(10), Decimal(1))
    >>> given = {name: {"hub": Mark(MarkState.MARKED, Decimal(m))}
    ...          for name, m in (("J1", 6), ("J2", 7))}
    >>> found = agreement([hub], given)
    >>> found.lowest, found.highest, found.worth_a_talk
    (Fraction(3, 5), Fraction(7, 10), True)
    """
    codes = {row.code for row in rows}
    given = {judge: dict(numbers_of(said)) for judge, said in marks.items()}
    here = [numbers for numbers in given.values() if codes & set(numbers)]
    common = [row for row in rows if all(row.code in numbers for numbers in here)]
    most = sum((row.weight * row.max_mark for row in common), Decimal(0))
    if len(here) < 2 or not most:
        return None
    totals = [
        Fraction(sum((row.weight * numbers[row.code] for row in common), Decimal(0)))
        / Fraction(most)
        for numbers in here
    ]
    return Agreement(len(here), len(common), min(totals), max(totals))


def severities(rows: Iterable[Criterion], marks: Marks) -> tuple[Severity, ...]:
    """Estimate how much higher or lower each judge marks than the others on the same rows.

    Parameters
    ----------
    rows : iterable of Criterion
    marks : mapping of judge to mapping of row code to Mark [marks]

    Returns
    -------
    tuple of Severity, shape (n_judges,)
        In the order of `marks`.

    Notes
    -----
    On each row that at least two judges marked: (own mark - mean of the others' marks) / maximum.
    A judge's severity is the mean of these differences, its standard error their standard
    deviation (n - 1) over the root of n. Rows with two marks only (pass or fail) are left out:
    one difference there is the whole scale. When every judge marks every row the severities sum
    to 0. The rows of one wagon are no random sample, so the error is a guide and no test.

    Source
    ------
    A rater's mean against the others': Saal, Downey and Lahey, Rating the ratings, Psychological
    Bulletin 88, 1980 (from memory). Standard error of a mean: NIST/SEMATECH e-Handbook of
    Statistical Methods, 1.3.5.2 (section from memory). Five rows, two errors: common practice,
    no source.

    Examples
    --------
    >>> rows = [Criterion(code, code, Decimal(10), Decimal(1)) for code in "ab"]
    >>> given = {name: {row.code: Mark(MarkState.MARKED, Decimal(m)) for row in rows}
    ...          for name, m in (("J1", 4), ("J2", 7), ("J3", 7))}
    >>> [(s.judge, s.share, s.n_rows) for s in severities(rows, given)]
    [('J1', Fraction(-3, 10), 2), ('J2', Fraction(3, 20), 2), ('J3', Fraction(3, 20), 2)]
    """
    differences: dict[str, list[Fraction]] = {judge: [] for judge in marks}
    for row in filter(graded, rows):
        said = {judge: given[row.code] for judge, given in marks.items() if row.code in given}
        numbers = dict(numbers_of(said))
        if len(numbers) < 2:
            continue
        together = sum(map(Fraction, numbers.values()), Fraction(0))
        for judge, own in numbers.items():
            others = (together - Fraction(own)) / (len(numbers) - 1)
            differences[judge].append((Fraction(own) - others) / Fraction(row.max_mark))
    return tuple(_severity(judge, found) for judge, found in differences.items())


def graded(row: Criterion) -> bool:
    """Say whether a row has more marks than two, so that how far apart they are means much."""
    return row.max_mark > row.step


def _severity(judge: str, found: Sequence[Fraction]) -> Severity:
    n = len(found)
    if not n:
        return Severity(judge, None, 0, None)
    mean = sum(found, Fraction(0)) / n
    if n < 2:
        return Severity(judge, mean, n, None)
    variance = sum(((one - mean) ** 2 for one in found), Fraction(0)) / (n - 1)
    return Severity(judge, mean, n, sqrt(variance / n))


def numbers_of(said: Mapping[str, Mark]) -> list[tuple[str, Decimal]]:
    """Return what was marked with a number, key by key; the other states have none."""
    return [
        (key, mark.value)
        for key, mark in said.items()
        if mark.state is MarkState.MARKED and mark.value is not None
    ]


def _who(said: Mapping[str, Mark], state: MarkState) -> tuple[str, ...]:
    return tuple(sorted(judge for judge, mark in said.items() if mark.state is state))
