"""Cells of a list that a spreadsheet must read as text, never as a formula."""

from __future__ import annotations

import re
from unicodedata import normalize

# What makes a spreadsheet reckon instead of read; a sign of another width counts as well.
FORMULA_SIGNS = "=+-@"
# Where a cell may begin: at the start, and after what another country's list is cut at.
_CUT = re.compile(r"(?:^|(?<=[\n\r\t,;|\"]))")
# At the very start these make a formula too; further on they only part one line from the next.
_STARTS_ONLY = "\t\r\n\0"
_BEFORE_A_SIGN = re.compile(r"[ '\u00a0\u200b\u200e\u200f\u2060\ufeff]*")


def _reckons(text: str, begin: int, *, first: bool) -> bool:
    seen = _BEFORE_A_SIGN.match(text, begin)
    end = seen.end() if seen else begin
    sign = normalize("NFKC", text[end : end + 1])
    return sign != "" and sign[0] in FORMULA_SIGNS + (_STARTS_ONLY if first else "")


def safe_cell(text: str) -> str:
    """Return the text with an apostrophe wherever a spreadsheet would read a formula.

    For texts only: a number or a date goes into its cell as what it is.

    Parameters
    ----------
    text : str
        What the cell says.

    Returns
    -------
    str
        The same, or with an apostrophe before each place where a cell may begin and a formula
        would; `plain_cell` gives the first text back.

    Source
    ------
    OWASP Application Security Verification Standard 5.0, 1.2.10: an apostrophe before equals,
    plus, minus, at, tab and the null sign at the start of a cell. OWASP Foundation, "CSV
    Injection" (from memory): carriage returns and signs of full width as well; separators and
    quotes may begin a new cell.

    Examples
    --------
    >>> safe_cell("=1+1"), safe_cell("＝1"), safe_cell("-5"), safe_cell("Tin Sparrow")
    ("'=1+1", "'＝1", "'-5", 'Tin Sparrow')
    >>> safe_cell("Moor;=1+1")
    "Moor;'=1+1"
    """
    return _CUT.sub(
        lambda at: "'" if _reckons(text, at.start(), first=at.start() == 0) else "", text
    )


def plain_cell(text: str) -> str:
    """Return what `safe_cell` was given: only an apostrophe that guards a formula goes.

    Parameters
    ----------
    text : str
        What stands in the cell.

    Source
    ------
    The inverse of `safe_cell`: our own rule.

    Examples
    --------
    >>> plain_cell("'=1+1"), plain_cell("'Round Oak"), plain_cell(safe_cell("'=1"))
    ('=1+1', "'Round Oak", "'=1")
    """
    kept, last = [], 0
    for at in _CUT.finditer(text):
        begin = at.start()
        if text[begin : begin + 1] == "'" and _reckons(text, begin + 1, first=begin == 0):
            kept.append(text[last:begin])
            last = begin + 1
    return "".join([*kept, text[last:]])
