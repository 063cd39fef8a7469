"""What a correction changed."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.cards.scorecard import Mark, MarkState
from judging.rules.results.difference import VersionLine, line_changes, mark_changes
from judging.rules.round.replay import Row

LINES = st.dictionaries(
    st.integers(1, 8),
    st.tuples(st.integers(1, 4), st.integers(0, 3), st.integers(0, 2)),
    max_size=6,
).map(
    lambda found: [
        VersionLine(entry, place, Decimal(total), {"gear": Decimal(total)}, cents)
        for entry, (place, total, cents) in found.items()
    ]
)


@given(LINES, LINES)
def test_exactly_the_lines_that_differ_are_told_and_lead_from_one_to_the_other(before, after):
    changes = line_changes(before, after)
    lines = {line.entry: line for line in before}
    for change in changes:
        assert change.was != change.now
        assert lines.get(change.entry) == change.was
        lines.pop(change.entry, None)
        if change.now:
            lines[change.entry] = change.now
    assert lines == {line.entry: line for line in after}
    assert sum(change.purse_by for change in changes) == sum(x.purse_cents for x in after) - sum(
        x.purse_cents for x in before
    )


@given(LINES)
def test_a_version_beside_itself_changes_nothing(lines):
    assert line_changes(lines, lines) == ()


def test_every_kind_of_change_is_said():
    D = Decimal
    before = [
        VersionLine(1, 1, D(9), {"gear": D(5), "camp": D(4)}, 500),
        VersionLine(2, 2, D(8), {"gear": D(8)}),
        VersionLine(3, 3, D(7)),
    ]
    after = [
        VersionLine(2, 1, D(8), {"gear": D(8)}, 500),
        VersionLine(1, 2, D(7), {"gear": D(3), "camp": D(4)}),
        VersionLine(4, 3, D(6)),
    ]
    changes = line_changes(before, after)
    assert [(change.entry, change.words) for change in changes] == [
        (2, "from place 2 to place 1"),
        (1, "from place 1 to place 2"),
        (4, "placed 3, not placed before"),
        (3, "was placed 3, is not placed any more"),
    ]
    second = changes[1]
    assert (second.total_by, second.purse_by) == (D(-2), -500)
    assert second.sections == {"gear": (D(5), D(3))}
    assert not changes[0].total_changed
    (stays,) = line_changes([VersionLine(1, 1, D(9))], [VersionLine(1, 1, D(10))])
    assert (stays.words, stays.place_moved) == ("stays at place 1", False)


def test_two_lines_of_one_entry_are_refused():
    with pytest.raises(ValueError, match="Entry 1 has two lines"):
        line_changes([VersionLine(1, 1, Decimal(9)), VersionLine(1, 2, Decimal(8))], [])


def test_marks_given_taken_back_and_changed_are_told():
    zero, unseen = Mark(MarkState.MARKED, Decimal(0)), Mark(MarkState.NOT_INSPECTED)
    rows = [Row(2, 1, "b"), Row(1, 2, "a"), Row(1, 1, "z"), Row(1, 1, "same")]
    before = {rows[0]: zero, rows[1]: None, rows[3]: zero}
    after = {rows[0]: unseen, rows[1]: zero, rows[2]: zero, rows[3]: zero}
    assert mark_changes(before, after) == (
        (rows[2], None, zero),
        (rows[0], zero, unseen),
        (rows[1], None, zero),
    )
