"""What a class declares about ties and prize money, in words and figures before it is judged."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from itertools import pairwise
from typing import NamedTuple

from judging.rules.results.placing import rung_proofs
from judging.rules.results.purse import pay, split
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

MOST_PLACES = 50
LARGEST_SHARE = Decimal(1_000_000)
FINEST_SHARE = 4  # decimals


class Rung(NamedTuple):
    """A rung of a tie ladder: whether it can ever decide, and the sentence that says so."""

    section: str
    decides: bool
    sentence: str


class PurseShown(NamedTuple):
    """What each place gets, and what two wagons level for first get each [cents]."""

    prizes: list[int]
    level_for_first: list[int]


NO_SHARE = N_("“{text}” is no share; type numbers such as 50, 30, 20.")


def ladder_in_words(ladder: Sequence[str], names: Mapping[str, str]) -> list[Rung]:
    """Say of each rung of a tie ladder whether it can decide anything.

    Parameters
    ----------
    ladder : sequence of str
        Section codes, first rung first.
    names : mapping of section code to str
        Names of all sections that make up the total.

    Returns
    -------
    list of Rung

    Raises
    ------
    ValueError
        As for `rung_proofs`.

    Source
    ------
    Arithmetic, by `rung_proofs`.

    Example
    -------
    >>> for rung in ladder_in_words(["trail", "food"], {"trail": "Trail", "food": "Food"}):
    ...     print(rung.sentence)
    Trail can decide: 10 and 10 against 9 in Trail and 11 in Food is the same total.
    Food can never decide: level in the total and in Trail, wagons are level in Food too.
    """
    rungs = []
    for depth, (code, proof) in enumerate(rung_proofs(ladder, list(names)).items()):
        name = names[code]
        if proof is None:
            above = [names[rung] for rung in ladder[:depth]]
            said = (
                _(
                    "{section} can never decide: level in the total and in {above}, wagons are "
                    "level in {section} too."
                )
                if above
                else _(
                    "{section} can never decide: level in the total, wagons are level in "
                    "{section} too."
                )
            )
            sentence = said.format(section=name, above=_(" and ").join(above))
        else:
            better, worse = proof
            other = next(section for section in names if worse[section] > better[section])
            sentence = _(
                "{section} can decide: {better} and {better_other} against {worse} in {section} "
                "and {worse_other} in {other} is the same total."
            ).format(
                section=name,
                better=better[code],
                better_other=better[other],
                worse=worse[code],
                worse_other=worse[other],
                other=names[other],
            )
        rungs.append(Rung(code, proof is not None, sentence))
    return rungs


def read_shares(text: str) -> list[str]:
    """Read the shares of a purse as somebody types them.

    Parameters
    ----------
    text : str
        Numbers, the first place first, with anything but digits and points between them.

    Returns
    -------
    list of str

    Raises
    ------
    ValueError
        With a sentence: something is no number, there are too many places, no share is above
        nought, or a later place would get more than an earlier one.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> read_shares("50 %, 30 % / 20 %")
    ['50', '30', '20']
    """
    found = re.split(r"[\s,;:/%&+]+", text.strip(" \t\r\n,;:/%&+"))
    shares = [share for share in found if share]
    values = [_share(share) for share in shares]
    if len(values) > MOST_PLACES:
        raise ValueError(_("At most {most} places share a purse.").format(most=MOST_PLACES))
    if values and not any(values):
        raise ValueError(_("One share must be more than zero."))
    for place, (one, other) in enumerate(pairwise(values), start=2):
        if other > one:
            raise ValueError(
                _("Place {place} would get more than place {before}.").format(
                    place=place, before=place - 1
                )
            )
    return shares


def _share(text: str) -> Decimal:
    try:
        value = Decimal(text)
    except InvalidOperation:
        raise ValueError(_(NO_SHARE).format(text=text)) from None
    if not value.is_finite() or not 0 <= value <= LARGEST_SHARE:
        raise ValueError(_(NO_SHARE).format(text=text))
    if int(value.as_tuple().exponent) < -FINEST_SHARE:
        raise ValueError(
            _("“{text}” has more than {most} decimals.").format(text=text, most=FINEST_SHARE)
        )
    return value


def purse_shown(cents: int, shares: Sequence[str]) -> PurseShown:
    """Show what a purse would pay each place, and two wagons that share the first.

    Parameters
    ----------
    cents : int [cents]
    shares : sequence of str
        As `read_shares` gives them.

    Returns
    -------
    PurseShown [cents]

    Raises
    ------
    ValueError
        As for `split`.

    Source
    ------
    As `split` and `pay`.

    Example
    -------
    >>> purse_shown(100000, ["50", "30", "20"])
    PurseShown(prizes=[50000, 30000, 20000], level_for_first=[40000, 40000])
    """
    prizes = split(cents, [Decimal(share) for share in shares])
    return PurseShown(prizes, pay(prizes, [1, 1]))
