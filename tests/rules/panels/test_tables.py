"""Tables of dishes: connected, fair, near the bound, and refused in words where they cannot be."""

from __future__ import annotations

import random
from collections import Counter
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.panels.tables import (
    bound,
    concurrence,
    connected,
    design,
    efficiency,
)
from judging.rules.panels.textbook import balanced, textbook_blocks
from tests.served import dealt

# Share of the bound that is asked for.
NEAR = 0.96


def by_hand(blocks: list[str]) -> float:
    """The harmonic mean from the generalised inverse of the information matrix."""
    labels = sorted(set("".join(blocks)))
    n = np.array([[label in block for block in blocks] for label in labels], dtype=float)
    r, k = n.sum(axis=1), n.sum(axis=0)
    root = np.diag(r**-0.5)
    scaled = root @ (np.diag(r) - n @ np.diag(1 / k) @ n.T) @ root
    # The trace of the pseudo-inverse is the sum of the inverse factors.
    return (len(labels) - 1) / float(np.trace(np.linalg.pinv(scaled)))


def replications(blocks) -> list[int]:
    return sorted(Counter(dish for block in blocks for dish in block).values())


# --- The measures -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "blocks",
    [["AB", "BC", "CA"], ["ABC", "CD", "DA"], ["ABCD", "ABCE", "DE", "EF", "AF"], ["AB", "BC"]],
)
def test_efficiency_is_the_harmonic_mean_of_the_factors_also_for_uneven_tables(blocks):
    assert efficiency(blocks) == pytest.approx(by_hand(blocks), abs=1e-9)


def test_whole_tables_lose_nothing_and_islands_lose_all():
    assert efficiency(["ABC", "CAB"]) == pytest.approx(1.0)
    assert efficiency(["A", "A"]) == 1.0
    assert efficiency(["AB", "CD"]) == 0.0
    assert efficiency(["AB", "AB", "CD", "CD"]) == 0.0
    assert not connected(["AB", "CD", "BA"])
    assert connected([["a", 1], [1, "b"]])


def test_letters_lists_and_tuples_are_the_same_tables():
    words = ["BCEA", "CDBA", "ADEB", "ECDB", "DCEA"]
    assert efficiency(words) == efficiency([list(word) for word in words])
    assert concurrence(words) == concurrence(tuple(tuple(word) for word in words))
    assert set(concurrence(words).values()) == {3}


@pytest.mark.parametrize("blocks", [[], [""], ["AA", "AB"], ["AB", ""]])
def test_what_is_no_table_is_refused(blocks):
    for measure in (efficiency, connected, concurrence):
        with pytest.raises(ValueError, match=r"no dish|one dish twice"):
            measure(blocks)


# --- The bound --------------------------------------------------------------------------------


def every_table(v: int, b: int, k: int):
    """Every choice of b tables, up to their order; v and b small."""

    def grow(chosen, first):
        if len(chosen) == b:
            yield chosen
            return
        for n in range(first, len(blocks)):
            yield from grow([*chosen, blocks[n]], n)

    blocks = list(combinations(range(v), k))
    yield from grow([], 0)


@pytest.mark.parametrize(("v", "b", "k"), [(4, 3, 2), (4, 4, 2), (4, 3, 3), (5, 3, 3), (5, 4, 3)])
def test_no_table_of_all_there_are_passes_the_bound_and_ours_is_the_best(v, b, k):
    best = 0.0
    limits = bound(v, b, k)
    for blocks in every_table(v, b, k):
        if set(sum(blocks, ())) == set(range(v)):
            share = efficiency(blocks)
            r = replications(blocks)
            if r[-1] - r[0] <= 1:
                best = max(best, share)
            assert share <= limits.average + 1e-9
            if r[0] == r[-1]:
                assert share <= limits.least + 1e-9
    assert efficiency(design(v, b, k)) == pytest.approx(best)


def test_the_sharper_bounds_are_sharper_and_meet_where_a_design_is_balanced():
    limits = bound(20, 12, 5)
    assert limits.average > limits.second_moment > limits.dual == limits.least
    limits = bound(7, 7, 3)
    assert limits.average == pytest.approx(limits.second_moment)
    assert bound(2, 3, 2).least == pytest.approx(1.0)
    for wrong in ((1, 3, 1), (4, 0, 2), (4, 2, 5), (4, 2, 0)):
        with pytest.raises(ValueError, match="two dishes"):
            bound(*wrong)


# --- Designs ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("v", "b", "k"),
    [(20, 12, 5), (15, 12, 5), (24, 16, 6), (30, 18, 5), (14, 8, 6), (26, 20, 7), (12, 6, 5)],
)
def test_tables_are_connected_even_and_near_the_bound(v, b, k):
    tables = design(v, b, k)
    assert [len(set(table)) for table in tables] == [k] * b
    met = replications(tables)
    assert len(met) == v
    assert met[-1] - met[0] <= 1
    assert efficiency(tables) >= NEAR * bound(v, b, k).least
    assert efficiency(dealt(v, b, k)) < 0.95 * efficiency(tables)


@pytest.mark.parametrize("v", range(2, 9))
def test_a_table_is_found_wherever_there_is_one(v: int):
    found = refused = 0
    for b in range(1, 6):
        for k in range(1, v + 1):
            enough = b * k >= v + b - 1 and (k > 1 or b == 1)
            if enough:
                tables = design(v, b, k, seed=v)
                assert connected(tables), (b, k)
                assert {d for table in tables for d in table} == set(range(v))
                met = replications(tables)
                assert met[-1] - met[0] <= 1, (b, k)
                found += 1
            else:
                with pytest.raises(ValueError, match=r"compares nothing|take"):
                    design(v, b, k)
                refused += 1
    assert found
    assert refused


def test_names_are_kept_and_a_seed_repeats_itself():
    names = ["beans", "bread", "meat", "pie", "stew", "cobbler"]
    one, two = design(names, 5, 3, seed=4), design(names, 5, 3, seed=4)
    assert one == two
    assert {dish for table in one for dish in table} == set(names)
    assert all(list(table) == sorted(table, key=names.index) for table in one)
    assert any(design(names, 5, 3, seed=n) != one for n in range(5, 9))


def test_a_single_dish_or_judge_is_no_trouble():
    assert design(1, 1, 1) == ((0,),)
    assert design(4, 1, 4) == ((0, 1, 2, 3),)
    assert design(1, 3, 1) == ((0,),) * 3


@given(
    seed=st.integers(0, 2**31),
    pairs=st.sets(st.tuples(st.integers(0, 7), st.integers(0, 9)), max_size=16),
)
@settings(max_examples=12, deadline=None)
def test_barred_pairs_are_apart_or_the_tables_are_refused(seed, pairs):
    judges = [sum(1 for j, _ in pairs if j == judge) for judge in range(8)]
    try:
        tables = design(10, 8, 4, seed=seed, barred=pairs)
    except ValueError:
        assert max(judges) > 6 or any(
            sum(1 for _, d in pairs if d == dish) == 8 for dish in range(10)
        )
        return
    assert not any(dish in tables[judge] for judge, dish in pairs)
    assert connected(tables)
    assert len({dish for table in tables for dish in table}) == 10
    assert replications(tables)[-1] <= 5


def test_barred_pairs_cost_a_balanced_design_nothing_where_shuffling_is_enough():
    barred = {(judge, judge) for judge in range(7)}
    tables = design(7, 7, 3, barred=barred)
    assert set(concurrence(tables).values()) == {1}
    assert not any(judge in tables[judge] for judge in range(7))


def test_many_barred_pairs_at_a_large_table():
    rng = random.Random(9)
    barred = {(rng.randrange(12), rng.randrange(20)) for _ in range(24)}
    tables = design(20, 12, 5, barred=barred)
    assert not any(dish in tables[judge] for judge, dish in barred)
    assert replications(tables) == [3] * 20
    assert efficiency(tables) >= NEAR * bound(20, 12, 5).least


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ((3, 2, 4), "cannot taste 4 dishes where there are 3"),
        ((5, 2, 1), "compares nothing"),
        ((20, 6, 4), "24 places; to compare 20 dishes takes 1 more"),
        ((3, 1, 2), "to compare 3 dishes takes 1 more"),
        ((0, 2, 2), "a dish, a judge"),
        ((4, 0, 2), "a dish, a judge"),
        ((4, 2, 0), "a dish, a judge"),
        ((["a", "a", "b"], 2, 2), "named twice"),
    ],
)
def test_what_cannot_be_is_refused_in_words(asked, words):
    with pytest.raises(ValueError, match=words):
        design(*asked)


@pytest.mark.parametrize(
    ("barred", "words"),
    [
        ([(0, 9)], "not there"),
        ([(5, 0)], "not there"),
        ([(0, 0), (0, 1)], "judge 1 may taste 2 dishes, fewer than 3"),
        ([(j, 2) for j in range(4)], "dish 3 is barred for every judge"),
    ],
)
def test_barring_that_leaves_no_table_is_refused_in_words(barred, words):
    with pytest.raises(ValueError, match=words):
        design(4, 4, 3, barred=barred)


def test_islands_forced_by_barred_pairs_are_refused():
    # Judges 0 and 1 may taste the first three dishes only, 2 and 3 the others only.
    barred = [(j, d) for j in range(4) for d in range(6) if (j < 2) != (d < 3)]
    with pytest.raises(ValueError, match="no table compares all dishes"):
        design(6, 4, 3, barred=barred)


# --- From the textbook ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("v", "b", "k"),
    [(9, 12, 3), (16, 20, 4), (25, 30, 5), (49, 56, 7), (13, 13, 4), (31, 31, 6), (57, 57, 8),
     (16, 16, 6), (37, 37, 9), (10, 30, 3), (15, 35, 3), (21, 42, 10), (8, 14, 4), (14, 14, 13),
     (5, 20, 3)],
)  # fmt: skip
def test_balanced_designs_are_built(v, b, k):
    blocks = textbook_blocks(v, b, k)
    assert blocks is not None
    assert (len(blocks), {len(block) for block in blocks}) == (b, {k})
    assert set(concurrence(blocks).values()) == {b * k * (k - 1) // (v * (v - 1))}


def test_numbers_that_allow_no_balance_are_left_to_the_search():
    assert not balanced(20, 12, 5)
    assert not balanced(7, 7, 7)
    # The numbers fit, yet by Bruck, Ryser and Chowla no such design exists.
    assert balanced(22, 22, 7)
    assert textbook_blocks(22, 22, 7) is None
    assert efficiency(design(22, 22, 7)) > 0.98 * bound(22, 22, 7).least
