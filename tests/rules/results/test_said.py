"""How an announcer says numbers, places and money."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from entries.rules.money_words import dollars
from judging.rules.results.said import money_said, number_said, place_said

SMALL = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen "
    "fifteen sixteen seventeen eighteen nineteen"
)
TENS = "twenty thirty forty fifty sixty seventy eighty ninety"
WORTH = {word: n for n, word in enumerate(SMALL.split())}
WORTH |= {word: 10 * n for n, word in enumerate(TENS.split(), start=2)}
GROUPS = {"thousand": 10**3, "million": 10**6, "billion": 10**9, "trillion": 10**12}


def heard(words: str) -> int:
    """Understand a number that was said."""
    whole = part = 0
    for word in words.replace("-", " ").split():
        if word == "hundred":
            part *= 100
        elif word in GROUPS:
            whole, part = whole + part * GROUPS[word], 0
        else:
            part += WORTH[word]
    return whole + part


@given(st.one_of(st.integers(0, 2000), st.integers(0, 10**15 - 1)))
def test_who_hears_a_number_knows_it(number):
    assert heard(number_said(number)) == number


@pytest.mark.parametrize("number", [-1, 10**15])
def test_what_is_not_said_is_refused(number):
    with pytest.raises(ValueError, match="not said"):
        number_said(number)


@pytest.mark.parametrize(
    ("place", "sharing", "said"),
    [
        (1, 1, "First place"),
        (5, 1, "Fifth place"),
        (12, 3, "Twelfth place, shared by three"),
        (14, 1, "Fourteenth place"),
        (21, 1, "Twenty-first place"),
        (40, 2, "Fortieth place, shared by two"),
        (101, 1, "One hundred first place"),
    ],
)
def test_places_are_said_as_ordinals(place, sharing, said):
    assert place_said(place, sharing) == said


def test_there_is_no_place_nought():
    with pytest.raises(ValueError, match="no place 0"):
        place_said(0)


@pytest.mark.parametrize(
    ("cents", "written", "said"),
    [
        (0, "$0.00", "zero dollars"),
        (100, "$1.00", "one dollar"),
        (7, "$0.07", "seven cents"),
        (45_000, "$450.00", "four hundred fifty dollars"),
        (
            123_456_789,
            "$1,234,567.89",
            "one million two hundred thirty-four thousand five hundred sixty-seven dollars and "
            "eighty-nine cents",
        ),
    ],
)
def test_money_is_written_and_said(cents, written, said):
    assert (dollars(cents), money_said(cents)) == (written, said)
