"""Single odd marks."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import binom
from scipy.stats import t as student

from judging.rules.results.checks import bonferroni_threshold, odd_marks, studentized
from judging.rules.results.effects import fit_additive
from tests.rules.results.clean_show import clean_show, places

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]
ENTRIES, JUDGES, CRITERIA = 15, 3, 40


def marks(rng: np.random.Generator, shape: tuple[int, int, int]) -> Floats:
    """A show without slips: entries, judges and noise, not rounded."""
    merit = rng.normal(0, 1.2, (shape[0], 1, 1))
    habit = rng.normal(0, 0.5, (1, shape[1], 1))
    level = rng.normal(6, 0.5, (1, 1, shape[2]))
    return (merit + habit + level + rng.normal(0, 0.8, shape)).ravel()


def ragged(rng: np.random.Generator) -> tuple[Codes, Codes, Codes, Floats]:
    """Some criteria do not apply to some entries, and cards are missing."""
    entry, judge, criterion = places((6, 4, 5))
    keep = rng.random(entry.size) < 0.75
    score = marks(rng, (6, 4, 5))
    return entry[keep], judge[keep], criterion[keep], score[keep]


def maker(entry: Codes, judge: Codes) -> Floats:
    """Residual maker of one criterion from a dense design, as the definition has it."""
    x = np.hstack([entry[:, None] == np.unique(entry), judge[:, None] == np.unique(judge)])
    left: Floats = np.eye(len(entry)) - x @ np.linalg.pinv(x.astype(float))
    return left


def test_statistic_and_expected_mark_are_those_of_the_panel_without_the_mark() -> None:
    """Leave each mark out, fit everything again, predict it, compare with the remaining noise.

    The noise of each judge solves A v = SS, drawn towards the common level by eight marks' worth.
    """
    entry, judge, criterion, score = ragged(np.random.default_rng(3))
    odd = odd_marks(entry, judge, criterion, score)
    judges = range(4)
    own = {}  # A of the whole panel
    for one in np.unique(criterion):
        rows = criterion == one
        r2 = maker(entry[rows], judge[rows]) ** 2
        mine = np.stack([judge[rows] == j for j in judges], axis=1).astype(float)
        own[one] = mine.T @ r2 @ mine
    lean = np.linalg.inv(sum(own.values()) + 8.0 * np.eye(4))
    checked = set(range(len(score))) - set(odd.cannot_check)
    assert len(checked) > 60
    scales = []
    for out in checked:
        sums, trace, expected = np.zeros(4), np.zeros(4), 0.0
        weight = np.zeros(4)
        for one in np.unique(criterion):
            rest = np.flatnonzero((criterion == one) & (np.arange(len(score)) != out))
            left = maker(entry[rest], judge[rest])
            residual = left @ score[rest]
            for j in judges:
                sums[j] += np.sum(residual[judge[rest] == j] ** 2)
                trace[j] += np.sum(np.diag(left)[judge[rest] == j])
            if one == criterion[out]:
                fit = fit_additive(entry[rest], judge[rest], score[rest])
                a = fit.adjusted_mean[fit.entries.index(entry[out])]
                expected = float(a + fit.judge_effect[fit.judges.index(judge[out])])
                whole = np.flatnonzero(criterion == one)
                row = maker(entry[whole], judge[whole])[whole.tolist().index(out)]
                weight = np.array([np.sum(row[judge[whole] == j] ** 2) for j in judges])
        common = sums.sum() / (odd.df - 1)
        noise = np.maximum(common + lean @ (sums - common * trace), 0.05 * common)
        assert odd.expected[out] == pytest.approx(expected, abs=1e-8)
        t = (score[out] - expected) * weight.sum() / math.sqrt(weight @ noise)
        scales.append(odd.statistic[out] / t)
    # Judges whose noise is known less well are held against a higher line.
    assert min(scales) > 0.8 and max(scales) <= 1 + 1e-9
    by_judge = [
        {round(s, 6) for s, m in zip(scales, checked, strict=True) if judge[m] == j} for j in judges
    ]
    assert all(by_judge)


@given(st.integers(0, 2**32 - 1))
@settings(deadline=None, max_examples=30)
def test_order_of_marks_and_habits_of_judges_and_entries_do_not_matter(seed: int) -> None:
    rng = np.random.default_rng(seed)
    entry, judge, criterion, score = ragged(rng)
    habit = rng.normal(0, 3, (6, 5))[entry, criterion] + rng.normal(0, 3, (4, 5))[judge, criterion]
    order = rng.permutation(len(score))
    before = odd_marks(entry, judge, criterion, score)
    after = odd_marks(entry[order], judge[order], criterion[order], (score + habit)[order])
    np.testing.assert_allclose(after.statistic, before.statistic[order], atol=1e-7)
    np.testing.assert_allclose(after.expected, (before.expected + habit)[order], atol=1e-7)
    assert (after.df, after.n_checked) == (before.df, before.n_checked)
    assert after.threshold == before.threshold
    assert {int(order[i]) for i in after.cannot_check} == set(before.cannot_check)


def test_labels_may_be_words() -> None:
    entry, judge, criterion = places((4, 3, 2))
    score = marks(np.random.default_rng(2), (4, 3, 2))
    words = [f"entry {code}" for code in entry], [f"judge {code}" for code in judge]
    by_word = odd_marks(*words, [f"criterion {code}" for code in criterion], score)
    np.testing.assert_array_equal(
        by_word.statistic, odd_marks(entry, judge, criterion, score).statistic
    )


def test_a_slip_among_marks_that_otherwise_fit_is_found() -> None:
    entry, judge, criterion = places((6, 4, 4))
    score = 5.0 + entry % 3 + judge
    slip = 31
    score[slip] += 4
    odd = odd_marks(entry, judge, criterion, score)
    assert odd.flagged == (slip,)
    assert odd.statistic[slip] == math.inf
    assert odd.expected[slip] == pytest.approx(score[slip] - 4)


def test_marks_that_fit_exactly_raise_no_question() -> None:
    entry, judge, criterion = places((6, 3, 4))
    odd = odd_marks(entry, judge, criterion, 0.1 * entry + 0.3 * judge + 0.7 * criterion)
    assert odd.flagged == ()
    assert not odd.statistic.any()


def test_two_judges_are_flagged_as_a_pair() -> None:
    entry, judge, criterion = places((10, 2, 20))
    score = marks(np.random.default_rng(8), (10, 2, 20))
    slip = int(np.flatnonzero((entry == 4) & (judge == 1) & (criterion == 7))[0])
    other = int(np.flatnonzero((entry == 4) & (judge == 0) & (criterion == 7))[0])
    score[slip] = odd_marks(entry, judge, criterion, score).expected[slip] + 9
    odd = odd_marks(entry, judge, criterion, score)
    assert odd.flagged == (other, slip)
    assert odd.pair_of[slip] == other
    assert odd.pair_of[other] == slip
    np.testing.assert_allclose(odd.statistic[odd.pair_of], -odd.statistic)


def test_pairs_are_only_entries_with_exactly_two_marks() -> None:
    entry, judge, criterion = places((4, 3, 2))
    keep = ~((entry == 2) & (judge == 0) & (criterion == 1))
    entry, judge, criterion = entry[keep], judge[keep], criterion[keep]
    odd = odd_marks(entry, judge, criterion, np.arange(entry.size) % 5)
    paired = np.flatnonzero(odd.pair_of >= 0)
    assert [(entry[i], criterion[i]) for i in paired] == [(2, 1), (2, 1)]


def test_a_mark_nobody_can_confirm_is_named() -> None:
    """The only mark of entry 9 fits itself whatever it is."""
    entry, judge, criterion = places((5, 3, 2))
    score = marks(np.random.default_rng(1), (5, 3, 2))
    odd = odd_marks(
        np.append(entry, 9), np.append(judge, 0), np.append(criterion, 0), np.append(score, 99.0)
    )
    assert odd.cannot_check == (entry.size,)
    assert np.isnan(odd.statistic[-1])
    assert np.isnan(odd.expected[-1])
    assert odd.n_checked == entry.size
    assert entry.size not in odd.oddest


@pytest.mark.parametrize("shape", [(5, 1, 3), (2, 2, 1)])
def test_too_little_to_check_flags_nothing(shape: tuple[int, int, int]) -> None:
    """One judge alone, or a single degree of freedom."""
    odd = odd_marks(*places(shape), marks(np.random.default_rng(1), shape))
    assert odd.threshold == math.inf
    assert (odd.n_checked, odd.flagged, odd.oddest) == (0, (), ())
    assert len(odd.cannot_check) == math.prod(shape)


def test_studentized_edges() -> None:
    assert np.isnan(studentized([0.0, 1.0], [1.0, 0.5], 4.0, 3)).tolist() == [True, False]
    assert np.isnan(studentized([1.0, -1.0], [0.5, 0.5], 2.0, 1)).all()
    assert studentized([0.0, 0.0], [0.5, 0.5], 0.0, 5).tolist() == [0.0, 0.0]
    assert studentized([-1.0, 0.0], [0.5, 0.5], 2.0, 3).tolist() == [-math.inf, 0.0]


@pytest.mark.parametrize(("alpha", "n", "df"), [(0.05, 1800, 1120), (0.01, 9, 4), (0.2, 14400, 2)])
def test_threshold_is_bonferronis(alpha: float, n: int, df: int) -> None:
    threshold = bonferroni_threshold(alpha, n, df)
    assert 2 * n * student.sf(threshold, df - 1) == pytest.approx(alpha, rel=1e-6)


@pytest.mark.parametrize("alpha", [0.0, 1.0, -0.05, math.nan])
def test_impossible_alpha_is_refused(alpha: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        odd_marks(*places((3, 3, 1)), np.arange(9), alpha=alpha)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"score": [1, 2, math.nan]}, "Score number 3"),
        ({"criterion": ["c", "c"]}, "3 scores but 2 criterion labels"),
        ({"entry": ["a", "b", "b"]}, "Marks number 2 and 3 are by the same judge"),
    ],
)
def test_unusable_marks_are_refused(change: dict[str, Any], sentence: str) -> None:
    usable = {"entry": ["a", "b", "c"], "judge": ["j"] * 3, "criterion": ["c"] * 3}
    with pytest.raises(ValueError, match=sentence):
        odd_marks(**(usable | {"score": [1, 2, 3]} | change))


@pytest.mark.parametrize(
    "panel", ["complete", "two of three judges", "about two of every three cards"]
)
def test_false_alarm_rate_of_a_show_is_as_stated(panel: str) -> None:
    """160 shows without slips: shows with a flag are Binomial(160, alpha) at most.

    The upper limit is the 99.9% point of that law, so that a sound check fails it once in a
    thousand seeds. Bonferroni's bound costs little here, hence also a lower limit at half alpha:
    a check that never fires would be no check. (With two marks of an entry the two tests of a
    pair are one, which halves the rate; its lower limit is a quarter of alpha.)
    """
    alpha, shows = 0.05, 160
    shape = (ENTRIES, JUDGES, CRITERIA)
    rng = np.random.default_rng(20_250)
    where = places(shape)
    alarms = 0
    for _ in range(shows):
        keep = np.ones(math.prod(shape), dtype=bool)
        if panel == "two of three judges":
            keep = where[1] != where[0] % JUDGES
        elif panel == "about two of every three cards":
            left_out = rng.random((ENTRIES * JUDGES, 2)) < 1 / 3  # two sections of a card
            keep = ~np.repeat(left_out, CRITERIA // 2, axis=1).ravel()
        score = marks(rng, shape)[keep]
        entry, judge, criterion = (codes[keep] for codes in where)
        alarms += bool(odd_marks(entry, judge, criterion, score, alpha).flagged)
    least = alpha / (4 if panel == "two of three judges" else 2)
    assert binom.ppf(0.001, shows, least) <= alarms <= binom.ppf(0.999, shows, alpha)


@pytest.mark.parametrize(
    ("slip", "flagged_at_least", "in_ten_at_least"), [(5, 0.45, 0.88), (6, 0.72, 0.94)]
)
def test_power_to_find_a_slip(slip: int, flagged_at_least: float, in_ten_at_least: float) -> None:
    """100 shows of whole marks 0 to 10 with one mark moved by the slip, towards the farther end.

    Over several seeds the slip was flagged in about 60% (5 points) and 85% (6 points) of shows and
    among the ten oddest in about 96% and 99%; the floors lie some three binomial standard errors
    lower.
    """
    shows = 100
    shape = (ENTRIES, JUDGES, CRITERIA)
    rng = np.random.default_rng(1_000 + slip)
    flagged = in_ten = 0
    for _ in range(shows):
        score = np.clip(np.rint(marks(rng, shape)), 0, 10)
        movable = np.flatnonzero((score >= slip) | (score <= 10 - slip))
        place = int(rng.choice(movable))
        score[place] += -slip if score[place] >= slip else slip
        odd = odd_marks(*places(shape), score)
        flagged += place in odd.flagged
        in_ten += place in odd.oddest
    assert flagged / shows >= flagged_at_least
    assert in_ten / shows >= in_ten_at_least


def test_a_slip_of_an_unsteady_panel_names_one_mark() -> None:
    """The others' marks of the row move with it and are not flagged beside it."""
    entry, judge, criterion = places((10, 4, 10))
    rng = np.random.default_rng(6)
    score = 5 + entry % 3 + rng.normal(0, np.array([0.05, 0.05, 0.05, 1.0])[judge])
    slip = int(np.flatnonzero((entry == 2) & (judge == 3) & (criterion == 4))[0])
    score[slip] += 9
    assert odd_marks(entry, judge, criterion, score).flagged == (slip,)


@pytest.mark.parametrize("shape", [(15, 3, 40), (8, 3, 10)])
def test_false_alarm_rate_holds_when_judges_are_not_equally_steady(
    shape: tuple[int, int, int],
) -> None:
    """120 clean shows with judges' noise from 0.3 to 1.6 points.

    One noise level for all would flag the unsteady judge in far more shows than one in twenty.
    """
    rng, shows, alpha = np.random.default_rng(77), 120, 0.05
    where = places(shape)
    own = pooled = 0
    for _ in range(shows):
        score = clean_show(rng, shape, "very uneven").ravel()
        odd = odd_marks(*where, score, alpha)
        own += bool(odd.flagged)
        table = score.reshape(shape)
        residual = table - table.mean(0) - (table.mean(1) - table.mean((0, 1)))[:, None]
        leverage = 1 - (1 - 1 / shape[0]) * (1 - 1 / shape[1])
        common = studentized(
            residual.ravel(), np.full(score.size, leverage), float(np.sum(residual**2)), odd.df
        )
        pooled += bool((np.abs(common) > odd.threshold).any())
    assert own <= binom.ppf(0.999, shows, alpha)
    assert pooled > binom.ppf(0.999, shows, alpha)
