"""A sheet in one sentence: in which sections a wagon stands above the middle of its class."""

from __future__ import annotations

from collections.abc import Sequence

from reports.rules.sheet import SectionLine
from showrun.language import gettext as _
from showrun.language import listed


def in_short(lines: Sequence[SectionLine]) -> str:
    """Say where an entry stands above, level with and below the middle of its class.

    Parameters
    ----------
    lines : sequence of SectionLine
        In the card's order.

    Returns
    -------
    str
        Empty where there is nobody else to stand beside.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> from decimal import Decimal as D
    >>> def line(name, own):
    ...     return SectionLine(name, name, D(own), D(20), D(12), D(8), D(18), 5)
    >>> in_short([line("Harness", 14), line("Wagon box", 12), line("Camp kit", 9)])
    'Above the middle of the class in Harness; level with it in Wagon box; below it in Camp kit.'
    >>> in_short([line("Harness", 14), line("Camp kit", 13)])
    'Above the middle of the class in every section.'
    """
    if not lines or any(line.n_entries < 2 for line in lines):
        return ""
    standings = (
        (
            _("above the middle of the class in {sections}"),
            _("above it in {sections}"),
            [line.name for line in lines if line.own > line.middle],
        ),
        (
            _("level with the middle of the class in {sections}"),
            _("level with it in {sections}"),
            [line.name for line in lines if line.own == line.middle],
        ),
        (
            _("below the middle of the class in {sections}"),
            _("below it in {sections}"),
            [line.name for line in lines if line.own < line.middle],
        ),
    )
    found = [(first, later, names) for first, later, names in standings if names]
    every = len(found) == 1 and len(lines) > 1
    parts = [
        (later if nth else first).format(sections=_("every section") if every else listed(names))
        for nth, (first, later, names) in enumerate(found)
    ]
    words = "; ".join(parts)
    return f"{words[0].upper()}{words[1:]}."
