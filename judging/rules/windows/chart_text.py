"""How wide words come out at most, and what of them fits: charts are drawn before any font."""

from __future__ import annotations

import unicodedata

# Widest advance of each group over the regular and half-bold cuts of the page's font, in parts
# of the letter size, rounded up.
_NARROW = frozenset("fijlrtIJ.,:;!|'`()[]{}-/\\ \"·")
_WIDE = frozenset("MWmw@%&—…")
_NARROW_EM, _LOWER_EM, _CAPITAL_EM, _WIDE_EM, _ELSEWHERE_EM = 0.46, 0.68, 0.8, 1.14, 1.14


def text_width(words: str, size: float) -> float:
    """Estimate from above how wide a line of text is.

    Parameters
    ----------
    words : str
    size : float
        Letter size, in units of the drawing.

    Returns
    -------
    float
        No less than the drawn width in the page's font; letters of other scripts count as a
        wide square each.

    Source
    ------
    Common practice, no source; the groups were measured in the font.

    Examples
    --------
    >>> text_width("J1", 10), text_width("", 10)
    (11.4, 0)
    """
    return round(sum(map(_em, words)) * size, 3)


def fitted(words: str, size: float, room: float) -> str:
    """Cut a line of text so that it fits, with an ellipsis where something is gone.

    Parameters
    ----------
    words : str
    size, room : float
        Letter size and width there is, in units of the drawing.

    Returns
    -------
    str
        Empty when not even one letter fits.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> fitted("Patient Mule", 10, 100), fitted("Patient Mule", 10, 50), fitted("Mule", 10, 5)
    ('Patient Mule', 'Patien…', '')
    """
    words = " ".join(words.split())
    if text_width(words, size) <= room:
        return words
    left = room - text_width("…", size)
    kept = 0
    while kept < len(words) and (left := left - _em(words[kept]) * size) >= 0:
        kept += 1
    # A mark above the next letter belongs to the letter that stays.
    return f"{words[:kept].rstrip()}…" if kept else ""


def _em(letter: str) -> float:
    if unicodedata.category(letter) in ("Mn", "Me"):
        return 0.0
    if letter in _NARROW or unicodedata.category(letter) == "Cf":
        return _NARROW_EM
    if letter in _WIDE:
        return _WIDE_EM
    if not letter.isascii():
        return _ELSEWHERE_EM
    return _CAPITAL_EM if letter.isupper() else _LOWER_EM
