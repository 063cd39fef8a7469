"""What a judge is told of the own marks after the show: what it is, how sure, what it means."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from judging.rules.results.agreement import Coefficient
from judging.rules.results.habits import Habit
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

PERCENT = 100
# Ends of the words for an intraclass correlation.
BANDS = ((0.5, N_("low")), (0.75, N_("fair")), (0.9, N_("good")), (math.inf, N_("very good")))
UNTOLD = N_("The marks of this show do not tell.")


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
        return _("The marks are too few, or too much alike, to tell.")
    low, high = _band(found.low), _band(found.high)
    return (
        _("Agreement is {low}.").format(low=low)
        if low == high
        else _("Agreement lies between {low} and {high}.").format(low=low, high=high)
    )


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
        return _(UNTOLD)
    level = 0.0 if check in ("severity", "drift") else 1.0
    if not (math.isfinite(habit.low) and math.isfinite(habit.high)):
        return _(UNTOLD)
    if habit.low <= level <= habit.high:
        return _(_LEVEL[check])
    return _CLEAR[check](habit)


def _band(value: float) -> str:
    return _(next(name for end, name in BANDS if value < end))


def _between(habit: Habit) -> str:
    low, high = sorted((abs(habit.low), abs(habit.high)))
    return _("{low:.1f} to {high:.1f}").format(low=low, high=high)


def _severity(habit: Habit) -> str:
    if habit.size > 0:
        said = _(
            "Your marks were higher than the other judges' marks of the same wagons: by about "
            "{points:.1f} points a row ({between}). Where all judges saw all wagons, this moved no "
            "wagon's place."
        )
    else:
        said = _(
            "Your marks were lower than the other judges' marks of the same wagons: by about "
            "{points:.1f} points a row ({between}). Where all judges saw all wagons, this moved no "
            "wagon's place."
        )
    return said.format(points=abs(habit.size), between=_between(habit))


def _spread(habit: Habit) -> str:
    low, high = sorted(abs(end - 1.0) * PERCENT for end in (habit.low, habit.high))
    by = _("about {percent:.0f} % ({low:.0f} to {high:.0f} %)").format(
        percent=abs(habit.size - 1.0) * PERCENT, low=low, high=high
    )
    if habit.size > 1.0:
        return _(
            "You set good and poor wagons further apart than the panel did: by {by}. Your "
            "marks weighed a little more in the sum."
        ).format(by=by)
    return _(
        "You set good and poor wagons less far apart than the panel did: by {by}. Your marks "
        "weighed a little less in the sum. You may try to use more of the scale."
    ).format(by=by)


def _consistency(habit: Habit) -> str:
    told = _("about {times:.1f} times theirs ({between})").format(
        times=habit.size, between=_between(habit)
    )
    if habit.size > 1.0:
        return _(
            "From row to row you and the panel differed more than the other judges did: "
            "{told}. You may look at other things than they do. A talk over one card can show "
            "which."
        ).format(told=told)
    return _(
        "From row to row you and the panel differed less than the other judges did: {told}. "
        "Your eye and theirs fell on the same things."
    ).format(told=told)


def _drift(habit: Habit) -> str:
    if habit.size > 0:
        said = _(
            "Your marks rose through the day beside the others: by about {points:.1f} points a row "
            "each hour ({between}). A look back at an early card may help to keep the scale."
        )
    else:
        said = _(
            "Your marks fell through the day beside the others: by about {points:.1f} points a row "
            "each hour ({between}). A look back at an early card may help to keep the scale."
        )
    return said.format(points=abs(habit.size), between=_between(habit))


def _tiring(habit: Habit) -> str:
    told = _("about {times:.1f} times the early spread ({between})").format(
        times=habit.size, between=_between(habit)
    )
    if habit.size > 1.0:
        return _(
            "Late in the day your rows went along with the panel less steadily: {told}. Late "
            "wagons may be harder to judge. A short rest may help."
        ).format(told=told)
    return _("Late in the day your rows went along with the panel more steadily: {told}.").format(
        told=told
    )


_CLEAR: Mapping[str, Callable[[Habit], str]] = {
    "severity": _severity,
    "spread": _spread,
    "consistency": _consistency,
    "drift": _drift,
    "tiring": _tiring,
}
_LEVEL: Mapping[str, str] = {
    "severity": N_("Your marks were not clearly higher or lower than the other judges' marks."),
    "spread": N_("You set good and poor wagons about as far apart as the panel did."),
    "consistency": N_("From row to row you marked about as steadily as the other judges."),
    "drift": N_("Your marks did not clearly rise or fall through the day beside the others."),
    "tiring": N_("You marked about as steadily late in the day as early."),
}
