"""What the papers say of each way to make totals, and how they write its reckoning."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from judging.rules.results.method_figures import AVERAGING, PLACES
from judging.rules.results.methods import SAID
from judging.rules.round.card_hash import plain_number
from reports.rules.award import number, ordinal
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.language import ngettext


@dataclass(frozen=True)
class Told:
    """What a sheet says of a method beside the sentence everybody reads.

    Attributes
    ----------
    judges, figure : str
        Above what the judges gave, and above what a section comes to.
    more : str
        What an exhibitor with a pencil wants to know too.
    missing : str
        What stands for a card that is not there.
    """

    judges: str
    figure: str
    more: str
    missing: str


_MEAN_STANDS = N_("in its place stands the mean of what the section’s other judges gave that wagon")
_ESTIMATED = N_("totals are estimated for all judges from the cards that are there")

TOLD: dict[str, Told] = {
    "plain": Told(
        N_("Judges’ points"), N_("Together"), N_("Nothing is adjusted or dropped."), _MEAN_STANDS
    ),
    "mean": Told(
        N_("Judges’ points"),
        N_("Mean"),
        N_("Each mean is rounded to a hundredth; nothing is adjusted or dropped."),
        _MEAN_STANDS,
    ),
    "trimmed": Told(
        N_("Judges’ points"),
        N_("Mean of those kept"),
        N_(
            "Each section drops its own highest and lowest; each mean is rounded to a hundredth, "
            "and nothing is adjusted."
        ),
        _MEAN_STANDS,
    ),
    "judge_adjusted": Told(
        N_("Judges’ points"),
        N_("Adjusted"),
        N_(
            "Entry and judge are estimated together from all cards of a section, so that nobody "
            "gains or loses by having drawn a generous or a strict judge: the adjusted figure is "
            "what the judges would have written had every judge of the section seen every entry, "
            "and may differ from the plain sum in either direction."
        ),
        _ESTIMATED,
    ),
    "crossed": Told(
        N_("Judges’ points"),
        N_("Adjusted"),
        N_(
            "The adjusted figure may differ from the plain sum in either direction; where a "
            "section’s judges differ no more than by chance, nothing is taken out."
        ),
        _ESTIMATED,
    ),
    "placings": Told(
        N_("Comparisons won with each judge"),
        N_("Together"),
        N_(
            "Each judge compares a wagon with every other of the class. How many points two wagons "
            "were apart plays no part, nor how high or low a judge marks."
        ),
        N_("places need every card"),
    ),
}


def method_words(method: str) -> str:
    """Say what decides, in the sentence everybody reads, with the apostrophes of print.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> method_words("plain")
    'Plain total: all judges’ points added.'
    """
    return _(SAID[method]).replace("'", "’")


@dataclass(frozen=True)
class Given:
    """One judge's part of a section, as it counted.

    Attributes
    ----------
    points : Decimal or None [points]
        None for a card that is missing.
    stands : Decimal or None [points]
        What stands for a missing card; None where nothing does.
    place, level : int
        Where this judge's points put the entry in its class, and with how many others.
    won : Decimal [comparisons]
    """

    points: Decimal | None
    stands: Decimal | None = None
    place: int = 0
    level: int = 0
    won: Decimal = Decimal(0)


def with_place(points: Decimal, others: Sequence[Decimal]) -> Given:
    """Put one judge's points of an entry among those the judge gave the other entries.

    Parameters
    ----------
    points : Decimal [points]
    others : sequence of Decimal, shape (n_entries - 1,) [points]

    Notes
    -----
    One for each entry below, half a one for each that is level.

    Source
    ------
    Borda count, as `judging.rules.results.placing.borda`.

    Examples
    --------
    >>> found = with_place(Decimal(30), [Decimal(40), Decimal(30), Decimal(20)])
    >>> found.place, found.level, str(found.won)
    (2, 1, '1.5')
    """
    above, level = sum(one > points for one in others), sum(one == points for one in others)
    won = Decimal(len(others) - above - level) + Decimal(level) / 2
    return Given(points, place=above + 1, level=level, won=won)


def reckoning(method: str, given: Sequence[Given]) -> str:
    """Write out what the judges gave in a section, so that a reader can follow it.

    Parameters
    ----------
    method : str
        One of ``METHODS``.
    given : sequence of Given, shape (n_judges,)

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> two = [Given(Decimal("31.50")), Given(None, Decimal("31.50"))]
    >>> reckoning("plain", two)
    '31.50 + 31.50 (the mean, for a missing card)'
    >>> reckoning("trimmed", [Given(Decimal(points)) for points in (9, 7, 8, 10)])
    '9.00, 8.00; dropped 7.00 and 10.00'
    >>> reckoning("placings", [with_place(Decimal(5), [Decimal(5), Decimal(4)])])
    '1.5 (first, level)'
    """
    if method == PLACES:
        return " + ".join(_comparisons(one) for one in given)
    if method != "trimmed":
        return (", " if method in AVERAGING else " + ").join(_points(one) for one in given)
    order = sorted(range(len(given)), key=lambda nth: (_worth(given[nth]), nth))
    lowest, highest = order[0], order[-1]
    kept = [one for nth, one in enumerate(given) if nth not in (lowest, highest)]
    return _("{kept}; dropped {lowest} and {highest}").format(
        kept=", ".join(_points(one) for one in kept),
        lowest=_points(given[lowest]),
        highest=_points(given[highest]),
    )


def _comparisons(one: Given) -> str:
    words = _("{won} ({ordinal}, level)") if one.level else _("{won} ({ordinal})")
    return words.format(won=plain_number(one.won), ordinal=ordinal(one.place))


def _points(one: Given) -> str:
    if one.points is not None:
        return f"{one.points:.2f}"
    if one.stands is not None:
        return _("{mean} (the mean, for a missing card)").format(mean=f"{one.stands:.2f}")
    return _("a card missing")


def _worth(one: Given) -> Decimal:
    return next((value for value in (one.points, one.stands) if value is not None), Decimal(0))


def method_line(*, method: str, judges: int, unseen_is_zero: bool) -> str:
    """Say how a class was counted, and what its three states did to the points.

    Parameters
    ----------
    method : str
        One of ``METHODS``.
    judges : int
        How many judges saw each section.
    unseen_is_zero : bool
        What the class declared of rows that could not be inspected.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> method_line(method="plain", judges=3, unseen_is_zero=False).split(". ")[1:]
    ['Three judges a section', 'Zero is a mark; rows that do not apply or could not be inspected \
are left out.']
    """
    whose = ngettext("{n} judge a section.", "{n} judges a section.", judges)
    whose = whose.format(n=number(judges))
    left_out = (
        _(
            "Zero is a mark; rows that do not apply are left out, rows that could not be "
            "inspected count as zero."
        )
        if unseen_is_zero
        else _("Zero is a mark; rows that do not apply or could not be inspected are left out.")
    )
    return f"{method_words(method)} {whose[0].upper()}{whose[1:]} {left_out}"
