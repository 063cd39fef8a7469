"""What a purse sheet says about shared prizes and odd cents."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from entries.rules.money_words import dollars
from reports.rules.award import number, ordinal
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.language import listed

ODD_CENTS = N_(
    "Wagons that share a place share the prizes of the places they fill. A cent that does not "
    "divide goes to the lowest wagon number among them."
)


def pooled_words(places: Sequence[int], paid_cents: Sequence[int]) -> list[str]:
    """Say, for every place that is shared, what was put together and how it was divided.

    Parameters
    ----------
    places : sequence of int
        As released, first place first: 1, 1, 3 for two winners and a third.
    paid_cents : sequence of int [cents]
        What the entry of each place is paid.

    Returns
    -------
    list of str
        Nothing of places that are paid nothing.

    Raises
    ------
    ValueError
        When the two differ in length.

    Source
    ------
    As `judging.rules.results.purse.pay`: pooling is common practice, no source.

    Examples
    --------
    >>> pooled_words([1, 2, 2], [5000, 1251, 1250])
    ['The second and third prizes, $25.01 together, are divided by two: $12.51, $12.50.']
    >>> pooled_words([1, 1, 1, 4], [0, 0, 0, 0])
    []
    """
    if len(places) != len(paid_cents):
        raise ValueError("Every place needs what it is paid.")
    sentences = []
    for place, sharing in sorted(Counter(places).items()):
        paid = [cents for of, cents in zip(places, paid_cents, strict=True) if of == place]
        if sharing == 1 or not sum(paid):
            continue
        named = listed([ordinal(nth) for nth in range(place, place + sharing)])
        each = ", ".join(dollars(cents) for cents in paid)
        if len(set(paid)) == 1:
            each = _("{amount} each").format(amount=dollars(paid[0]))
        sentences.append(
            _("The {named} prizes, {amount} together, are divided by {count}: {each}.").format(
                named=named, amount=dollars(sum(paid)), count=number(sharing), each=each
            )
        )
    return sentences


def paid_words(paid_cents: int, purse_cents: int) -> str:
    """Say what is paid of the purse that was declared.

    Parameters
    ----------
    paid_cents, purse_cents : int [cents]

    Returns
    -------
    str

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> paid_words(10000, 10000), paid_words(6000, 10000)
    ('It is the whole purse.', 'Of the purse, $40.00 is for places nobody fills.')
    """
    left = purse_cents - paid_cents
    if left <= 0:
        return _("It is the whole purse.") if left == 0 else ""
    told = _("Of the purse, {amount} is for places nobody fills.")
    return told.format(amount=dollars(left))
