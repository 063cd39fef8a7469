"""What a palate limit comes to, in a sentence the committee can decide by."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any

from judging.rules.panels.tables import bound, connected, efficiency
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.language import ngettext

TASTINGS = 3  # of each dish
ISLANDS = N_("the tables fall apart: not all judges can be compared")


def say_tables(tables: Sequence[Sequence[Any]]) -> str:
    """Say what drawn tables are worth.

    Parameters
    ----------
    tables
        The dishes of each judge.

    Returns
    -------
    str
        One sentence.

    Raises
    ------
    ValueError
        For no dish, or a dish twice at one judge.

    Source
    ------
    As `efficiency`.

    Example
    -------
    >>> say_tables(["BCEA", "CDBA", "ADEB", "ECDB", "DCEA"])
    '5 dishes, 5 judges, 4 each: every dish tasted 4 times; efficiency 0.938 of 1; all judges can be compared.'
    """  # noqa: E501
    met = Counter(dish for table in tables for dish in table)
    share = efficiency(tables)
    compared = _("all judges can be compared") if connected(tables) else _(ISLANDS)
    head = _head(len(met), len(tables), {len(table) for table in tables}, met.values())
    return _("{head}; efficiency {share:.3f} of 1; {compared}.").format(
        head=head, share=share, compared=compared
    )


def say_limit(dishes: int, judges: int, each: int) -> str:
    """Say what a palate limit would come to before tables are drawn.

    Parameters
    ----------
    dishes
        Dishes to judge.
    judges
        Judges at the table.
    each
        The palate limit: dishes each judge tastes at most.

    Returns
    -------
    str
        A sentence or two: how often a dish is tasted, what the tables can be worth at best, and
        the limit that gives three tastings where this one does not.

    Source
    ------
    As `bound`; Policies, Rules and Awards, National Cowboy Symposium 2019 (three judges a dish).
    Common practice, no source (the palate limit).

    Example
    -------
    >>> say_limit(20, 12, 5)
    '20 dishes, 12 judges, 5 each: every dish tasted 3 times; efficiency at most 0.818 of 1.'
    >>> say_limit(20, 6, 4)
    '20 dishes, 6 judges, 4 each: 24 places, and to compare all dishes takes 25. Three tastings of every dish take 10 each.'
    """  # noqa: E501
    if dishes < 2 or judges < 1:
        return _("Tables need two dishes and a judge at least.")
    each = min(each, dishes)
    places = judges * each
    low, more = divmod(places, dishes)
    counts = [low] * (dishes - more) + [low + 1] * more
    needed = each_for(dishes, judges)
    hint = (
        " " + _("Three tastings of every dish take {needed} each.").format(needed=needed)
        if low < TASTINGS
        else ""
    )
    if places < dishes + judges - 1:
        head = _("{dishes} dishes, {judges}, {each} each").format(
            dishes=dishes, judges=_judges(judges), each=each
        )
        least = dishes + judges - 1
        return _("{head}: {places} places, and to compare all dishes takes {least}.{hint}").format(
            head=head, places=places, least=least, hint=hint
        )
    head = _head(dishes, judges, {each}, counts)
    return _("{head}; efficiency at most {least:.3f} of 1.{hint}").format(
        head=head, least=bound(dishes, judges, each).least, hint=hint
    )


def each_for(dishes: int, judges: int, tastings: int = TASTINGS) -> int:
    """Return the least palate limit that gives every dish so many tastings and compares all.

    Parameters
    ----------
    dishes
        Dishes to judge, one at least.
    judges
        Judges at the table, one at least.
    tastings
        Times each dish is to be tasted.

    Returns
    -------
    int
        Dishes for each judge, all dishes at most.

    Source
    ------
    Arithmetic; Policies, Rules and Awards, National Cowboy Symposium 2019 (three judges a dish).

    Example
    -------
    >>> each_for(20, 12), each_for(20, 2)
    (5, 20)
    """
    wanted = -(-dishes * tastings // judges)
    compared = -(-(dishes + judges - 1) // judges)
    return min(dishes, max(wanted, compared, 2))


def _head(dishes: int, judges: int, sizes: Iterable[int], counts: Iterable[int]) -> str:
    times = sorted(set(counts))
    of = (
        _("{low} to {high}").format(low=times[0], high=times[-1])
        if len(times) > 1
        else str(times[0])
    )
    each = _(" or ").join(map(str, sorted(sizes)))
    return ngettext(
        "{dishes}, {judges}, {each} each: every dish tasted {times} time",
        "{dishes}, {judges}, {each} each: every dish tasted {times} times",
        times[-1],
    ).format(
        dishes=ngettext("{n} dish", "{n} dishes", dishes).format(n=dishes),
        judges=_judges(judges),
        each=each,
        times=of,
    )


def _judges(n: int) -> str:
    return ngettext("{n} judge", "{n} judges", n).format(n=n)
