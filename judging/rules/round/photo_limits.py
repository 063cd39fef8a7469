"""What a judge's photo may be: how many, and what it is for.

A photo is a memory aid. It is no mark, is never part of a score, and is no safety inspection.
"""

from __future__ import annotations

from showrun.language import gettext as _

PER_CARD = 6
MEMORY_AID = (
    "A photo helps a judge remember. It is never part of a score, and it is no safety inspection."
)
NO_FACES = "Where it can be avoided, a photo shows no people’s faces."


def reason_against_another(kept: int) -> str | None:
    """Say why a card takes no further photo, or None while it does.

    Parameters
    ----------
    kept : int
        Photos kept with this judge's card of this wagon; a removed one frees its place.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> reason_against_another(6)
    'This card has its 6 photos. The show office can remove one.'
    >>> reason_against_another(5) is None
    True
    """
    if kept < PER_CARD:
        return None
    return _("This card has its {n} photos. The show office can remove one.").format(n=PER_CARD)
