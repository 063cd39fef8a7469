"""What a feedback sheet says: one entry's marks beside those of its class."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from math import ceil, floor

from judging.rules.cards.score import to_hundredths
from judging.rules.cards.scorecard import Criterion, Mark, MarkState, Section
from reports.rules.award import ordinal
from showrun.language import gettext as _

NAMED_ROWS = 3
THIRDS_FROM_ENTRIES = 6
AXIS_STEP_PERCENT = 10


@dataclass(frozen=True)
class SectionLine:
    """One entry's points in a section beside the class's.

    Attributes
    ----------
    code, name : str
    own, possible, middle, lowest, highest : Decimal [points]
        The middle is the median. The class includes the entry itself.
    n_entries : int
    """

    code: str
    name: str
    own: Decimal
    possible: Decimal
    middle: Decimal
    lowest: Decimal
    highest: Decimal
    n_entries: int

    def share(self, points: Decimal) -> Fraction:
        """Points as a share of what the section can give."""
        return Fraction(points) / Fraction(self.possible)


def section_line(
    *, code: str, name: str, possible: Decimal, own: Decimal, field: Sequence[Decimal]
) -> SectionLine:
    """Set an entry's points in a section beside the middle and the range of its class.

    Parameters
    ----------
    code, name : str
    possible : Decimal [points]
        Above zero.
    own : Decimal [points]
    field : sequence of Decimal, shape (n_entries,) [points]
        All placed entries of the class, this one included.

    Raises
    ------
    ValueError
        When the entry's own points are not among the class's or nothing can be earned.

    Notes
    -----
    The median, because one wagon far ahead or behind does not move it; of an even number the
    mean of the middle two, rounded half up to 0.01.

    Source
    ------
    Median: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.1 (section from memory).

    Examples
    --------
    >>> line = section_line(code="s", name="S", possible=Decimal(75), own=Decimal("60"),
    ...     field=[Decimal("48"), Decimal("60"), Decimal("55.5"), Decimal("71")])
    >>> str(line.lowest), str(line.middle), str(line.highest)
    ('48', '57.75', '71')
    """
    if own not in field:
        raise ValueError(f"{name}: the entry's own points are not among its class's.")
    if possible <= 0:
        raise ValueError(f"{name}: a section worth nothing cannot be compared.")
    middle = to_hundredths(_median([Fraction(points) for points in field]))
    return SectionLine(code, name, own, possible, middle, min(field), max(field), len(field))


@dataclass(frozen=True)
class Axis:
    """The scale of the chart of sections, in percent of what each section can give."""

    low: int
    high: int

    @property
    def ticks(self) -> tuple[int, ...]:
        """Labelled positions, at most six, the high end always among them."""
        stride = next(n for n in (10, 20, 50, 100, self.high) if (self.high - self.low) <= 5 * n)
        return tuple(range(self.high, self.low - 1, -stride))[::-1]

    def position(self, percent: Fraction | int) -> float:
        """Where a share stands: 0 at the low end, 1 at the high end."""
        return float((percent - self.low) / Fraction(self.high - self.low))


def axis(lines: Iterable[SectionLine]) -> Axis:
    """Choose one scale for all sections, wide enough for the lowest and the highest points.

    Notes
    -----
    Whole tens of percent. It need not start at zero: positions are compared, not lengths. It
    goes past 100 only where adjusted points do.

    Source
    ------
    Position as the judged quantity: Cleveland & McGill, JASA 79, 1984 (from memory).

    Examples
    --------
    >>> line = section_line(code="s", name="S", possible=Decimal(75), own=Decimal("60"),
    ...     field=[Decimal("48"), Decimal("60"), Decimal("71")])
    >>> axis([line]), axis([line]).ticks, axis([line]).position(80)
    (Axis(low=60, high=100), (60, 70, 80, 90, 100), 0.5)
    """
    ends = [line.share(points) for line in lines for points in (line.lowest, line.highest)]
    step = AXIS_STEP_PERCENT
    low = min([floor(min(ends) * 100 / step) * step, 100 - step]) if ends else 0
    high = max([ceil(max(ends) * 100 / step) * step, 100]) if ends else 100
    return Axis(low, high)


@dataclass(frozen=True)
class RowStanding:
    """How an entry did in one row of the card, beside its class.

    Attributes
    ----------
    code, name : str
    max_mark : Decimal [marks]
    own_share, middle_share : Fraction
        Mean mark of the judges as a share of the row's highest mark; median of the class.
    """

    code: str
    name: str
    max_mark: Decimal
    own_share: Fraction
    middle_share: Fraction

    @property
    def ahead_share(self) -> Fraction:
        """How far ahead of the middle, as a share of the highest mark."""
        return self.own_share - self.middle_share

    @property
    def own_mark(self) -> Decimal:
        """The judges' mean mark, to one place."""
        return _to_tenths(self.own_share * Fraction(self.max_mark))

    @property
    def middle_mark(self) -> Decimal:
        """The middle of the class, to one place."""
        return _to_tenths(self.middle_share * Fraction(self.max_mark))

    @property
    def words(self) -> str:
        """The difference in words, from the figures as printed."""
        gap = self.own_mark - self.middle_mark
        if not gap:
            return _("level with the middle of the class")
        above, below = (
            _("{n} above the middle of the class"),
            _("{n} below the middle of the class"),
        )
        return (above if gap > 0 else below).format(n=abs(gap))


def standings(
    rows: Sequence[Criterion], own: str, shares: Mapping[str, Mapping[str, Fraction]]
) -> tuple[RowStanding, ...]:
    """Set each row of the card an entry was marked on beside the class's middle.

    Parameters
    ----------
    rows : sequence of Criterion
        Rows of the class's card, in its order.
    own : str
        The entry.
    shares : mapping of entry to mapping of criterion code to Fraction
        Mean mark of the entry's judges as a share of the row's highest mark. A row without a
        number (not applicable, could not be inspected) is absent, never 0.

    Returns
    -------
    tuple of RowStanding
        Only rows on which at least one other entry has a number too.

    Notes
    -----
    Marks as written: who judged whom is not taken out here, unlike in an adjusted total.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> row = Criterion("a", "Hubs", Decimal(10), Decimal(1))
    >>> shares = {"1": {"a": Fraction(8, 10)}, "2": {"a": Fraction(6, 10)}, "3": {}}
    >>> [(str(line.own_mark), line.words) for line in standings([row], "1", shares)]
    [('8.0', '1.0 above the middle of the class')]
    """
    lines = []
    for row in rows:
        field = [given[row.code] for given in shares.values() if row.code in given]
        if row.code not in shares[own] or len(field) < 2:
            continue
        lines.append(
            RowStanding(row.code, row.name, row.max_mark, shares[own][row.code], _median(field))
        )
    return tuple(lines)


@dataclass(frozen=True)
class Picked:
    """The rows a sheet names: no row is on both lists."""

    strongest: tuple[RowStanding, ...]
    worth_work: tuple[RowStanding, ...]


def pick(lines: Sequence[RowStanding], most: int = NAMED_ROWS) -> Picked:
    """Choose the rows an entry did best in and those most worth work, beside its class.

    Parameters
    ----------
    lines : sequence of RowStanding
        In the card's order.
    most : int
        How many rows a list may have.

    Notes
    -----
    By distance from the middle of the class in shares of the highest mark; equal distances by
    the own mark, then by the card's order. With few rows the better half is strongest. The
    best of a class may be above the middle even in rows worth work, and the words say so.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> rows = [RowStanding(code, code, Decimal(10), Fraction(own, 10), Fraction(6, 10))
    ...         for code, own in (("a", 6), ("b", 9), ("c", 4))]
    >>> picked = pick(rows)
    >>> [row.code for row in picked.strongest], [row.code for row in picked.worth_work]
    (['b', 'a'], ['c'])
    """
    best_first = sorted(lines, key=lambda line: (-line.ahead_share, -line.own_share))
    if len(best_first) == 1 and best_first[0].ahead_share < 0:
        return Picked((), tuple(best_first))
    n_work = min(most, len(best_first) // 2)
    n_strong = min(most, len(best_first) - n_work)
    worst_first = best_first[len(best_first) - n_work :][::-1]
    return Picked(tuple(best_first[:n_strong]), tuple(worst_first))


def band_words(place: int, sharing: int, n_entries: int) -> str:
    """Say where in its class an entry stands.

    Parameters
    ----------
    place, sharing : int
        The place and how many entries share it.
    n_entries : int
        Entries placed in the class.

    Notes
    -----
    Thirds only from six entries on; entries sharing a place stand at the middle of the places
    they take.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> band_words(4, 1, 15), band_words(2, 1, 4), band_words(5, 2, 6)
    ('in the upper third of 15 entries', 'second of 4 entries', 'in the lower third of 6 entries')
    >>> band_words(1, 1, 15), band_words(1, 1, 1)
    ('first of 15 entries', 'the only entry placed')
    """
    if n_entries == 1:
        return _("the only entry placed")
    if place == 1 or n_entries < THIRDS_FROM_ENTRIES:
        words = _("{ordinal} of {n} entries").format(ordinal=ordinal(place), n=n_entries)
        return _("{place}, shared").format(place=words) if sharing > 1 else words
    middle = Fraction(2 * place + sharing - 2, 2 * n_entries)
    thirds = (
        _("in the upper third of {n} entries"),
        _("in the middle third of {n} entries"),
        _("in the lower third of {n} entries"),
    )
    return thirds[min(2, floor(middle * 3))].format(n=n_entries)


@dataclass(frozen=True)
class RowCount:
    """How the rows of a section came into its points: three states that are not the same.

    Attributes
    ----------
    on_rig, off_rig : int
        Rows of the section that belong to this rig, and those that do not.
    zero, not_applicable, not_inspected : tuple of (str, int, int)
        Row, judges who said so, judges of the section.
    """

    on_rig: int
    off_rig: int
    zero: tuple[tuple[str, int, int], ...]
    not_applicable: tuple[tuple[str, int, int], ...]
    not_inspected: tuple[tuple[str, int, int], ...]

    @property
    def all_counted(self) -> bool:
        """Whether every row was marked above zero by every judge."""
        return not (self.zero or self.not_applicable or self.not_inspected)


def count_rows(
    section: Section, facts: Mapping[str, str], cards: Sequence[Mapping[str, Mark]]
) -> RowCount:
    """Name the rows of a section that got zero or were left out, and by how many of its judges.

    Parameters
    ----------
    section : Section
    facts : mapping
        The rig as it was judged.
    cards : sequence of mapping of criterion code to Mark, shape (n_judges,)

    Notes
    -----
    A row failed, in a section of passes and fails, is a row at zero.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> row = Criterion("a", "Hubs", Decimal(10), Decimal(1))
    >>> section = Section("s", "S", Decimal(10), 4, (row,))
    >>> cards = [{"a": Mark(MarkState.NOT_INSPECTED)}, {"a": Mark(MarkState.MARKED, Decimal(0))}]
    >>> count_rows(section, {}, cards).not_inspected, count_rows(section, {}, cards).zero
    ((('Hubs', 1, 2),), (('Hubs', 1, 2),))
    """
    rows = section.rows_for(facts)

    def said(mark: Mark) -> tuple[tuple[str, int, int], ...]:
        counts = [(row.name, sum(card.get(row.code) == mark for card in cards)) for row in rows]
        return tuple((name, count, len(cards)) for name, count in counts if count)

    return RowCount(
        on_rig=len(rows),
        off_rig=len(section.criteria) - len(rows),
        zero=said(Mark(MarkState.MARKED, Decimal(0))),
        not_applicable=said(Mark(MarkState.NOT_APPLICABLE)),
        not_inspected=said(Mark(MarkState.NOT_INSPECTED)),
    )


def _median(values: Sequence[Fraction]) -> Fraction:
    ordered = sorted(values)
    half = len(ordered) // 2
    if len(ordered) % 2:
        return ordered[half]
    return (ordered[half - 1] + ordered[half]) / 2


def _to_tenths(value: Fraction) -> Decimal:
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    return exact.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)
