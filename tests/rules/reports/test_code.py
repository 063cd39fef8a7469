"""The code on a paper: what people mistype is noticed, what they type oddly is read."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.rules.code import SIGNS, CodeRefused, check_sign, make_code, printed, read_code

codes = st.binary(min_size=7, max_size=7).map(make_code)


@given(codes)
def test_a_printed_code_is_read_back_however_it_is_typed(code: str) -> None:
    loose = printed(code).lower().replace("0", "o").replace("1", "l").replace("-", " ")
    assert read_code(printed(code)) == code
    assert read_code(f"  {loose} ") == code


def test_every_single_wrong_sign_is_noticed() -> None:
    code = make_code(b"kettles")
    for place in range(len(code)):
        for sign in SIGNS.replace(code[place], ""):
            with pytest.raises(CodeRefused, match="compare"):
                read_code(code[:place] + sign + code[place + 1 :])


@given(codes)
def test_a_code_ends_with_the_check_of_its_body(code: str) -> None:
    assert check_sign(code[:-1]) == code[-1]
    assert check_sign("") == check_sign("0" * len(code)) == SIGNS[0]


@given(codes)
def test_any_two_signs_exchanged_are_noticed(code: str) -> None:
    for one, other in combinations(range(len(code)), 2):
        if code[one] == code[other]:
            continue
        signs = list(code)
        signs[one], signs[other] = signs[other], signs[one]
        with pytest.raises(CodeRefused):
            read_code("".join(signs))


@pytest.mark.parametrize(
    ("typed", "says"),
    [("", "0 were given"), ("ABC", "3 were given"), ("U" * 12, "sign “U”"), ("é" * 12, "“É”")],
)
def test_what_cannot_be_a_code_is_refused_in_words(typed: str, says: str) -> None:
    with pytest.raises(CodeRefused, match=says):
        read_code(typed)


def test_different_randomness_gives_different_codes() -> None:
    made = {make_code(number.to_bytes(7, "big")) for number in range(0, 2000, 2)}
    assert len(made) == 1000


@pytest.mark.parametrize("count", [0, 6, 8])
def test_too_little_or_too_much_randomness_is_refused(count: int) -> None:
    with pytest.raises(ValueError, match="7 random bytes"):
        make_code(bytes(count))
