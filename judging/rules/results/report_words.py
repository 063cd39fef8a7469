"""What a judge is told of the own marks after the show: what it is, how sure, what it means."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from judging.rules.results.agreement import Coefficient
from judging.rules.results.habits import Habit

PERCENT = 100
# Ends of the words for an intraclass correlation.
BANDS = ((0.5, "low"), (0.75, "fair"), (0.9, "good"), (math.inf, "very good"))
UNTOLD = "The marks of this show do not tell."


def agreement_words(found: Coefficient) -> str:
    """Say how far judges agree, by both ends of the interval.

    Parameters
    ----------
    found : Coefficient
        An intraclass correlation.

    Returns
    -------
    str

    Source
    ------
    Koo, T. K. & Li, M. Y., Journal of Chiropractic Medicine 15, 155-163, 2016 (from memory); the
    names of the bands are our own.

    Examples
    --------
    >>> agreement_words(Coefficient(0.62, 0.31, 0.84))
    'Agreement lies between low and good.'
    >>> agreement_words(Coefficient(0.95, 0.91, 0.98))
    'Agreement is very good.'
    """
    if not (math.isfinite(found.low) and math.isfinite(found.high)):
        return "The marks are too few, or too much alike, to tell."
    low, high = _band(found.low), _band(found.high)
    return f"Agreement is {low}." if low == high else f"Agreement lies between {low} and {high}."


def judge_words(check: str, habit: Habit | None) -> str:
    """Tell a judge about one habit, in short sentences without blame.

    Parameters
    ----------
    check : {"severity", "spread", "consistency", "drift", "tiring"}
    habit : Habit or None
        None where the show has no times.

    Returns
    -------
    str

    Notes
    -----
    Where the 95 % interval holds what a judge like the others has, it says so: there is then no
    clear difference, whatever the size.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> print(judge_words("severity", Habit("J1", 0.62, 0.2, 1.04, 4.0, True)))
    Your marks were higher than the other judges' marks of the same wagons: by about 0.6 points a
    row (0.2 to 1.0). Where all judges saw all wagons, this moved no wagon's place.
    >>> judge_words("drift", Habit("J1", 0.1, -0.1, 0.3, 1.0, False))
    'Your marks did not clearly rise or fall through the day beside the others.'
    >>> judge_words("tiring", None)
    'The marks of this show do not tell.'
    """
    if habit is None or not math.isfinite(habit.size):
        return UNTOLD
    level = 0.0 if check in ("severity", "drift") else 1.0
    if not (math.isfinite(habit.low) and math.isfinite(habit.high)):
        return UNTOLD
    if habit.low <= level <= habit.high:
        return _LEVEL[check]
    return _CLEAR[check](habit)


def _band(value: float) -> str:
    return next(name for end, name in BANDS if value < end)


def _between(habit: Habit) -> str:
    low, high = sorted((abs(habit.low), abs(habit.high)))
    return f"{low:.1f} to {high:.1f}"


def _severity(habit: Habit) -> str:
    way = "higher" if habit.size > 0 else "lower"
    return (
        f"Your marks were {way} than the other judges' marks of the same wagons: by about "
        f"{abs(habit.size):.1f} points a row ({_between(habit)}). Where all judges saw all wagons, "
        "this moved no wagon's place."
    )


def _spread(habit: Habit) -> str:
    low, high = sorted(abs(end - 1.0) * PERCENT for end in (habit.low, habit.high))
    by = f"about {abs(habit.size - 1.0) * PERCENT:.0f} % ({low:.0f} to {high:.0f} %)"
    if habit.size > 1.0:
        return (
            f"You set good and poor wagons further apart than the panel did: by {by}. Your marks "
            "weighed a little more in the sum."
        )
    return (
        f"You set good and poor wagons less far apart than the panel did: by {by}. Your marks "
        "weighed a little less in the sum. You may try to use more of the scale."
    )


def _consistency(habit: Habit) -> str:
    told = f"about {habit.size:.1f} times theirs ({_between(habit)})"
    if habit.size > 1.0:
        return (
            f"From row to row you and the panel differed more than the other judges did: {told}. "
            "You may look at other things than they do. A talk over one card can show which."
        )
    return (
        f"From row to row you and the panel differed less than the other judges did: {told}. Your "
        "eye and theirs fell on the same things."
    )


def _drift(habit: Habit) -> str:
    way = "rose" if habit.size > 0 else "fell"
    return (
        f"Your marks {way} through the day beside the others: by about {abs(habit.size):.1f} "
        f"points a row each hour ({_between(habit)}). A look back at an early card may help to "
        "keep the scale."
    )


def _tiring(habit: Habit) -> str:
    told = f"about {habit.size:.1f} times the early spread ({_between(habit)})"
    if habit.size > 1.0:
        return (
            f"Late in the day your rows went along with the panel less steadily: {told}. Late "
            "wagons may be harder to judge. A short rest may help."
        )
    return f"Late in the day your rows went along with the panel more steadily: {told}."


_CLEAR: Mapping[str, Callable[[Habit], str]] = {
    "severity": _severity,
    "spread": _spread,
    "consistency": _consistency,
    "drift": _drift,
    "tiring": _tiring,
}
_LEVEL: Mapping[str, str] = {
    "severity": "Your marks were not clearly higher or lower than the other judges' marks.",
    "spread": "You set good and poor wagons about as far apart as the panel did.",
    "consistency": "From row to row you marked about as steadily as the other judges.",
    "drift": "Your marks did not clearly rise or fall through the day beside the others.",
    "tiring": "You marked about as steadily late in the day as early.",
}
