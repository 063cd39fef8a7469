"""What a judge is asked when a check finds something: plain words, no blame, nothing assumed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping

from judging.rules.results import question_sentences as asks

LONGEST = 400  # letters a question may have
PERCENT = 100
LEAST_SHOWN = 0.05  # of a figure written to one place


def mark_question(wagon: object, row: str, value: str, expected: str) -> str:
    """Ask about one mark.

    Parameters
    ----------
    wagon : object
        The wagon's number.
    row, value, expected : str

    Returns
    -------
    str

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> mark_question(2, "Order and reach", "0", "7.5")[:59]
    'Please check wagon 2, Order and reach: the card says 0. The'
    """
    return _cut(asks.MARK.format(wagon=wagon, row=row, value=value, expected=expected))


def card_question(wagon: object, shift: float) -> str:
    """Ask about a card that stands higher or lower as a whole.

    Parameters
    ----------
    wagon : object
        The wagon's number.
    shift : float [points]
        On the common scale of 0 to 10.

    Returns
    -------
    str

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> card_question(6, -2.14)[:72]
    'Please look at your card of wagon 6 as a whole: it stands about 2.1 poin'
    """
    sentence = asks.CARD_HIGHER if shift > 0 else asks.CARD_LOWER
    return _cut(sentence.format(wagon=wagon, shift=f"{abs(shift):.1f}"))


def swap_question(first: object, second: object, *, pair: bool = False) -> str:
    """Ask whether two cards were exchanged.

    Parameters
    ----------
    first, second : object
        The wagons' numbers.
    pair : bool
        Whether two judges only marked them, so that nobody can tell whose cards.

    Returns
    -------
    str

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> swap_question(2, 7)[:73]
    'Please look at your cards of wagons 2 and 7: each fits the other wagon be'
    >>> "The other judge is asked too." in swap_question(2, 7, pair=True)
    True
    """
    sentence = asks.SWAP_OF_TWO if pair else asks.SWAP
    return _cut(sentence.format(first=first, second=second))


def same_question(wagon: object, mark: float, share: float) -> str:
    """Ask about a card with all but the same mark on every row.

    Parameters
    ----------
    wagon : object
        The wagon's number.
    mark : float [points]
        On the common scale of 0 to 10.
    share : float
        Share of the rows that carry it.

    Returns
    -------
    str

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> same_question(1, 7.0, 0.9)[:77]
    'Please look at your card of wagon 1: 90 % of its rows have the mark 7 of ten.'
    """
    sentence = asks.SAME_ON_ALL if share >= 1.0 else asks.SAME_ON_MOST
    return _cut(sentence.format(wagon=wagon, mark=f"{mark:g}", share=f"{share * PERCENT:.0f}"))


def day_question(check: str, size: float) -> str:
    """Ask about a habit of the whole day; it asks for no mark to be changed.

    Parameters
    ----------
    check : {"severity", "spread", "consistency", "drift", "tiring", "order"}
    size : float
        As the check states it.

    Returns
    -------
    str

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> day_question("severity", 1.23)[:82]
    'Over the day your marks stand 1.2 points a row higher than the other judges’ marks'
    """
    more, less = asks.DAY[check]
    above = size - 1 if check in ("consistency", "tiring", "spread") else size
    return _cut((more if above > 0 else less).format(size=_figure(check, size)))


def habit_words(check: str, size: float) -> str:
    """Say of a judge what a habit comes to, after the judge's name.

    Parameters
    ----------
    check : {"severity", "spread", "consistency", "drift", "tiring"}
    size : float
        As the check states it.

    Returns
    -------
    str

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> habit_words("drift", -0.42)
    'became stricter through the day beside the others, by 0.4 points a row each hour'
    >>> habit_words("spread", 1.3)
    'sets the wagons 30 % wider apart than the panel does'
    """
    return _HABIT[check](size)


def clean_show_words(alpha: float, n_checks: int) -> str:
    """Say how often the checks raise something in a show in which nothing is wrong.

    Parameters
    ----------
    alpha : float
        Of each check by itself.
    n_checks : int

    Returns
    -------
    str

    Notes
    -----
    1 - (1 - alpha)^n for checks that know nothing of each other; ours share their marks, so it is
    a bound that is nearly met.

    Source
    ------
    Šidák, Z., Journal of the American Statistical Association 62, 626-633, 1967 (from memory).

    Examples
    --------
    >>> clean_show_words(0.05, 10)[-64:]
    'the 10 checks together raise something in up to 40 of 100 shows.'
    """
    together = PERCENT * (1.0 - (1.0 - alpha) ** n_checks)
    return (
        f"In a clean show each check by itself raises something in up to {PERCENT * alpha:g} of "
        f"100 shows; the {n_checks} checks together raise something in up to {together:.0f} of "
        "100 shows."
    )


def asked_about(marks: Iterable[tuple[int, str, str]]) -> str:
    """Fingerprint the marks a question is about: the same finding is asked once.

    Parameters
    ----------
    marks : iterable of (int, str, str)
        Entry, code of the row, and the mark as written; the order plays no part.

    Returns
    -------
    str
        64 hex digits; other marks give others, so that they may be asked about anew.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> asked_about([(1, "hub", "7"), (1, "tire", "8")]) == asked_about(
    ...     [(1, "tire", "8"), (1, "hub", "7")])
    True
    """
    return hashlib.sha256(json.dumps(sorted(marks)).encode()).hexdigest()


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"


def _times(ratio: float) -> str:
    return f"{ratio:.1f} times"


def _apart(ratio: float) -> str:
    way = "wider apart" if ratio > 1.0 else "less far apart"
    return f"{abs(ratio - 1.0) * PERCENT:.0f} % {way}"


def _figure(check: str, size: float) -> str:
    """A habit's size as its question writes it."""
    if check == "spread":
        return f"{abs(size - 1.0) * PERCENT:.0f}"
    return f"{size:.1f}" if check in ("consistency", "tiring") else _number(size)


def _number(size: float) -> str:
    """A size in points; small ones to two places, so that none is written as nought."""
    return f"{abs(size):.{1 if abs(size) >= LEAST_SHOWN else 2}f}"


def _points(size: float) -> str:
    return f"{_number(size)} points"


def _way(size: float, more: str, less: str) -> str:
    return more if size > 0 else less


_Words = Mapping[str, Callable[[float], str]]
_HABIT: _Words = {
    "severity": lambda size: (
        f"marks {_points(size)} a row {_way(size, 'higher', 'lower')} than the other judges of the "
        "same wagons"
    ),
    "spread": lambda size: f"sets the wagons {_apart(size)} than the panel does",
    "consistency": lambda size: (
        f"goes along with the panel {_way(size - 1, 'less', 'more')} steadily from row to row: "
        f"{_times(size)} the other judges’ noise"
    ),
    "drift": lambda size: (
        f"became {_way(size, 'milder', 'stricter')} through the day beside the others, by "
        f"{_points(size)} a row each hour"
    ),
    "tiring": lambda size: (
        f"marked {_way(size - 1, 'less', 'more')} steadily late than early: {_times(size)} the "
        "noise"
    ),
}
