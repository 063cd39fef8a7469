"""The evener: how a bar with three holes shares the pull between unequal animals."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from judging.rules.handbook.lengths import to_eighth
from showrun.language import gettext_noop as N_

SHORTEST, LONGEST = Fraction(12), Fraction(144)  # [in] between the outer holes
NEAREST_HOLES = Fraction(2)  # [in]
MOST_TIMES = 4  # one animal's strength over the other's
CAUTIONS = (
    N_(
        "This holds only when the three holes are in one line. Where the middle hole stands "
        "off that line, the animal that lags behind pulls more (How to Make Eveners, 1912)."
    ),
    N_(
        "On one mower bar a stagger of 4 inches made a difference of nearly 19 pounds in a "
        "draft of 200, almost one tenth (American Farming and Stock Raising, 19th century)."
    ),
    N_(
        "Measure from the middle of one hole to the middle of the next. Neck yoke, evener and"
        " the spread of the lines should match (Evener Width on Horse Drawn Mowers, 2014)."
    ),
    N_(
        "Have it made and checked by a harness maker or wheelwright. This is arithmetic; it "
        "is not a safety inspection and says nothing about wood, irons or animals."
    ),
)


@dataclass(frozen=True)
class Evener:
    """A bar with three holes; arms from the middle hole to each outer hole [in], exact."""

    arm_one: Fraction
    arm_two: Fraction

    @property
    def bar(self) -> Fraction:
        """From outer hole to outer hole [in]."""
        return self.arm_one + self.arm_two

    @property
    def shares(self) -> tuple[Fraction, Fraction]:
        """What each side pulls, as parts of the whole; together one."""
        return self.arm_two / self.bar, self.arm_one / self.bar

    def bored(self) -> Evener:
        """Return the bar as it can be bored: to the eighth of an inch, its length kept."""
        first = to_eighth(self.arm_one)
        return Evener(first, to_eighth(self.bar) - first)


def shares_of_arms(arm_one: Fraction, arm_two: Fraction) -> Evener:
    """Say what each of two animals pulls, from the arms of their evener.

    Parameters
    ----------
    arm_one, arm_two : Fraction [in]
        From the middle hole to each outer hole.

    Returns
    -------
    Evener
        Shares are the inverse of the arms: the longer arm pulls less.

    Raises
    ------
    ValueError
        With a sentence, for lengths no evener has.

    Notes
    -----
    Both ends pull with the same turning force about the middle hole, share x arm. True only when
    the three holes are in line.

    Source
    ------
    Elementary Lessons in the Physics of Agriculture, 1894: shares of 3/8 and 5/8 (the arms of
    its bar are derived). How to Make Eveners, 1912: holes in line.

    Examples
    --------
    >>> shares_of_arms(Fraction(30), Fraction(18)).shares
    (Fraction(3, 8), Fraction(5, 8))
    """
    for arm in (arm_one, arm_two):
        if arm <= 0:
            raise ValueError("An arm is longer than zero.")
        if arm < NEAREST_HOLES:
            raise ValueError(f"Holes nearer than {NEAREST_HOLES} inches split the wood.")
    _check_bar(arm_one + arm_two)
    _check_times(arm_one, arm_two, "One arm")
    return Evener(arm_one, arm_two)


def arms_of_strengths(bar: Fraction, one: Fraction, two: Fraction) -> Evener:
    """Say where the middle hole goes, so that each animal pulls by its strength.

    Parameters
    ----------
    bar : Fraction [in]
        From outer hole to outer hole.
    one, two : Fraction
        Strengths in any unit: 4 and 3, shares, or bodyweights.

    Returns
    -------
    Evener
        The stronger animal has the shorter arm.

    Raises
    ------
    ValueError
        With a sentence, for a bar or strengths that make no evener.

    Source
    ------
    Farm Implements, 1854 (year from memory): strengths of 4 to 3 give arms of 3 to 4.

    Examples
    --------
    >>> found = arms_of_strengths(Fraction(42), Fraction(4), Fraction(3))
    >>> found.arm_one, found.arm_two
    (Fraction(18, 1), Fraction(24, 1))
    """
    if one <= 0 or two <= 0:
        raise ValueError("A strength is more than zero.")
    _check_bar(bar)
    _check_times(one, two, "One animal")
    return Evener(bar * two / (one + two), bar * one / (one + two))


def three_abreast(bar: Fraction) -> Evener:
    """Say where the middle hole goes for three abreast: a pair on one side, one animal alone.

    Parameters
    ----------
    bar : Fraction [in]
        From outer hole to outer hole.

    Returns
    -------
    Evener
        `arm_one` is the pair's, a third of the bar; `arm_two` the single animal's.

    Raises
    ------
    ValueError
        With a sentence, for a bar no evener has.

    Source
    ------
    Working Three Horses, 1885: the pair on one third of the bar, the single on two thirds.

    Examples
    --------
    >>> three_abreast(Fraction(36)).arm_one, three_abreast(Fraction(36)).shares[1]
    (Fraction(12, 1), Fraction(1, 3))
    """
    return arms_of_strengths(bar, Fraction(2), Fraction(1))


def _check_bar(bar: Fraction) -> None:
    if bar <= 0:
        raise ValueError("A bar is longer than zero.")
    if not SHORTEST <= bar <= LONGEST:
        raise ValueError(
            f"An evener has from {SHORTEST} inches to {LONGEST / 12} feet between its outer holes; "
            "see whether the unit is right."
        )


def _check_times(one: Fraction, two: Fraction, what: str) -> None:
    if max(one, two) > MOST_TIMES * min(one, two):
        raise ValueError(
            f"{what} is more than {MOST_TIMES} times the other. No evener makes a team of that."
        )
