"""Lengths as people at a wagon write them: feet and inches with fractions, or centimetres."""

from __future__ import annotations

import re
from fractions import Fraction

from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

INCH_CM = Fraction(254, 100)
LONGEST_TEXT = 40
EXAMPLES = N_("4 ft 0 in, 48 1/2 in or 122 cm")
_NUMBER = r"([0-9]{1,6}\s+[0-9]{1,3}/[0-9]{1,3}|[0-9]{1,6}/[0-9]{1,6}|[0-9]{1,6}(?:\.[0-9]{1,4})?)"
_FEET = re.compile(rf"(?:{_NUMBER} ?ft)? ?(?:{_NUMBER} ?(?:in)?)?")
_METRIC = re.compile(rf"{_NUMBER} ?(mm|cm|m)")
_WORDS = (
    (r"[’′]", "'"),
    (r"[”″]|''", '"'),
    (r"\b(feet|foot)\b|'", "ft"),
    (r"\b(inches|inch)\b|\"", "in"),
    (r"\b(centimet(er|re)s?)\b", "cm"),
    (r"(?<=[0-9])(ft|in|mm|cm|m)\b", r" \1"),
    (r"(?<=ft)(?=[0-9])", " "),
    (r"\s+", " "),
)
_CM = {"mm": Fraction(1, 10), "cm": Fraction(1), "m": Fraction(100)}


def read_number(text: str) -> Fraction:
    """Read a plain number, a fraction, or both: "48", "5/8", "48 1/2".

    Raises
    ------
    ValueError
        With a sentence.

    Examples
    --------
    >>> read_number("48 1/2"), read_number("0.25")
    (Fraction(97, 2), Fraction(1, 4))
    """
    text = " ".join(text.split())
    if not text:
        raise ValueError(_("A number, please."))
    if text.startswith("-"):
        raise ValueError(_("More than zero, please."))
    if len(text) > LONGEST_TEXT or not re.fullmatch(_NUMBER, text):
        raise ValueError(_("A number, please, such as 4, 5/8 or 48 1/2."))
    whole, _space, part = text.rpartition(" ")
    if re.search(r"/0+$", part):
        raise ValueError(_("Nothing is divided by zero."))
    return Fraction(whole or 0) + Fraction(part)


def read_length(text: str, *, metric: bool = False) -> Fraction:
    """Read a length in inches; a number without a unit is inches, or centimetres if `metric`.

    Parameters
    ----------
    text : str
        Such as ``4 ft 0 in``, ``4'``, ``48``, ``48 1/2 in``, ``122 cm`` or ``1.2 m``.
    metric : bool
        What a bare number means.

    Returns
    -------
    Fraction [in]
        Exact.

    Raises
    ------
    ValueError
        With a sentence, when it is no length or not more than zero.

    Source
    ------
    Common practice, no source: the ways to write it. An inch is 2.54 cm by definition (from
    memory).

    Examples
    --------
    >>> read_length("4 ft 0 in"), read_length("4' 6 1/2\\""), read_length("127 cm")
    (Fraction(48, 1), Fraction(109, 2), Fraction(50, 1))
    >>> read_length("0")
    Traceback (most recent call last):
    ...
    ValueError: A length is more than zero.
    """
    text = text.strip().lower()
    if not text:
        words = _("A length, please, such as {examples}.")
        raise ValueError(words.format(examples=_(EXAMPLES)))
    if text.startswith("-"):
        raise ValueError(_("A length is more than zero."))
    found = None
    if len(text) <= LONGEST_TEXT:
        for old, new in _WORDS:
            text = re.sub(old, new, text)
        text = text.strip()
        if metric and re.fullmatch(_NUMBER, text):
            text += " cm"
        found = _metric(text) or _feet(text)
    if found is None:
        raise ValueError(_("Write the length as {examples}.").format(examples=_(EXAMPLES)))
    if found == 0:
        raise ValueError(_("A length is more than zero."))
    return found


def _metric(text: str) -> Fraction | None:
    found = _METRIC.fullmatch(text)
    return read_number(found[1]) * _CM[found[2]] / INCH_CM if found else None


def _feet(text: str) -> Fraction | None:
    found = _FEET.fullmatch(text)
    if not found or not any(found.groups()):
        return None
    feet, inches = (read_number(part) if part else Fraction(0) for part in found.groups())
    return feet * 12 + inches


def to_eighth(inches: Fraction) -> Fraction:
    """Round to the nearest eighth of an inch, half up; finer no wheelwright bores.

    Examples
    --------
    >>> to_eighth(Fraction(100, 3))
    Fraction(267, 8)
    """
    return Fraction((inches * 8 + Fraction(1, 2)).__floor__(), 8)


def in_inches(inches: Fraction) -> str:
    """Write inches to the nearest eighth.

    Examples
    --------
    >>> in_inches(Fraction(100, 3)), in_inches(Fraction(18)), in_inches(Fraction(1, 2))
    ('33 3/8 in', '18 in', '1/2 in')
    """
    whole, rest = divmod(to_eighth(inches), 1)
    parts = [str(whole)] if whole or not rest else []
    return " ".join([*parts, *([str(rest)] if rest else []), "in"])


def in_feet(inches: Fraction) -> str:
    """Write feet and inches to the nearest eighth.

    Examples
    --------
    >>> in_feet(Fraction(97, 2)), in_feet(Fraction(9))
    ('4 ft 1/2 in', '0 ft 9 in')
    """
    feet, rest = divmod(to_eighth(inches), 12)
    return f"{feet} ft {in_inches(Fraction(rest))}"


def to_mm(inches: Fraction) -> int:
    """Round to the nearest millimetre, half up.

    Examples
    --------
    >>> to_mm(Fraction(18)), to_mm(Fraction(1, 8))
    (457, 3)
    """
    return (inches * INCH_CM * 10 + Fraction(1, 2)).__floor__()
