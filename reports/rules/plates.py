"""How large the number on a number plate is, and from how far it is read."""

from __future__ import annotations

from dataclasses import dataclass

# Of our font, as a share of its size: how wide a digit is at most, and how tall.
DIGIT_WIDTH, DIGIT_HEIGHT = 0.66, 0.72
# A sheet is no taller; a larger number would push the wagon's name off it [pt].
LARGEST_PT = 540
FIELD_PT = 440
POINTS_PER_INCH = 72
# Feet from which an inch of letter is read with ease [ft/in].
FEET_PER_INCH = 10


@dataclass(frozen=True)
class PlateNumber:
    """The size to print a number in [pt], and from how far it is read with ease [ft]."""

    size_pt: int
    reads_at_ft: int

    @property
    def baseline_pt(self) -> float:
        """Where its foot stands on a field of `FIELD_PT`, so that it is in the middle [pt]."""
        return round((FIELD_PT + self.size_pt * DIGIT_HEIGHT) / 2, 1)


def plate_number(number: int, *, width_pt: float) -> PlateNumber:
    """Size a wagon's number as large as the sheet takes it.

    Parameters
    ----------
    number : int
        The entry's number.
    width_pt : float [pt]
        How wide the sheet is between its margins.

    Returns
    -------
    PlateNumber

    Raises
    ------
    ValueError
        When the number is below 1.

    Source
    ------
    Common practice, no source: an inch of letter for every ten feet; the digits were measured
    in the font.

    Examples
    --------
    >>> plate_number(7, width_pt=720), plate_number(104, width_pt=720)
    (PlateNumber(size_pt=540, reads_at_ft=54), PlateNumber(size_pt=363, reads_at_ft=36))
    """
    if number < 1:
        raise ValueError("A wagon's number counts from 1.")
    size = min(LARGEST_PT, int(width_pt / (len(str(number)) * DIGIT_WIDTH)))
    return PlateNumber(size, int(size * DIGIT_HEIGHT / POINTS_PER_INCH * FEET_PER_INCH))
