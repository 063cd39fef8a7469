"""Holding, cooking and cooling temperatures: what a reading calls for, never that food is safe."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

EDITION = "Food Code, 2022 edition"
LOCAL_FIRST = N_("The local health department's rules come first; these figures are for reference.")
COLDEST_F, HOTTEST_F = Decimal(-40), Decimal(750)
TENTH_F = Decimal("0.1")


class Kind(StrEnum):
    """What is measured."""

    AT_LEAST = N_("at least")
    AT_MOST = N_("at most")


@dataclass(frozen=True)
class Figure:
    """One figure of a food code.

    Parameters
    ----------
    code
        Its short name.
    name
        What is measured.
    kind
        Whether the reading must reach the figure or stay under it.
    limit_f
        The figure [degrees Fahrenheit].
    place
        Where it stands in the code.
    within
        The time it must be kept or reached in, in words; "" where there is none.
    """

    code: str
    name: str
    kind: Kind
    limit_f: Decimal
    place: str
    within: str = ""

    @property
    def sentence(self) -> str:
        """The figure in one line, both scales."""
        name, kind = _(self.name), _(self.kind.value)
        said = f"{name}: {kind} {both(self.limit_f)}"
        return ", ".join((said, _(self.within))) if self.within else said


def _figure(code: str, name: str, kind: Kind, f: int, place: str, within: str = "") -> Figure:
    return Figure(code, name, kind, Decimal(f), place, within)


FIGURES: Mapping[str, Figure] = {
    figure.code: figure
    for figure in (
        _figure("hot_holding", N_("Hot holding"), Kind.AT_LEAST, 135, "3-501.16"),
        _figure("cold_holding", N_("Cold holding"), Kind.AT_MOST, 41, "3-501.16"),
        _figure("whole_meat", N_("Cooked: whole meat, fish, eggs served at once"), Kind.AT_LEAST,
                145, "3-401.11(A)(1)", N_("for 15 s")),
        _figure("ground_meat", N_("Cooked: ground, tenderised or injected meat"), Kind.AT_LEAST,
                155, "3-401.11(A)(2)", N_("for 17 s")),
        _figure("poultry", N_("Cooked: poultry, stuffed meat, wild game"), Kind.AT_LEAST, 165,
                "3-401.11(A)(3)", N_("at once")),
        _figure("vegetables", N_("Cooked: beans and potatoes for hot holding"), Kind.AT_LEAST, 135,
                "3-401.13"),
        _figure("cooling_first", N_("Cooling, first two hours"), Kind.AT_MOST, 70, "3-501.14",
                N_("within 2 h of 135 °F")),
        _figure("cooling_whole", N_("Cooling, six hours in all"), Kind.AT_MOST, 41, "3-501.14",
                N_("within 6 h of 135 °F")),
        _figure("reheating", N_("Reheated for hot holding"), Kind.AT_LEAST, 165, "3-403.11",
                N_("for 15 s, within 2 h")),
    )
}  # fmt: skip

ACTS = {
    "hot_holding": "Reheat it or take it off the line now.",
    "cold_holding": "Put it on ice or take it off the line now.",
    "cooling_first": "Reheat it and cool it anew, or throw it out.",
    "cooling_whole": "Throw it out, or ask the health inspector now.",
}
ACT = "Cook on, and measure again before it is served."


@dataclass(frozen=True)
class Reading:
    """What a reading calls for."""

    act_now: bool
    sentence: str


def figures_of(changed: Mapping[str, Decimal | int | str]) -> dict[str, Figure]:
    """Return the figures of a show: the defaults, and what its authority wants instead.

    Parameters
    ----------
    changed
        From a figure's short name to degrees Fahrenheit.

    Returns
    -------
    dict
        Every figure by its short name, in the order they are listed.

    Raises
    ------
    ValueError
        For a figure there is not, or degrees nobody measures in a kitchen.

    Source
    ------
    FDA Food Code, as adopted in S.C. Code Regs. 61-25, WAC 246-215, Wyoming ch. 3 and Georgia
    290-5-14 (read there); 3-403.11 and the year of the edition from memory.

    Example
    -------
    >>> figures_of({})["hot_holding"].sentence
    'Hot holding: at least 135 °F (57.2 °C)'
    >>> figures_of({"hot_holding": 140})["hot_holding"].limit_f
    Decimal('140')
    """
    found = dict(FIGURES)
    for code, degrees in changed.items():
        if code not in found:
            raise ValueError(f"there is no figure called {code}")
        limit = Decimal(degrees)
        if not (limit.is_finite() and COLDEST_F <= limit <= HOTTEST_F):
            raise ValueError(
                _("{limit} °F is outside {lowest} to {highest} °F").format(
                    limit=limit, lowest=COLDEST_F, highest=HOTTEST_F
                )
            )
        old = found[code]
        found[code] = Figure(old.code, old.name, old.kind, limit, old.place, old.within)
    return found


def judge_reading(figure: Figure, reading_f: Decimal) -> Reading:
    """Say whether a reading is as the figure wants it, or what to do now.

    Parameters
    ----------
    figure
        What was measured, and the figure that holds at this show.
    reading_f
        The reading [degrees Fahrenheit].

    Returns
    -------
    Reading
        Whether to act, with a sentence. It never says that food is safe: one reading at one
        place does not show that.

    Raises
    ------
    ValueError
        For degrees nobody measures in a kitchen.

    Source
    ------
    As `figures_of`; common practice, no source (what to do).

    Example
    -------
    >>> judge_reading(FIGURES["hot_holding"], Decimal(128)).sentence
    'Act now: 128 °F (53.3 °C), 7 °F under 135 °F (57.2 °C). Reheat it or take it off the line now.'
    >>> judge_reading(FIGURES["cold_holding"], Decimal("40.5")).sentence
    'As wanted: 40.5 °F (4.7 °C), at most 41 °F (5.0 °C).'
    """
    if not (reading_f.is_finite() and COLDEST_F <= reading_f <= HOTTEST_F):
        raise ValueError(
            _("{reading} °F is outside {lowest} to {highest} °F").format(
                reading=reading_f, lowest=COLDEST_F, highest=HOTTEST_F
            )
        )
    off = figure.limit_f - reading_f
    if figure.kind is Kind.AT_MOST:
        off = -off
    limit = both(figure.limit_f)
    if off <= 0:
        return Reading(False, f"As wanted: {both(reading_f)}, {figure.kind.value} {limit}.")
    side = "under" if figure.kind is Kind.AT_LEAST else "over"
    act = ACTS.get(figure.code, ACT)
    return Reading(True, f"Act now: {both(reading_f)}, {_plain(off)} °F {side} {limit}. {act}")


def both(degrees_f: Decimal) -> str:
    """Return degrees in both scales.

    Parameters
    ----------
    degrees_f
        Degrees Fahrenheit.

    Returns
    -------
    str
        Fahrenheit as given, Celsius to a tenth.

    Source
    ------
    Arithmetic.

    Example
    -------
    >>> both(Decimal(135)), both(Decimal(41))
    ('135 °F (57.2 °C)', '41 °F (5.0 °C)')
    """
    return f"{_plain(degrees_f)} °F ({celsius(degrees_f)} °C)"


def celsius(degrees_f: Decimal) -> Decimal:
    """Return degrees Celsius, to a tenth.

    Parameters
    ----------
    degrees_f
        Degrees Fahrenheit.

    Returns
    -------
    Decimal
        Degrees Celsius.

    Source
    ------
    Arithmetic.

    Example
    -------
    >>> celsius(Decimal(212))
    Decimal('100.0')
    """
    return ((degrees_f - 32) * 5 / 9).quantize(TENTH_F)


def fahrenheit(degrees_c: Decimal) -> Decimal:
    """Return degrees Fahrenheit, to a tenth.

    Parameters
    ----------
    degrees_c
        Degrees Celsius.

    Returns
    -------
    Decimal
        Degrees Fahrenheit.

    Source
    ------
    Arithmetic.

    Example
    -------
    >>> fahrenheit(Decimal("57.2"))
    Decimal('135.0')
    """
    return (degrees_c * 9 / 5 + 32).quantize(TENTH_F)


def _plain(degrees: Decimal) -> str:
    return format(degrees.normalize(), "f")
