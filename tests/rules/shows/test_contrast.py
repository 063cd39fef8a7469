"""Contrast against printed figures."""

from __future__ import annotations

import pytest

from showrun.shows.rules.contrast import contrast, luminance, mixed


@pytest.mark.parametrize(
    ("one", "other", "printed", "digits"),
    [
        # W3C, WCAG 2.2, definition of contrast ratio: "can range from 1 to 21".
        ("#000000", "#FFFFFF", 21.0, 6),
        ("#8C3B1F", "#8C3B1F", 1.0, 6),
        # W3C, technique G183, example 2: links of this blue in black text.
        ("#3366CC", "#000000", 3.9, 1),
        # The greys on white at either side of 4.5, widely printed with both figures.
        ("#767676", "#FFFFFF", 4.54, 2),
        ("#777777", "#FFFFFF", 4.48, 2),
        # The greys next to the other two limits, as printed beside them.
        ("#949494", "#FFFFFF", 3.03, 2),
        ("#595959", "#FFFFFF", 7.0, 1),
    ],
)
def test_a_pair_has_the_contrast_that_is_printed(one, other, printed, digits):
    assert round(contrast(one, other), digits) == printed
    assert contrast(other, one) == contrast(one, other)


@pytest.mark.parametrize(
    ("colour", "weight"), [("#F00", 0.2126), ("#00FF00", 0.7152), ("#0000ff", 0.0722)]
)
def test_each_full_primary_has_the_weight_of_the_definition(colour, weight):
    assert luminance(colour) == pytest.approx(weight)


def test_dark_colours_are_on_the_straight_part_of_the_curve():
    assert luminance("#0A0A0A") == pytest.approx(10 / 255 / 12.92)
    assert luminance("#0B0B0B") > 11 / 255 / 12.92


def test_what_is_no_colour_is_refused():
    for wrong in ("red", "#12", "#12345", "#GGGGGG", "rgb(0 0 0)", "#FFF "):
        with pytest.raises(ValueError, match="is not written as"):
            luminance(wrong)
    with pytest.raises(ValueError, match="between 0 and 1"):
        mixed("#000", 9, "#FFF")


def test_a_mixture_lies_between_in_every_channel():
    assert mixed("#A01B1B", 0.09, "#FFFDF8") == "#F6E9E4"
    assert mixed("#A01B1B", 1, "#FFFDF8") == "#A01B1B"
