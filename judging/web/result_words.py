"""What the office's results are told in: methods, places that are not sure, money, fingerprints."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence

from entries.rules.money_words import dollars
from judging.models.scorecard import METHODS
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.language import listed, ngettext

METHOD_NAMES = dict(METHODS)
# Where there is little room.
SHORT_NAMES = {
    "plain": N_("plain"),
    "mean": N_("mean"),
    "trimmed": N_("trimmed"),
    "judge_adjusted": N_("adjusted"),
    "crossed": N_("crossed"),
    "placings": N_("places"),
}
_PLURAL = {"crossed", "placings"}
# Differences below this are rounding of the estimate, not a habit.
EVEN = 0.05
SURE_MEANS = N_(
    "It tells how far these judges' marks disagreed, and nothing else: the places stand as "
    "the class's rules give them, and a mistake all judges share is not in it."
)
GAPS_COUNT = N_(
    "A missing card never counts as zero. Places are by the cards that are in; best and "
    "worst are what the missing ones could still make of them."
)
ODD_CENTS = N_(
    "Wagons that share a place share the prizes of the places they fill. A cent that does not "
    "divide goes to the largest remainder, then to the better place or the lower wagon number."
)


def method_name(method: str) -> str:
    """Name a method; one that this program does not know by its code."""
    return str(METHOD_NAMES.get(method, method))


def method_in_sentence(method: str) -> str:
    """Name a method inside a sentence."""
    name = method_name(method)
    return name[:1].lower() + name[1:]


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
    names = f"{names[:1].upper()}{names[1:]}"
    parts = [
        ngettext(
            "{methods} gives place {place}", "{methods} give place {place}", 2 if several else 1
        ).format(methods=names, place=first)
    ]
    parts += [
        _("{methods} place {place}").format(
            methods=listed([method_in_sentence(method) for method in named]), place=place
        )
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
        return _("{judge} marks like the panel's average.").format(judge=judge)
    if effect > 0:
        said = _("{judge} marks {points:.1f} points higher than the panel's average.")
    else:
        said = _("{judge} marks {points:.1f} points lower than the panel's average.")
    return said.format(judge=judge, points=abs(effect))


def chance_words(chance: float) -> str:
    """Say a chance in hundredths, never as a certainty."""
    hundredths = math.floor(100 * chance + 1e-9)
    return (
        _("99 in 100 or more")
        if hundredths >= 99
        else _("{hundredths} in 100").format(hundredths=max(hundredths, 1))
    )


def purse_words(paid: int, purse: int) -> str:
    """Say what is paid of a purse."""
    if paid == purse:
        return _("{paid} in all, the whole purse.").format(paid=dollars(paid))
    left = purse - paid
    if left < 0:
        return _("{paid} in all.").format(paid=dollars(paid))
    return _("{paid} in all; {left} of the purse is for places nobody fills.").format(
        paid=dollars(paid), left=dollars(left)
    )


def fingerprint(full: str, groups: int | None = None) -> str:
    """Write a hash in groups of four, all of them or the first few."""
    parts = [full[start : start + 4] for start in range(0, len(full), 4)]
    return " ".join(parts[:groups])
