"""The sentences judges are asked in: written once, kept in English, said in the reader's language.

A question is kept as it was asked, so that the record does not change with whoever reads it. Which
sentence it is and what stands in its gaps is read back from the kept words.
"""

from __future__ import annotations

import re
from functools import cache

from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

MARK = N_(
    "Please check wagon {wagon}, {row}: the card says {value}. The other judges and your own "
    "habit suggest about {expected}. If the mark is right, say so; nothing is changed unless "
    "you do."
)
CARD_HIGHER = N_(
    "Please look at your card of wagon {wagon} as a whole: it stands about {shift} points a row "
    "higher than the other cards suggest. If it says what you saw, say so. If rows are wrong, say "
    "so and the card comes back to you; nothing is changed unless you do."
)
CARD_LOWER = N_(
    "Please look at your card of wagon {wagon} as a whole: it stands about {shift} points a row "
    "lower than the other cards suggest. If it says what you saw, say so. If rows are wrong, say "
    "so and the card comes back to you; nothing is changed unless you do."
)
SWAP = N_(
    "Please look at your cards of wagons {first} and {second}: each fits the other wagon better. "
    "Could one have been filled in for the other? If both are right, say so. If not, say so and "
    "both come back to you; nothing is changed unless you do."
)
SWAP_OF_TWO = N_(
    "Please look at your cards of wagons {first} and {second}: each fits the other wagon better. "
    "Could one have been filled in for the other? The other judge is asked too. If both are "
    "right, say so. If not, say so and both come back to you; nothing is changed unless you do."
)
SAME_ON_ALL = N_(
    "Please look at your card of wagon {wagon}: every row has the mark {mark} of ten. Were the "
    "rows that much alike? If so, say so. If not, say so and the card comes back to you; nothing "
    "is changed unless you do."
)
SAME_ON_MOST = N_(
    "Please look at your card of wagon {wagon}: {share} % of its rows have the mark {mark} of "
    "ten. Were the rows that much alike? If so, say so. If not, say so and the card comes back to "
    "you; nothing is changed unless you do."
)
# Of a day: where the figure is above nought (of a ratio: above one), and where it is not.
DAY = {
    "severity": (
        N_(
            "Over the day your marks stand {size} points a row higher than the other judges’ "
            "marks of the same wagons. This is no fault, and no mark is changed. Is there "
            "something the office should know?"
        ),
        N_(
            "Over the day your marks stand {size} points a row lower than the other judges’ "
            "marks of the same wagons. This is no fault, and no mark is changed. Is there "
            "something the office should know?"
        ),
    ),
    "spread": (
        N_(
            "Over the day you set the wagons {size} % wider apart than the panel does. This is "
            "no fault, and no mark is changed. Is there something the office should know?"
        ),
        N_(
            "Over the day you set the wagons {size} % less far apart than the panel does. This "
            "is no fault, and no mark is changed. Is there something the office should know?"
        ),
    ),
    "consistency": (
        N_(
            "Over the day your rows go along with the panel’s less steadily than the other "
            "judges’: {size} times their noise. This is no fault, and no mark is changed. Is "
            "there something the office should know?"
        ),
        N_(
            "Over the day your rows go along with the panel’s more steadily than the other "
            "judges’: {size} times their noise. This is no fault, and no mark is changed. Is "
            "there something the office should know?"
        ),
    ),
    "drift": (
        N_(
            "Over the day your marks became milder beside the others, by {size} points a row "
            "each hour. This is no fault, and no mark is changed. Is there something the office "
            "should know?"
        ),
        N_(
            "Over the day your marks became stricter beside the others, by {size} points a row "
            "each hour. This is no fault, and no mark is changed. Is there something the office "
            "should know?"
        ),
    ),
    "tiring": (
        N_(
            "Over the day you marked less steadily late than early: {size} times the noise. "
            "This is no fault, and no mark is changed. Is there something the office should know?"
        ),
        N_(
            "Over the day you marked more steadily late than early: {size} times the noise. "
            "This is no fault, and no mark is changed. Is there something the office should know?"
        ),
    ),
    "order": (
        N_(
            "Over the day a wagon seen after a good one came out higher on the judges’ cards, by "
            "{size} points a row for each point of the one before. This is no fault, and no mark "
            "is changed. Is there something the office should know?"
        ),
        N_(
            "Over the day a wagon seen after a good one came out lower on the judges’ cards, by "
            "{size} points a row for each point of the one before. This is no fault, and no mark "
            "is changed. Is there something the office should know?"
        ),
    ),
}
ALL = (
    MARK,
    CARD_HIGHER,
    CARD_LOWER,
    SWAP,
    SWAP_OF_TWO,
    SAME_ON_ALL,
    SAME_ON_MOST,
    *(sentence for both in DAY.values() for sentence in both),
)


def said(kept: str) -> str:
    """Say a question, as it was kept, in the language of whoever reads it.

    Parameters
    ----------
    kept : str

    Returns
    -------
    str
        The same words where they are none of these sentences, as when one was cut short.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> asked = SWAP.format(first=2, second=7)
    >>> said(asked) == asked, said("What of the rain?")
    (True, 'What of the rain?')
    """
    for sentence in ALL:
        found = _shape(sentence).fullmatch(kept)
        if found:
            return _(sentence).format(**found.groupdict())
    return kept


@cache
def _shape(sentence: str) -> re.Pattern[str]:
    parts = re.split(r"{(\w+)}", sentence)
    shape = "".join(
        f"(?P<{part}>.+?)" if place % 2 else re.escape(part) for place, part in enumerate(parts)
    )
    return re.compile(shape, re.DOTALL)
