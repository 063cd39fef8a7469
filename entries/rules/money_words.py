"""How money is written on pages and papers, and read from a form."""

from __future__ import annotations

import re

from showrun.language import gettext as _

_AMOUNT = re.compile(
    r"(?P<whole>[0-9]{1,9}|[0-9]{1,3}(?:,[0-9]{3}){1,2})?(?:\.(?P<cents>[0-9]{2}))?"
)
LARGEST_CENTS = 10_000_000  # what one posting may be: a hundred thousand dollars


def dollars(cents: int) -> str:
    """Write an amount in dollars and cents.

    Parameters
    ----------
    cents : int [cents]

    Returns
    -------
    str
        With a sign in front where it is below 0, and always with cents.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> dollars(123450), dollars(33334), dollars(-5)
    ('$1,234.50', '$333.34', '−$0.05')
    """
    whole, rest = divmod(abs(cents), 100)
    return f"{'−' if cents < 0 else ''}${whole:,}.{rest:02}"


def plain_amount(cents: int) -> str:
    """Write an amount bare, as a form or a list has it.

    Parameters
    ----------
    cents : int [cents]
        0 or more.

    Returns
    -------
    str

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> plain_amount(123450), plain_amount(5)
    ('1234.50', '0.05')
    """
    return f"{cents // 100}.{cents % 100:02}"


def balance_words(cents: int) -> str:
    """Say what a balance means, to both sides.

    Parameters
    ----------
    cents : int [cents]
        Above 0 it is owed to the show, below 0 to the exhibitor.

    Returns
    -------
    str

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> balance_words(7500), balance_words(-2500), balance_words(0)
    ('$75.00 to pay', "$25.00 in the exhibitor's favor", 'settled')
    """
    if cents == 0:
        return _("settled")
    if cents > 0:
        return _("{amount} to pay").format(amount=dollars(cents))
    return _("{amount} in the exhibitor's favor").format(amount=dollars(-cents))


def read_dollars(typed: str) -> int:
    """Read an amount as an office types it.

    Parameters
    ----------
    typed : str
        Digits, with or without a dollar sign, commas between thousands and two decimals.

    Returns
    -------
    int [cents]
        Above 0.

    Raises
    ------
    ValueError
        With a sentence, where it is no amount, nothing, below nothing or too much.

    Source
    ------
    Common practice, no source: an amount that could be meant two ways is refused.

    Examples
    --------
    >>> read_dollars("$1,234.50"), read_dollars(" 75 "), read_dollars(".50")
    (123450, 7500, 50)
    >>> read_dollars("12,5")
    Traceback (most recent call last):
        ...
    ValueError: An amount in dollars, please, such as 150 or 150.50.
    """
    text = typed.strip().removeprefix("$").strip()
    plain = _AMOUNT.fullmatch(text)
    if not text or plain is None:
        raise ValueError(_("An amount in dollars, please, such as 150 or 150.50."))
    cents = int((plain["whole"] or "0").replace(",", "")) * 100 + int(plain["cents"] or 0)
    if cents == 0:
        raise ValueError(_("More than nothing, please."))
    if cents > LARGEST_CENTS:
        raise ValueError(
            _("At most {amount} at once, please.").format(amount=dollars(LARGEST_CENTS))
        )
    return cents
