"""What a record of results says: which version replaced which, and what nobody changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol, TypeVar

from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.language import ngettext


class Sized(Protocol):
    """A picture with its height."""

    @property
    def height(self) -> float: ...


L = TypeVar("L")
P = TypeVar("P", bound=Sized)


def unchanged_words(*, asked: int, corrected: int, missing: int, adjusting: bool) -> list[str]:
    """Say what the service left as the judges gave it.

    Parameters
    ----------
    asked : int
        Questions put to judges about this class.
    corrected : int
        Those which the judge answered with another mark.
    missing : int
        Cards the result lacks.
    adjusting : bool
        Whether the method declared takes judges' severity into account.

    Returns
    -------
    list of str

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> for line in unchanged_words(asked=2, corrected=1, missing=0, adjusting=False):
    ...     print(line)
    No check changed a mark. Two questions were put to judges; a judge corrected a mark in one.
    The service parts no tie but by the ladder declared before judging.
    Severity is shown and was not taken out of any total.
    """
    no_check = _("No check changed a mark.")
    lines = [f"{no_check} {_asked(asked, corrected)}"]
    lines.append(_("The service parts no tie but by the ladder declared before judging."))
    if missing:
        lines.append(_("A missing card counts as no mark, never as zero."))
    taken_out = N_(
        "Severity was taken out of totals as the method declared says; each mark stands as given."
    )
    shown = N_("Severity is shown and was not taken out of any total.")
    lines.append(_(taken_out) if adjusting else _(shown))
    return lines


def _asked(asked: int, corrected: int) -> str:
    if not asked:
        return _("No question was put to a judge about this class.")
    asked_words = {2: N_("Two"), 3: N_("Three"), 4: N_("Four"), 5: N_("Five")}
    count = _(asked_words[asked]) if asked in asked_words else str(asked)
    if not corrected:
        return ngettext(
            "One question was put to judges; no mark was corrected.",
            "{count} questions were put to judges; no mark was corrected.",
            asked,
        ).format(count=count)
    if corrected == 1:
        return ngettext(
            "One question was put to judges; a judge corrected a mark in one.",
            "{count} questions were put to judges; a judge corrected a mark in one.",
            asked,
        ).format(count=count)
    return ngettext(
        "One question was put to judges; a judge corrected a mark in {corrected}.",
        "{count} questions were put to judges; a judge corrected a mark in {corrected}.",
        asked,
    ).format(count=count, corrected=corrected)


def in_pieces(
    lines: Sequence[L], draw: Callable[[Sequence[L]], P | None], tallest: float
) -> list[P]:
    """Draw lines as one picture, or as several where one would not fit on a page.

    Parameters
    ----------
    lines : sequence
    draw : callable
        From lines to a picture, or None where there is nothing to draw.
    tallest : float
        Of a picture, in its own units.

    Returns
    -------
    list
        In the order of the lines; each about as tall as the others. A single line is drawn
        however tall it is.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> def draw(lines):
    ...     return SimpleNamespace(height=10 * len(lines), lines=list(lines))
    >>> [piece.lines for piece in in_pieces([1, 2, 3, 4, 5], draw, 30)]
    [[1, 2, 3], [4, 5]]
    """
    if not lines:
        return []
    drawn = draw(lines)
    if drawn is None:
        return []
    if drawn.height <= tallest or len(lines) == 1:
        return [drawn]
    half = (len(lines) + 1) // 2
    return [*in_pieces(lines[:half], draw, tallest), *in_pieces(lines[half:], draw, tallest)]


def side_by_side(columns: Sequence[L], most: int) -> list[Sequence[L]]:
    """Part the columns of a table that is too wide into tables of about the same breadth.

    Parameters
    ----------
    columns : sequence
    most : int
        Columns a page has room for.

    Returns
    -------
    list of sequence

    Raises
    ------
    ValueError
        When there is room for none.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> side_by_side("abcdefg", 5)
    ['abcd', 'efg']
    """
    if most < 1:
        raise ValueError("A page has room for one column at least.")
    tables = -(-len(columns) // most)
    if not tables:
        return []
    each = -(-len(columns) // tables)
    return [columns[start : start + each] for start in range(0, len(columns), each)]
