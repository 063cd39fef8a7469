"""Places and the tie ladder."""

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.results.placing import (
    Placing,
    borda,
    competition_ranks,
    place,
    rung_proofs,
)

# Few different values, written in different ways, so that ties are common.
POINTS = st.sampled_from([Decimal(text) for text in ("9", "9.0", "9.01", "8.99", "10", "1E+1")])


@given(st.lists(POINTS, max_size=12))
def test_place_is_one_more_than_the_number_of_better_ones(totals: list[Decimal]) -> None:
    better = [1 + sum(other > total for other in totals) for total in totals]
    assert competition_ranks(totals) == better


@given(st.lists(st.tuples(POINTS, POINTS), max_size=12))
def test_rungs_are_compared_in_turn(keys: list[tuple[Decimal, Decimal]]) -> None:
    better = [
        1 + sum(a > total or (a == total and b > rung) for a, b in keys) for total, rung in keys
    ]
    assert competition_ranks(keys) == better


def test_totals_are_compared_exactly() -> None:
    """0.1 + 0.2 is 0.3 here, and a difference that a float cannot hold still decides."""
    assert competition_ranks([Decimal("0.1") + Decimal("0.2"), Decimal("0.3")]) == [1, 1]
    assert competition_ranks([Decimal("1.00000000000000000001"), Decimal(1)]) == [1, 2]


@pytest.mark.parametrize(
    ("keys", "sentence"),
    [
        ([Decimal(1), None], "without a total"),
        ([(Decimal(1), None)], "without a total"),
        ([Decimal(1), 0.5], "floats are never placed"),
        ([Decimal("NaN")], "not a finite number"),
        ([Decimal(1), (Decimal(1), Decimal(2))], "same number of rungs"),
    ],
)
def test_what_cannot_be_ranked_is_refused(keys: Any, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        competition_ranks(keys)


def decimals(row: dict[str, int]) -> dict[str, Decimal]:
    return {section: Decimal(points) for section, points in row.items()}


TOTAL = {1: Decimal(90), 2: Decimal(90), 3: Decimal(95), 4: Decimal("90.0"), 5: Decimal(90)}
BY_SECTION = {
    1: decimals({"trail": 40, "camp": 20, "food": 30}),
    2: decimals({"trail": 40, "camp": 25, "food": 25}),
    3: decimals({"trail": 35, "camp": 30, "food": 30}),
    4: decimals({"trail": 45, "camp": 15, "food": 30}),
    5: decimals({"trail": 40, "camp": 20, "food": 30}),
}


def test_the_ladder_decides_rung_by_rung() -> None:
    assert place(TOTAL, BY_SECTION, ("trail", "camp")) == (
        Placing(3, 1, Decimal(95), (), None),
        Placing(4, 2, Decimal(90), (), "trail"),
        Placing(2, 3, Decimal(90), (), "camp"),
        # Parted from 4 on the trail and from 2 in camp; nothing parts 1 from 5.
        Placing(1, 4, Decimal(90), (5,), "camp"),
        Placing(5, 4, Decimal(90), (1,), "camp"),
    )


def test_without_a_ladder_equal_totals_share_the_place() -> None:
    placings = place(TOTAL, {}, ())
    assert [(p.entry, p.place, p.tied_with) for p in placings] == [
        (3, 1, ()),
        (1, 2, (2, 4, 5)),
        (2, 2, (1, 4, 5)),
        (4, 2, (1, 2, 5)),
        (5, 2, (1, 2, 4)),
    ]
    assert {p.decided_by for p in placings} == {None}


def test_place_of_no_entries_is_empty() -> None:
    assert place({}, {}, ("trail",)) == ()


@given(st.lists(st.tuples(POINTS, POINTS, POINTS), min_size=1, max_size=10), st.randoms())
def test_placings_hold_together(rows: list[tuple[Decimal, ...]], shuffler: Any) -> None:
    total = {entry: row[0] for entry, row in enumerate(rows)}
    by_section = {entry: {"a": row[1], "b": row[2]} for entry, row in enumerate(rows)}
    placings = place(total, by_section, ("a", "b"))
    assert [p.place for p in placings] == sorted(competition_ranks(rows))
    for p in placings:
        peers = [e for e in total if e != p.entry and total[e] == p.total]
        same = {e for e in peers if by_section[e] == by_section[p.entry]}
        assert set(p.tied_with) == same
        assert (p.decided_by is None) == (len(same) == len(peers))
    entries = list(total)
    shuffler.shuffle(entries)
    again = place({entry: total[entry] for entry in entries}, by_section, ("a", "b"))
    found = {p.entry: (p.place, set(p.tied_with), p.decided_by) for p in placings}
    assert {p.entry: (p.place, set(p.tied_with), p.decided_by) for p in again} == found


@pytest.mark.parametrize(
    ("total", "by_section", "ladder", "sentence"),
    [
        ({7: None}, {7: {"trail": Decimal(1)}}, (), "Entry 7 is incomplete"),
        ({7: Decimal(1)}, {7: {}}, ("trail",), "Entry 7 has no points in section trail"),
        ({7: Decimal(1)}, {}, ("trail",), "Entry 7 has no points in section trail"),
        ({7: Decimal(1)}, {7: {"a": Decimal(1)}}, ("a", "a"), "names a section twice"),
    ],
)
def test_what_cannot_be_placed_is_refused(
    total: Any, by_section: Any, ladder: tuple[str, ...], sentence: str
) -> None:
    with pytest.raises(ValueError, match=sentence):
        place(total, by_section, ladder)


SECTIONS = ("trail", "camp", "food", "gear", "crew")


@given(st.permutations(SECTIONS), st.integers(1, len(SECTIONS)), st.integers(0, len(SECTIONS)))
def test_every_rung_with_a_proof_decides_and_the_others_never_can(
    order: list[str], n_sections: int, n_rungs: int
) -> None:
    sections = order[:n_sections]
    ladder = sections[::-1][: min(n_rungs, n_sections)]
    proofs = rung_proofs(ladder, sections)
    assert list(proofs) == ladder
    for code, pair in proofs.items():
        if pair is None:
            # Nothing stands beside it: the total and the rungs above have settled it already.
            assert set(ladder[: ladder.index(code) + 1]) == set(sections)
            continue
        by_section = dict(zip(("better", "worse"), pair, strict=True))
        total = {entry: sum(row.values(), Decimal(0)) for entry, row in by_section.items()}
        first, second = place(total, by_section, ladder)
        assert (first.entry, second.entry) == ("better", "worse")
        assert first.total == second.total
        assert first.decided_by == second.decided_by == code


def test_a_ladder_over_all_sections_has_one_rung_too_many() -> None:
    proofs = rung_proofs(("trail", "camp"), ("camp", "trail"))
    assert proofs["trail"] is not None
    assert proofs["camp"] is None
    assert rung_proofs(("trail",), ("trail",)) == {"trail": None}
    assert rung_proofs((), ("trail",)) == {}


@pytest.mark.parametrize(
    ("ladder", "sentence"), [(("a", "a"), "names a section twice"), (("z",), "is not part")]
)
def test_impossible_ladders_are_refused(ladder: tuple[str, ...], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        rung_proofs(ladder, ("a", "b"))


@given(st.lists(st.lists(st.integers(1, 5), min_size=4, max_size=4), min_size=1, max_size=6))
def test_borda_counts_the_entries_beaten(judges: list[list[int]]) -> None:
    names = "ABCD"
    found = borda([dict(zip(names, row, strict=True)) for row in judges])
    for index, name in enumerate(names):
        beaten = sum(other > row[index] for row in judges for other in row)
        level = sum(row.count(row[index]) - 1 for row in judges)
        assert found[name] == beaten + Decimal(level) / 2
    assert sum(found.values()) == len(judges) * 6


def test_placings_which_cannot_be_totalled_are_refused() -> None:
    with pytest.raises(ValueError, match="no placings"):
        borda([])
    with pytest.raises(ValueError, match="Judge number 2 did not place the same entries"):
        borda([{"A": 1, "B": 2}, {"A": 1}])
