"""A sheet in one sentence: in which sections a wagon stands above the middle of its class."""

from __future__ import annotations

from collections.abc import Sequence

from reports.rules.sheet import SectionLine


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
        ("above", [line.name for line in lines if line.own > line.middle]),
        ("level with", [line.name for line in lines if line.own == line.middle]),
        ("below", [line.name for line in lines if line.own < line.middle]),
    )
    found = [(side, names) for side, names in standings if names]
    parts = []
    for nth, (side, names) in enumerate(found):
        middle = "it" if nth else "the middle of the class"
        where = "every section" if len(found) == 1 and len(lines) > 1 else _listed(names)
        parts.append(f"{side} {middle} in {where}")
    words = "; ".join(parts)
    return f"{words[0].upper()}{words[1:]}."


def _listed(names: Sequence[str]) -> str:
    *head, last = names
    return f"{', '.join(head)} and {last}" if head else last
