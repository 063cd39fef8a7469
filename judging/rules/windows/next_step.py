"""What the office does next while judging runs, in one sentence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

# A judge so far behind is worth a question; less makes itself up on the walk.
BEHIND_MINUTES = 10
QUIET_MINUTES = 20
CHANCE = 0.5


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
        return "Changed times wait below: look at them, then announce or leave them."
    if judges and all(judge.done for judge in judges):
        return "Every visit is done. See that the cards are in, then run the checks."
    if minutes_to_opening > 0:
        return _before(judges, minutes_to_opening)
    going = [judge for judge in judges if not judge.done]
    late = max(going, key=lambda judge: judge.behind_minutes or 0, default=None)
    if late is not None and (late.behind_minutes or 0) >= BEHIND_MINUTES:
        return (
            f"{late.name} is {late.behind_minutes} minutes behind at {late.where}. "
            "Ask why, and re-plan below if it lasts."
        )
    silent = [judge for judge in going if judge.due and _is_quiet(judge)]
    if silent:
        names = " and ".join(judge.name for judge in silent[:3])
        return f"No word from {names} for a while. Send somebody to look; marks stay on the phone."
    return _in_time(going, chance)


def _in_time(going: Sequence[Standing], chance: float | None) -> str:
    if chance is not None and chance < CHANCE:
        return (
            "The window will probably not hold. Re-plan below, take a pause out, or tell people "
            "that it ends later."
        )
    most = max((abs(judge.behind_minutes or 0) for judge in going), default=0)
    return f"Nothing to do: every judge is within {most + 1} minutes of the announced times."


def _before(judges: Sequence[Standing], minutes: int) -> str:
    opens = f"Judging opens in {_until(minutes)}."
    silent = [judge.name for judge in judges if judge.quiet_minutes is None]
    if silent:
        return f"{opens} Pair a phone for {', '.join(silent)}."
    return f"{opens} Every judge has a phone that was heard."


def _until(minutes: int) -> str:
    """Say a time to wait the coarser the longer it is."""
    number, unit = next(
        (minutes // size, unit)
        for size, unit in ((24 * 60, "day"), (60, "hour"), (1, "minute"))
        if minutes >= 2 * size or size == 1
    )
    return f"{number} {unit}{'' if number == 1 else 's'}"


def _is_quiet(judge: Standing) -> bool:
    return judge.quiet_minutes is None or judge.quiet_minutes > QUIET_MINUTES
