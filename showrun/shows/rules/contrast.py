"""How well a text or a border stands out: relative luminance and contrast ratio of two colours."""

from __future__ import annotations

import re

# What must be reached at least: text, a control's border, and text that is read in full sun.
TEXT_RATIO = 4.5
BORDER_RATIO = 3.0
SUN_RATIO = 7.0

_HEX = re.compile(r"#([0-9A-Fa-f]{3}|[0-9A-Fa-f]{6})")


def _channels(colour: str) -> tuple[int, int, int]:
    found = _HEX.fullmatch(colour)
    if not found:
        raise ValueError(f"{colour!r} is not written as #RGB or #RRGGBB.")
    digits = found[1] if len(found[1]) == 6 else "".join(2 * one for one in found[1])
    red, green, blue = (int(digits[at : at + 2], 16) for at in (0, 2, 4))
    return red, green, blue


def luminance(colour: str) -> float:
    """Say how bright a colour is, from 0 (black) to 1 (white).

    Parameters
    ----------
    colour : str
        An sRGB colour as the stylesheet writes it, #RGB or #RRGGBB.

    Raises
    ------
    ValueError
        When the colour is written in another way.

    Source
    ------
    W3C, Web Content Accessibility Guidelines 2.2, definition of relative luminance. The definition
    had 0.03928 where sRGB has 0.04045; no colour of 8 bits lies between.

    Examples
    --------
    >>> round(luminance("#FFF"), 4), luminance("#000000")
    (1.0, 0.0)
    >>> round(luminance("#FF0000"), 4)
    0.2126
    """
    linear = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in (channel / 255 for channel in _channels(colour))
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Say how much two colours differ in brightness, from 1 (not at all) to 21.

    Parameters
    ----------
    one, other : str
        Colours as for `luminance`; which comes first does not matter.

    Source
    ------
    W3C, Web Content Accessibility Guidelines 2.2, definition of contrast ratio, and 1.4.3 (text
    4.5), 1.4.6 (text 7), 1.4.11 (borders of controls 3).

    Examples
    --------
    >>> contrast("#FFFFFF", "#000000")
    21.0
    >>> round(contrast("#767676", "#FFF"), 2)
    4.54
    """
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def mixed(colour: str, share: float, into: str) -> str:
    """Return the colour a browser makes of `color-mix(in srgb, colour share%, into)`.

    Parameters
    ----------
    colour, into : str
        Colours as for `luminance`.
    share : float
        How much of the first there is [0 to 1].

    Raises
    ------
    ValueError
        When the share lies outside, or a colour is written in another way.

    Source
    ------
    W3C, CSS Color Module Level 5, 3 (`color-mix`): the channels are averaged by their shares.

    Examples
    --------
    >>> mixed("#000000", 0.5, "#FFFFFF")
    '#808080'
    >>> mixed("#A01B1B", 0.0, "#FFFDF8")
    '#FFFDF8'
    """
    if not 0 <= share <= 1:
        raise ValueError(f"A share lies between 0 and 1, not at {share}.")
    parts = [
        int(share * a + (1 - share) * b + 0.5)
        for a, b in zip(_channels(colour), _channels(into), strict=True)
    ]
    return "#" + "".join(f"{part:02X}" for part in parts)
