"""Cards at the ends of the scale, and how far cards vary by taste alone."""

from __future__ import annotations

import numpy as np
import pytest

from judging.rules.results.cards import CardTable, card_noise, card_table
from judging.rules.results.odd_cards import unended
from judging.rules.results.panel import analyse, read_marks

ENTRY, JUDGE, ROW = (axis.ravel() for axis in np.indices((8, 3, 10)))
FAVOURED = (7, 1)


def table_of(top: float) -> CardTable:
    """Marks up to about `top`, one wagon favoured by two points and cut at ten."""
    clean = top - 3.5 + 0.5 * ENTRY + ((ENTRY * 3 + JUDGE * 5 + ROW * 7) % 4) * 0.5
    given = clean + 2 * ((FAVOURED[0] == ENTRY) & (FAVOURED[1] == JUDGE))
    return card_table(analyse(read_marks(ENTRY, JUDGE, ROW, np.clip(np.round(given), 0, 10))))


def deviation_of(table: CardTable) -> float:
    """How far the favoured card lies from what its entry and judge expect."""
    return float(np.asarray(table.deviation).reshape(8, 3)[FAVOURED])


def test_a_favour_cut_at_the_top_is_measured_nearer_its_size() -> None:
    cut, free = table_of(top=9.0), table_of(top=5.0)
    assert deviation_of(cut) < deviation_of(unended(cut)) < 1.2 * deviation_of(free)


def test_without_marks_at_the_ends_nothing_changes() -> None:
    table = table_of(top=5.0)
    assert unended(table) is table


def test_taste_is_the_squares_over_what_is_left_to_vary() -> None:
    swing, spare = np.array([1.0, -1.0, 2.0, -2.0]), np.full(4, 0.5)
    noise, taste, mark_noise = card_noise(swing, spare, np.ones(4, dtype=int), 0.0)
    assert taste == pytest.approx(10.0 / 2.0)
    assert mark_noise == 0.0
    np.testing.assert_allclose(noise, taste)
    twice = card_noise(2 * swing, spare, np.ones(4, dtype=int), 0.0)[1]
    assert twice == pytest.approx(4 * taste)


def test_noise_of_marks_is_not_taken_for_taste() -> None:
    swing, spare = np.array([1.0, -1.0, 2.0, -2.0]), np.full(4, 0.5)
    n_marks = np.full(4, 10)
    noise, taste, mark_noise = card_noise(swing, spare, n_marks, 20.0)
    assert taste == pytest.approx(5.0 - 20.0 / 10)
    np.testing.assert_allclose(noise, taste + mark_noise / n_marks)
