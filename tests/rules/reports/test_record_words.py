"""What a record of results says nobody changed, and how its pictures and tables are parted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.rules.record_words import in_pieces, side_by_side, unchanged_words


@dataclass(frozen=True)
class Picture:
    lines: tuple[int, ...]
    height: float


def draw(lines: Sequence[int]) -> Picture | None:
    return Picture(tuple(lines), float(sum(lines)))


@given(st.lists(st.integers(1, 30), max_size=40), st.integers(10, 100))
def test_pieces_hold_every_line_once_in_order_and_fit_where_they_can(
    lines: list[int], tallest: int
) -> None:
    pieces = in_pieces(lines, draw, tallest)
    assert [line for piece in pieces for line in piece.lines] == lines
    assert all(piece.height <= tallest or len(piece.lines) == 1 for piece in pieces)


def test_nothing_to_draw_is_no_picture() -> None:
    assert in_pieces([], draw, 5) == []
    assert in_pieces([1, 2], lambda _: None, 5) == []


@given(st.lists(st.integers(), max_size=40), st.integers(1, 12))
def test_tables_hold_every_column_once_and_are_about_as_wide_as_each_other(
    columns: list[int], most: int
) -> None:
    tables = side_by_side(columns, most)
    assert [column for table in tables for column in table] == columns
    assert all(0 < len(table) <= most for table in tables)
    assert len(tables) == -(-len(columns) // most)


def test_a_page_without_room_is_refused() -> None:
    with pytest.raises(ValueError, match="room for one column"):
        side_by_side([1], 0)


@pytest.mark.parametrize(
    ("asked", "corrected", "sentence"),
    [
        (0, 0, "No check changed a mark. No question was put to a judge about this class."),
        (1, 0, "No check changed a mark. One question was put to judges; no mark was corrected."),
        (7, 3, "No check changed a mark. 7 questions were put to judges; a judge corrected a mark "
         "in 3."),
    ],
)  # fmt: skip
def test_questions_are_counted(asked: int, corrected: int, sentence: str) -> None:
    said = unchanged_words(asked=asked, corrected=corrected, missing=0, adjusting=False)
    assert said[0] == sentence
    assert not any("missing" in line for line in said)


def test_missing_cards_and_severity_are_told_as_they_were() -> None:
    said = unchanged_words(asked=0, corrected=0, missing=2, adjusting=True)
    assert "A missing card counts as no mark, never as zero." in said
    assert any(line.startswith("Severity was taken out") for line in said)
    other = unchanged_words(asked=0, corrected=0, missing=0, adjusting=False)
    assert any("was not taken out" in line for line in other)
