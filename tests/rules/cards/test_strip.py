"""The strip of one row: every mark on its place, every label readable."""

from __future__ import annotations

from decimal import Decimal
from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from judging.rules.cards.norming import RowSpread
from judging.rules.cards.scorecard import Criterion
from judging.rules.cards.strip import LABEL_HEIGHT, LETTER_WIDTH, MARGIN, WIDTH, Strip, strip


def drawn(marks: dict[str, int], *, most: int = 10, step: int = 1) -> Strip:
    row = Criterion("a", "A", Decimal(most), Decimal(step))
    pairs = sorted(((name, Decimal(m)) for name, m in marks.items()), key=lambda pair: pair[1])
    found = strip(RowSpread(row, tuple(pairs)))
    assert found is not None
    return found


def test_marks_stand_where_the_scale_says():
    found = drawn({"J1": 0, "J2": 5, "J3": 10})
    assert found.dots == (MARGIN, WIDTH / 2, WIDTH - MARGIN)
    assert (found.lowest_x, found.middle_x, found.highest_x) == found.dots
    assert found.ends == ((MARGIN, "0"), (WIDTH - MARGIN, "10"))
    assert len(found.ticks) == 11


def test_equal_marks_share_a_dot_and_stack_their_labels():
    found = drawn({"J1": 7, "J2": 7, "J3": 7})
    assert len(found.dots) == 1
    heights = [label.y for label in found.labels]
    assert [high - low for low, high in zip(heights[1:], heights, strict=False)] == [
        LABEL_HEIGHT,
        LABEL_HEIGHT,
    ]
    assert min(heights) >= LABEL_HEIGHT - 3
    assert drawn({"J1": 7}).height == found.height - 2 * LABEL_HEIGHT


def test_steps_too_many_to_tell_apart_are_not_drawn():
    assert drawn({"J1": 50}, most=100).ticks == ()
    assert len(drawn({"J1": 50}, most=100, step=5).ticks) == 21


def test_pass_and_fail_are_named_at_the_ends():
    assert [text for _, text in drawn({"J1": 1}, most=1).ends] == ["fail", "pass"]


def test_without_a_number_there_is_no_strip():
    row = Criterion("a", "A", Decimal(10), Decimal(1))
    assert strip(RowSpread(row, (), not_inspected=("J1",))) is None


@given(st.lists(st.integers(0, 50), min_size=1, max_size=12))
def test_no_label_touches_another_or_leaves_the_drawing(marks: list[int]):
    found = drawn({f"J{n}": m for n, m in enumerate(marks, start=1)}, most=50)
    boxes = [
        (label.x - len(label.text) * LETTER_WIDTH / 2, label.x + len(label.text) * LETTER_WIDTH / 2)
        for label in found.labels
    ]
    assert all(left >= 0 and right <= found.width for left, right in boxes)
    assert all(0 < label.y < found.line_y for label in found.labels)
    for (one, (left, right)), (other, (start, end)) in combinations(
        zip(found.labels, boxes, strict=True), 2
    ):
        assert one.y != other.y or right <= start + 1e-9 or end <= left + 1e-9
