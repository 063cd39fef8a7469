"""What the office's results are told in: methods, places that are not sure, money, fingerprints."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence

from entries.rules.money_words import dollars
from judging.models.scorecard import METHODS

METHOD_NAMES: dict[str, str] = dict(METHODS)
# Where there is little room.
SHORT_NAMES = {
    "plain": "plain",
    "mean": "mean",
    "trimmed": "trimmed",
    "judge_adjusted": "adjusted",
    "crossed": "crossed",
    "placings": "places",
}
_PLURAL = {"crossed", "placings"}
# Differences below this are rounding of the estimate, not a habit.
EVEN = 0.05
SURE_MEANS = (
    "It tells how far these judges' marks disagreed, and nothing else: the places stand as the "
    "class's rules give them, and a mistake all judges share is not in it."
)
GAPS_COUNT = (
    "A missing card never counts as nought. Places are by the cards that are in; best and worst "
    "are what the missing ones could still make of them."
)
ODD_CENTS = (
    "Wagons that share a place share the prizes of the places they fill. A cent that does not "
    "divide goes to the largest remainder, then to the better place or the lower wagon number."
)


def method_in_sentence(method: str) -> str:
    """Name a method inside a sentence."""
    name = METHOD_NAMES.get(method, method)
    return name[:1].lower() + name[1:]


def listed(words: Sequence[str]) -> str:
    """Write words in a row, the last joined by "and"."""
    head, last = ", ".join(words[:-1]), words[-1]
    return f"{head} and {last}" if head else last


def differs_words(place_by: Mapping[str, int]) -> str:
    """Say in one sentence which methods give one wagon which place; empty where all agree.

    `place_by` begins with the method that decides.
    """
    by_place: dict[int, list[str]] = {}
    for method, place in place_by.items():
        by_place.setdefault(place, []).append(method)
    if len(by_place) < 2:
        return ""
    (first, methods), *others = by_place.items()
    several = len(methods) > 1 or methods[0] in _PLURAL
    names = listed([method_in_sentence(method) for method in methods])
    parts = [f"{names[:1].upper()}{names[1:]} {'give' if several else 'gives'} place {first}"]
    parts += [
        f"{listed([method_in_sentence(method) for method in named])} place {place}"
        for place, named in others
    ]
    return ", ".join(parts) + "."


def sections_named(words: str, sections: Sequence[tuple[str, str]]) -> str:
    """Put sections' names for their codes, which is all that the rules know."""
    names = dict(sections)
    codes = "|".join(re.escape(code) for code in sorted(names, key=len, reverse=True))
    return re.sub(rf"\b({codes})\b", lambda code: names[code[0]], words) if codes else words


def habit_words(judge: str, effect: float) -> str:
    """Say how a judge's section points lie to the panel's average."""
    if abs(effect) < EVEN:
        return f"{judge} marks like the panel's average."
    where = "higher" if effect > 0 else "lower"
    return f"{judge} marks {abs(effect):.1f} points {where} than the panel's average."


def chance_words(chance: float) -> str:
    """Say a chance in hundredths, never as a certainty."""
    hundredths = math.floor(100 * chance + 1e-9)
    return "99 in 100 or more" if hundredths >= 99 else f"{max(hundredths, 1)} in 100"


def purse_words(paid: int, purse: int) -> str:
    """Say what is paid of a purse."""
    if paid == purse:
        return f"{dollars(paid)} in all, the whole purse."
    left = purse - paid
    if left < 0:
        return f"{dollars(paid)} in all."
    return f"{dollars(paid)} in all; {dollars(left)} of the purse is for places nobody fills."


def fingerprint(full: str, groups: int | None = None) -> str:
    """Write a hash in groups of four, all of them or the first few."""
    parts = [full[start : start + 4] for start in range(0, len(full), 4)]
    return " ".join(parts[:groups])
