"""What the office does next while judging runs, in one sentence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from showrun.language import gettext as _
from showrun.language import listed, ngettext

# A judge so far behind is worth a question; less makes itself up on the walk.
BEHIND_MINUTES = 10
QUIET_MINUTES = 20
CHANCE = 0.5
MOST_NAMED = 3  # judges in one sentence


@dataclass(frozen=True)
class Standing:
    """How one judge stands.

    Parameters
    ----------
    name
        How the office calls the judge.
    where
        The wagon where the judge is, or the next one, in words; "" when all is done.
    behind_minutes
        Later than announced [min]; negative: earlier; None: not known.
    quiet_minutes
        Since the phone was last heard [min]; None: never.
    due
        Whether a visit of the judge is announced for now or before.
    done
        Whether all the judge's visits are done.
    """

    name: str
    where: str
    behind_minutes: int | None
    quiet_minutes: int | None
    due: bool
    done: bool


def next_step(
    judges: Sequence[Standing],
    *,
    waits_for_decision: bool,
    chance: float | None,
    minutes_to_opening: int,
) -> str:
    """Say what the office does next: the most pressing thing, and only that.

    Parameters
    ----------
    judges
        Everybody with visits.
    waits_for_decision
        Whether changed times were worked out that nobody has announced or left.
    chance
        That the window holds; None: not known.
    minutes_to_opening
        Until the window opens; 0 once it has [min].

    Returns
    -------
    str
        One or two short sentences.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> held_up = Standing("J3", "wagon 5", 14, 1, due=True, done=False)
    >>> next_step([held_up], waits_for_decision=False, chance=0.8, minutes_to_opening=0)
    'J3 is 14 minutes behind at wagon 5. Ask why, and re-plan below if it lasts.'
    """
    if waits_for_decision:
        return _("Changed times wait below: look at them, then announce or leave them.")
    if judges and all(judge.done for judge in judges):
        return _("Every visit is done. See that the cards are in, then run the checks.")
    if minutes_to_opening > 0:
        return _before(judges, minutes_to_opening)
    going = [judge for judge in judges if not judge.done]
    late = max(going, key=lambda judge: judge.behind_minutes or 0, default=None)
    if late is not None and (late.behind_minutes or 0) >= BEHIND_MINUTES:
        return _(
            "{judge} is {minutes} minutes behind at {where}. "
            "Ask why, and re-plan below if it lasts."
        ).format(judge=late.name, minutes=late.behind_minutes, where=late.where)
    silent = [judge for judge in going if judge.due and _is_quiet(judge)]
    if silent:
        return _(
            "No word from {judges} for a while. Send somebody to look; marks stay on the phone."
        ).format(judges=listed([judge.name for judge in silent[:MOST_NAMED]]))
    return _in_time(going, chance)


def _in_time(going: Sequence[Standing], chance: float | None) -> str:
    if chance is not None and chance < CHANCE:
        return _(
            "The window will probably not hold. Re-plan below, take a pause out, or tell people "
            "that it ends later."
        )
    within = max((abs(judge.behind_minutes or 0) for judge in going), default=0) + 1
    return ngettext(
        "Nothing to do: every judge is within {minutes} minute of the announced times.",
        "Nothing to do: every judge is within {minutes} minutes of the announced times.",
        within,
    ).format(minutes=within)


def _before(judges: Sequence[Standing], minutes: int) -> str:
    opens = _("Judging opens in {span}.").format(span=_until(minutes))
    silent = [judge.name for judge in judges if judge.quiet_minutes is None]
    if silent:
        pair = _("Pair a phone for {judges}.").format(judges=listed(silent))
        return f"{opens} {pair}"
    heard = _("Every judge has a phone that was heard.")
    return f"{opens} {heard}"


def _until(minutes: int) -> str:
    """Say a time to wait the coarser the longer it is."""
    if minutes >= 2 * 24 * 60:
        return _("{n} days").format(n=minutes // (24 * 60))
    if minutes >= 2 * 60:
        return _("{n} hours").format(n=minutes // 60)
    return ngettext("{n} minute", "{n} minutes", minutes).format(n=minutes)


def _is_quiet(judge: Standing) -> bool:
    return judge.quiet_minutes is None or judge.quiet_minutes > QUIET_MINUTES
