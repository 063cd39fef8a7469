"""How large a photo may be."""

from __future__ import annotations

import pytest

from showrun.shows.rules.photos import (
    BYTES_MAX,
    PIXELS_MAX,
    reason_against_bytes,
    reason_against_pixels,
)


@pytest.mark.parametrize("size_bytes", [0, 1, BYTES_MAX])
def test_a_photo_up_to_the_limit_is_taken(size_bytes: int):
    assert reason_against_bytes(size_bytes) is None


def test_a_byte_more_is_too_many_and_says_how_many_may_be():
    assert "8 MB" in (reason_against_bytes(BYTES_MAX + 1) or "")


@pytest.mark.parametrize("sides", [(1, 1), (8000, 5000), (PIXELS_MAX, 1), (5000, 8000)])
def test_a_picture_of_forty_megapixels_is_opened_whatever_its_shape(sides: tuple[int, int]):
    assert reason_against_pixels(*sides) is None


@pytest.mark.parametrize("sides", [(8001, 5000), (30_000, 30_000), (1, PIXELS_MAX + 1)])
def test_a_larger_one_is_not(sides: tuple[int, int]):
    assert "40 megapixels" in (reason_against_pixels(*sides) or "")
