"""Whole cards: favour, grudge, and patterns over them."""

import math
from dataclasses import astuple
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from judging.rules.results.cards import CardTable, added, added_each, card_table
from judging.rules.results.effects import fit_additive
from judging.rules.results.odd_cards import odd_cards
from judging.rules.results.panel import analyse, read_marks
from judging.rules.results.scale_ends import beyond_the_ends
from tests.rules.results.clean_show import PLAIN, REALISTIC, clean_show, places

Floats = NDArray[np.float64]


def table_of(score: Floats) -> CardTable:
    return card_table(analyse(read_marks(*places(score.shape), score.ravel())))  # type: ignore[arg-type]


@pytest.mark.parametrize("at_end", [False, True])
def test_the_statistic_is_of_the_means_the_scale_would_have_without_ends(at_end: bool) -> None:
    score = clean_show(np.random.default_rng(1), (10, 3, 12), REALISTIC).clip(1, 9)
    score[4, 1, :5] = 10 if at_end else 9
    entry, judge = (axis.ravel() for axis in np.indices((10, 3)))
    spread = float(np.median(score.std(axis=2, ddof=1)))
    written = score.mean(axis=2).ravel()
    means = beyond_the_ends(written, spread) if at_end else written
    odd = odd_cards(table_of(score))
    for card in (0, 13, 17):
        rest = np.arange(30) != card
        without = fit_additive(entry[rest], judge[rest], means[rest])
        expected = without.adjusted_mean[entry[card]] + without.judge_effect[judge[card]]
        spare = (1 - 1 / 10) * (1 - 1 / 3)
        error = (means[card] - expected) / math.sqrt((without.sigma2 or 0.0) / spare)
        assert odd.statistic[card] == pytest.approx(error)


def test_a_favour_at_the_end_of_the_scale_is_seen_where_the_marks_alone_hide_it() -> None:
    """Of the best wagon the ends cut most: it is found more often than by the marks as written."""
    rng, seen, written = np.random.default_rng(31), 0, 0
    for _ in range(60):
        score = clean_show(rng, (12, 3, 30), REALISTIC)
        best = int(score.mean(axis=(1, 2)).argmax())
        score[best, 2] = np.clip(score[best, 2] + 2, 0, 10)
        table = table_of(score)
        odd = odd_cards(table)
        named = [(odd.entry[card], odd.judge[card]) for card in odd.flagged]
        seen += (best, 2) in named
        size = abs(table.deviation) / np.sqrt(table.noise * table.spare)
        df = table.df
        plain = size * np.sqrt((df - 1) / (df - np.minimum(size**2, df - 1e-9)))
        own = (table.entry == best) & (table.judge == 2)
        written += bool(plain[own][0] > odd.threshold)
    assert seen >= written + 8


def test_a_complete_panel_is_the_two_way_table_of_card_means() -> None:
    score = clean_show(np.random.default_rng(1), (10, 3, 12), REALISTIC)
    table = table_of(score)
    entry, judge = (axis.ravel() for axis in np.indices((10, 3)))
    fit = fit_additive(entry, judge, score.mean(axis=2).ravel())
    np.testing.assert_allclose(table.deviation, fit.residual, atol=1e-10)
    np.testing.assert_allclose(table.noise, fit.sigma2 or 0.0, rtol=1e-9)
    np.testing.assert_allclose(1 - table.spare, fit.leverage)
    assert table.df == fit.df
    odd = odd_cards(table)
    # The shift is what takes the card out of the fit altogether.
    for card in (0, 17):
        rest = np.arange(30) != card
        without = fit_additive(entry[rest], judge[rest], score.mean(axis=2).ravel()[rest])
        expected = without.adjusted_mean[entry[card]] + without.judge_effect[judge[card]]
        shift = score.mean(axis=2).ravel()[card] - expected
        assert odd.shift[card] == pytest.approx(shift)
        assert odd.low[card] < odd.shift[card] < odd.high[card]


@given(st.integers(0, 2**32 - 1))
@settings(deadline=None, max_examples=25)
def test_habits_of_judges_and_merits_of_entries_do_not_matter(seed: int) -> None:
    rng = np.random.default_rng(seed)
    shape = (7, 3, 6)
    entry, judge, row = places(shape)
    keep = rng.random(entry.size) < 0.8
    entry, judge, row = entry[keep], judge[keep], row[keep]
    score = rng.normal(size=keep.sum())
    habit = rng.normal(0, 3, (7, 6))[entry, row] + rng.normal(0, 3, (3, 6))[judge, row]
    before, after = (
        card_table(analyse(read_marks(entry, judge, row, y))) for y in (score, score + habit)
    )
    np.testing.assert_allclose(after.deviation, before.deviation, atol=1e-8)
    np.testing.assert_allclose(odd_cards(after).statistic, odd_cards(before).statistic, atol=1e-6)


def test_an_added_pattern_is_found_at_its_size() -> None:
    rng = np.random.default_rng(4)
    score = clean_show(rng, (12, 3, 20), PLAIN).astype(float)
    hour = rng.permutation(12) / 5.0
    clean = table_of(score)
    score[:, 1] += 0.8 * hour[:, None]
    table = table_of(score)
    pattern = np.where(table.judge == 1, hour[table.entry], 0.0)
    found, before = added(table, np.asarray(pattern, dtype=np.float64)), added(clean, pattern)
    assert found.slope - before.slope == pytest.approx(0.8)
    assert found.statistic > 6 > abs(before.statistic)
    assert found.error == pytest.approx(before.error)


def test_patterns_asked_at_once_are_answered_each_by_itself() -> None:
    table = table_of(clean_show(np.random.default_rng(4), (8, 3, 5), PLAIN))
    patterns = np.random.default_rng(5).normal(size=(24, 4))
    for at_once, alone in zip(added_each(table, patterns), patterns.T, strict=True):
        assert astuple(at_once) == pytest.approx(astuple(added(table, alone)))


def test_a_pattern_which_entries_or_judges_take_up_cannot_be_told() -> None:
    table = table_of(clean_show(np.random.default_rng(4), (8, 3, 5), PLAIN))
    for pattern in (1.0 * table.entry, 1.0 * table.judge, np.ones(24)):
        assert math.isnan(added(table, np.asarray(pattern, dtype=np.float64)).statistic)


def test_two_judges_are_flagged_as_a_pair() -> None:
    score = clean_show(np.random.default_rng(2), (12, 2, 20), PLAIN)
    score[5, 1] = np.clip(score[5, 1] + 3, 0, 10)
    odd = odd_cards(table_of(score))
    assert [(odd.entry[card], odd.judge[card]) for card in odd.flagged] == [(5, 0), (5, 1)]
    assert odd.pair_of[odd.flagged[0]] == odd.flagged[1]
    assert odd.shift[odd.flagged[0]] == pytest.approx(-odd.shift[odd.flagged[1]])


def test_sections_with_panels_of_their_own_are_one_table() -> None:
    """Judges 0 to 2 mark the first rows, 3 to 5 the others: each card is held to its panel."""
    rng = np.random.default_rng(8)
    entry, judge, row = places((12, 6, 20))
    mine = (judge < 3) == (row < 10)
    score = rng.normal(0, 1.2, (12, 20))[entry, row] + rng.normal(0, 0.5, entry.size)
    score += 2.0 * ((entry == 4) & (judge == 5))
    table = card_table(analyse(read_marks(entry[mine], judge[mine], row[mine], score[mine])))
    assert table.df == 2 * 11 * 2
    odd = odd_cards(table)
    assert [(odd.entry[card], odd.judge[card]) for card in odd.flagged] == [(4, 5)]


@pytest.mark.parametrize("shape", [(6, 1, 4), (1, 4, 4), (1, 1, 1), (2, 2, 1)])
def test_too_little_to_check_flags_nothing(shape: Any) -> None:
    odd = odd_cards(table_of(np.arange(float(np.prod(shape))).reshape(shape)))
    assert odd.flagged == ()
    assert odd.threshold == math.inf
    assert np.isnan(odd.statistic).all()


def test_marks_that_fit_exactly_or_are_all_equal_raise_no_question() -> None:
    entry, judge, row = places((6, 3, 4))
    exact = (0.5 * entry + 0.25 * judge + row).astype(float).reshape(6, 3, 4)
    for score in (exact, np.full((6, 3, 4), 7.0)):
        odd = odd_cards(table_of(score))
        assert odd.flagged == ()
        assert not odd.statistic.any()


def test_an_entry_seen_by_one_judge_cannot_be_checked() -> None:
    entry, judge, row = places((6, 3, 4))
    keep = (entry != 2) | (judge == 0)
    score = clean_show(np.random.default_rng(3), (6, 3, 4), PLAIN).ravel()
    table = card_table(analyse(read_marks(entry[keep], judge[keep], row[keep], score[keep])))
    odd = odd_cards(table)
    assert [odd.entry[card] for card in np.flatnonzero(np.isnan(odd.statistic))] == [2]


def test_two_rows_that_say_the_same_say_a_pattern_at_the_same_size() -> None:
    """Arithmetic: least squares over twice the same figures has the same slope."""
    rng = np.random.default_rng(4)
    entry, judge = (axis.ravel() for axis in np.indices((9, 3)))
    score = np.round(rng.normal(6, 1, 27), 1)
    once = card_table(analyse(read_marks(entry, judge, ["fire"] * 27, score)))
    twice = card_table(
        analyse(
            read_marks(
                np.tile(entry, 2), np.tile(judge, 2), ["fire"] * 27 + ["water"] * 27,
                np.tile(score, 2),
            )
        )
    )  # fmt: skip
    pattern = np.asarray((once.judge == 1) * once.entry, dtype=np.float64)
    assert added(twice, pattern).slope == pytest.approx(added(once, pattern).slope)
    design = np.column_stack(
        [*(entry == n for n in range(9)), *(judge == n for n in (1, 2)), (judge == 1) * entry]
    ).astype(float)
    slope = np.linalg.lstsq(design, score, rcond=None)[0][-1]
    assert added(once, pattern).slope == pytest.approx(slope)
