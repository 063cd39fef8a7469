"""Cells that no spreadsheet reckons with, and that come back as they were."""

from __future__ import annotations

import csv
import io
from unicodedata import normalize

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from entries.rules.sheet_cells import plain_cell, safe_cell

SIGNS = "=+-@＝＋－＠\t\r\n\0"
# Mostly of what matters, so that a search of a few hundred texts meets all of it.
TEXTS = st.text(st.sampled_from(SIGNS + "' ;,|\"a1\u00a0\ufeff") | st.characters(codec="utf-8"))


@pytest.mark.parametrize("sign", list(SIGNS))
def test_each_sign_that_begins_a_formula_gets_an_apostrophe(sign: str) -> None:
    assert safe_cell(f"{sign}1") == f"'{sign}1"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "Tin Sparrow",
        "'Round Oak",
        "a=1",
        "rose-bush",
        "1-2",
        "cook@showrun.example",
        "Two\r\n\r\nlines",
    ],
)
def test_plain_words_stay_as_they_are(text: str) -> None:
    assert safe_cell(text) == text
    assert plain_cell(text) == text


@pytest.mark.parametrize("text", [" =1", "\u00a0=1", "\ufeff=1", "'=1", " ' =1"])
def test_what_cannot_be_seen_before_the_sign_does_not_hide_it(text: str) -> None:
    assert safe_cell(text) == "'" + text


@given(TEXTS)
@example("''=1")
@example(";'=1")
@example("\n\n=1")
def test_a_cell_comes_back_as_it_was(text: str) -> None:
    assert plain_cell(safe_cell(text)) == text


@given(TEXTS)
def test_no_cell_that_goes_out_begins_a_formula(text: str) -> None:
    cell = safe_cell(text)
    assert normalize("NFKC", cell.lstrip(" \u00a0\ufeff")[:1]) not in {*"=+-@\t\r\n\0"}


@given(TEXTS, st.sampled_from(";\t|,"))
def test_nor_where_the_list_is_cut_at_another_sign(text: str, cut: str) -> None:
    kept = io.StringIO()
    csv.writer(kept, quoting=csv.QUOTE_ALL).writerow([safe_cell(text)])
    for piece in (
        kept.getvalue().replace("\r", "\n").replace("\n", cut).replace('"', cut).split(cut)
    ):
        assert normalize("NFKC", piece.lstrip(" \u00a0\ufeff")[:1]) not in {*"=+-@"}
