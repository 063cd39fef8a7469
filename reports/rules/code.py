"""The verification code printed on a paper: short, typed by hand, not to be guessed."""

from __future__ import annotations

from showrun.language import gettext as _

# Digits and capitals without I, L, O and U; what is taken for one of them is read as the
# sign it looks like. 32 signs, so one sign is five bits.
SIGNS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LOOKS_LIKE = str.maketrans({"O": "0", "I": "1", "L": "1"})
RANDOM_BYTES = 7
BODY_LENGTH = 11
GROUP_LENGTH = 4
_FIELD_POLYNOMIAL = 0b100101


class CodeRefused(ValueError):
    """What was typed is no code of ours."""


def make_code(random_bytes: bytes) -> str:
    """Make a paper's code: eleven random signs and a check sign.

    Parameters
    ----------
    random_bytes : bytes, shape (7,)
        Fresh from the system's own source of randomness; 55 of the 56 bits are used.

    Returns
    -------
    str
        Twelve signs without separators.

    Raises
    ------
    ValueError
        When there are not seven bytes.

    Source
    ------
    The alphabet is Crockford's Base 32 (from memory of its author's description); the check
    sign is our own, see `check_sign`.

    Examples
    --------
    >>> make_code(bytes(7)), make_code(bytes(range(7)))
    ('000000000000', '000G40R40M34')
    """
    if len(random_bytes) != RANDOM_BYTES:
        raise ValueError(f"A code takes {RANDOM_BYTES} random bytes, not {len(random_bytes)}.")
    number = int.from_bytes(random_bytes, "big") >> 1
    body = "".join(SIGNS[number >> 5 * place & 31] for place in reversed(range(BODY_LENGTH)))
    return body + check_sign(body)


def check_sign(body: str) -> str:
    """Give the sign that ends a code, so that a slip of the pen is noticed.

    Parameters
    ----------
    body : str
        Signs of the alphabet only; at most 30 of them.

    Notes
    -----
    The weighted sum of the signs in the field of 32 elements (polynomial x^5 + x^2 + 1), the
    sign in position i from 1 having weight g^i with the generator g. As all weights differ and
    none is zero, any one wrong sign and any two signs exchanged change the check.

    Source
    ------
    Weighted check over a finite field: textbook coding theory, from memory.

    Examples
    --------
    >>> check_sign("0000000000A"), check_sign("000000000A0")
    ('K', 'V')
    """
    total = 0
    weight = 1
    for sign in body:
        weight = _times(weight, 2)
        total ^= _times(weight, SIGNS.index(sign))
    return SIGNS[total]


def read_code(typed: str) -> str:
    """Read a code as people type it: any case, spaces or dashes, O for 0, I or L for 1.

    Parameters
    ----------
    typed : str

    Returns
    -------
    str
        The twelve signs as `make_code` gave them.

    Raises
    ------
    CodeRefused
        With a sentence for the person who typed it.

    Source
    ------
    Crockford's Base 32 as to the look-alikes (from memory of its author's description).

    Examples
    --------
    >>> read_code("ooog-40r4 om34")
    '000G40R40M34'
    >>> read_code("000G-40R4-0M35")
    Traceback (most recent call last):
    ...
    reports.rules.code.CodeRefused: One of the signs is not as printed; please compare them again.
    """
    signs = "".join(sign for sign in typed.upper() if sign.isalnum()).translate(LOOKS_LIKE)
    if len(signs) != BODY_LENGTH + 1:
        words = _("A code has {length} letters and digits; {given} were given.")
        raise CodeRefused(words.format(length=BODY_LENGTH + 1, given=len(signs)))
    strange = [sign for sign in signs if sign not in SIGNS]
    if strange:
        raise CodeRefused(_("No code contains the sign “{sign}”.").format(sign=strange[0]))
    if check_sign(signs[:-1]) != signs[-1]:
        raise CodeRefused(_("One of the signs is not as printed; please compare them again."))
    return signs


def printed(code: str) -> str:
    """Write a code in groups of four, as it stands on paper.

    Examples
    --------
    >>> printed("000G40R40M34")
    '000G-40R4-0M34'
    """
    return "-".join(
        code[start : start + GROUP_LENGTH] for start in range(0, len(code), GROUP_LENGTH)
    )


def _times(one: int, other: int) -> int:
    """Multiply in the field of 32 elements."""
    product = 0
    while other:
        if other & 1:
            product ^= one
        one <<= 1
        if one & 32:
            one ^= _FIELD_POLYNOMIAL
        other >>= 1
    return product
