"""Prize money to the cent: how a purse is split, and what tied entries are paid."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

Weight = int | Decimal | Fraction


def split(cents: int, weights: Sequence[Weight]) -> list[int]:
    """Split a purse over the places by weight, to the last cent.

    Parameters
    ----------
    cents : int [cents]
    weights : sequence of int, Decimal or Fraction
        Such as percentages; only their proportions count. A weight of nought gets nothing.

    Returns
    -------
    list of int [cents]
        Adds up to ``cents``.

    Raises
    ------
    ValueError
        When the purse is no whole number of cents or below 0, a weight is below 0, not finite or
        a float, or the weights add up to nought.

    Notes
    -----
    Largest remainder: each place gets the whole cents of its share; the odd cents go one each to
    the largest remainders, between equal ones to the earlier place.

    Source
    ------
    Hamilton's rule: Balinski, M. L. & Young, H. P., Fair Representation, 1982 (from memory); its
    use for cents is common practice, no source.

    Example
    -------
    >>> split(100001, [1, 1, 1])
    [33334, 33334, 33333]
    """
    _demand_cents(cents)
    exact = [_weight(weight) for weight in weights]
    whole = sum(exact, Fraction(0))
    if whole <= 0:
        raise ValueError("The weights of a purse must add up to more than nought.")
    shares = [cents * weight / whole for weight in exact]
    parts = [int(share) for share in shares]
    largest = sorted(range(len(parts)), key=lambda place: (parts[place] - shares[place], place))
    for place in largest[: cents - sum(parts)]:
        parts[place] += 1
    return parts


def pay(prizes_cents: Sequence[int], ranks: Sequence[int]) -> list[int]:
    """Pay the prizes; tied entries pool those of the places they fill and share them alike.

    Parameters
    ----------
    prizes_cents : sequence of int [cents]
        For the first place, the second, and so on.
    ranks : sequence of int, shape (n_entries,)
        Places as `competition_ranks` gives them: 1, 1, 3 for two winners and a third.

    Returns
    -------
    list of int, shape (n_entries,) [cents]
        Adds up to the prizes of the places that are filled. Prizes for places beyond the number
        of entries are not paid.

    Raises
    ------
    ValueError
        When a prize is no whole number of cents or below 0, or the ranks are not such places.

    Notes
    -----
    Odd cents of a pool go one each to the tied entries first in the list; give it in the printed
    order, such as by entry number.

    Source
    ------
    Pooling of tied places: common practice, no source.

    Example
    -------
    >>> pay([250000, 150000, 100000, 50000], [1, 1, 3, 4, 4])
    [200000, 200000, 100000, 25000, 25000]
    """
    for prize in prizes_cents:
        _demand_cents(prize)
    tied: dict[int, list[int]] = {}
    for index, rank in enumerate(ranks):
        tied.setdefault(rank, []).append(index)
    paid = [0] * len(ranks)
    due = 1
    for rank in sorted(tied):
        if rank != due:
            raise ValueError(f"Place {rank} cannot be paid: the next place to fill is {due}.")
        group = tied[rank]
        pool = sum(prizes_cents[rank - 1 : rank - 1 + len(group)])
        each, odd = divmod(pool, len(group))
        for order, index in enumerate(group):
            paid[index] = each + (1 if order < odd else 0)
        due += len(group)
    return paid


def _demand_cents(cents: int) -> None:
    if not isinstance(cents, int) or isinstance(cents, bool) or cents < 0:
        raise ValueError(f"{cents!r} is no whole number of cents, 0 or more.")


def _weight(weight: Weight) -> Fraction:
    whole = isinstance(weight, int | Decimal | Fraction) and not isinstance(weight, bool)
    if not whole or (isinstance(weight, Decimal) and not weight.is_finite()) or weight < 0:
        raise ValueError(f"{weight!r} is no exact weight, 0 or more.")
    return Fraction(weight)
