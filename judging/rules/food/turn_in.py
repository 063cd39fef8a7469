"""Whether a dish came in time, by the posted time on the official clock."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

WINDOW_MINUTES = 5


class LateRule(StrEnum):
    """What is done with a dish that comes after window and grace."""

    REFUSED = "refused"
    NOTED = "noted"


class Standing(StrEnum):
    """How a dish came in."""

    EARLY = "early"
    IN_TIME = "in_time"
    IN_GRACE = "in_grace"
    LATE = "late"
    REFUSED = "refused"


LATE_RULES = {
    LateRule.REFUSED: N_("A late dish is not taken; it is out of this round."),
    LateRule.NOTED: N_(
        "A late dish is taken and noted; the judges mark it as the class has declared."
    ),
}


@dataclass(frozen=True)
class TurnInRule:
    """What the committee has declared about turning in.

    Parameters
    ----------
    window_minutes
        Before and after the posted time [min].
    grace_minutes
        After the window, taken without any consequence but a note [min].
    late
        What is done with a dish that comes later still.
    """

    window_minutes: int = WINDOW_MINUTES
    grace_minutes: int = 0
    late: LateRule = LateRule.REFUSED

    def __post_init__(self) -> None:
        if self.window_minutes < 0 or self.grace_minutes < 0:
            raise ValueError("a window and a grace last nought minutes at least")


@dataclass(frozen=True)
class TurnIn:
    """What becomes of a dish at the turn-in table."""

    standing: Standing
    taken: bool
    late_s: int
    sentence: str


def judge_turn_in(posted_at: datetime, at: datetime, rule: TurnInRule) -> TurnIn:
    """Say whether the dish is taken, and in what words.

    Parameters
    ----------
    posted_at
        The posted time.
    at
        When the dish is on the table, by the official clock.
    rule
        Window, grace and what is done with a late dish.

    Returns
    -------
    TurnIn
        `late_s` counts from the window's end [s], 0 where the dish is in time. A dish that
        comes before the window opens waits; it is not late.

    Notes
    -----
    Both ends of the window, and the end of the grace, are inside. Late dishes are disqualified
    for that dish or get the lowest mark of every criterion: the class declares which, beforehand.

    Source
    ------
    Judging Procedures, Chicago kosher barbecue, n.d. (five minutes to either side; lowest marks);
    The Turn-in Window, blog, 2009 (official clock; disqualified).
    Common practice, no source (the grace).

    Example
    -------
    >>> from datetime import datetime
    >>> noon = datetime(2030, 6, 1, 12, 0)
    >>> judge_turn_in(noon, datetime(2030, 6, 1, 12, 5), TurnInRule()).sentence
    'In time.'
    >>> judge_turn_in(noon, datetime(2030, 6, 1, 12, 7, 30), TurnInRule()).sentence
    '2 min 30 s late. Not taken: a late dish is out of this round.'
    """
    half = timedelta(minutes=rule.window_minutes)
    if at < posted_at - half:
        early = _words(int((posted_at - half - at).total_seconds()))
        return TurnIn(
            Standing.EARLY,
            False,
            0,
            _("The window opens in {span}. Please wait.").format(span=early),
        )
    # A started second counts, so that nobody is late by nothing.
    over = at - (posted_at + half)
    late_s = max(0, -(-over // timedelta(seconds=1)))
    if late_s == 0:
        return TurnIn(Standing.IN_TIME, True, 0, _("In time."))
    words = _("{span} late.").format(span=_words(late_s))
    if over <= timedelta(minutes=rule.grace_minutes):
        return TurnIn(
            Standing.IN_GRACE,
            True,
            late_s,
            _("{late} Taken: within the grace.").format(late=words),
        )
    if rule.late is LateRule.NOTED:
        return TurnIn(
            Standing.LATE,
            True,
            late_s,
            _("{late} Taken and noted; marked as declared for late.").format(late=words),
        )
    return TurnIn(
        Standing.REFUSED,
        False,
        late_s,
        _("{late} Not taken: a late dish is out of this round.").format(late=words),
    )


def _words(seconds: int) -> str:
    minutes, rest = divmod(seconds, 60)
    if not minutes:
        return _("{seconds} s").format(seconds=rest)
    return (
        _("{minutes} min {seconds} s").format(minutes=minutes, seconds=rest)
        if rest
        else _("{minutes} min").format(minutes=minutes)
    )
