"""What the judges are called on a sheet that must not name them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

from showrun.language import gettext as _

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def judge_letters(judges: Iterable[str], salt: str) -> dict[str, str]:
    """Call the judges of one sheet A, B, C, so that no sheet tells who they are.

    Parameters
    ----------
    judges : iterable of str
    salt : str
        Different for each sheet, so that two sheets laid side by side tell nothing either.

    Notes
    -----
    Ordered by a hash of salt and judge: the same sheet drawn again has the same letters.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> sorted(judge_letters(["J1", "J2"], "sheet 1").values())
    ['Judge A', 'Judge B']
    """
    order = sorted(
        set(judges), key=lambda judge: hashlib.sha256(f"{salt}\n{judge}".encode()).digest()
    )
    rounds = len(LETTERS)
    letters = {}
    for position, judge in enumerate(order):
        lap, letter = divmod(position, rounds)
        called = f"{LETTERS[letter]}{lap + 1 if lap else ''}"
        letters[judge] = _("Judge {letter}").format(letter=called)
    return letters
