"""How sure an order is: stated chances against how often they come true."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from judging.rules.results.effects import fit_additive, fit_crossed
from judging.rules.results.rank_intervals import rank_interval, rank_uncertainty
from judging.rules.results.uncertainty import (
    Estimates,
    chances_ahead,
    neighbours,
    of_crossed,
    of_sections,
    simultaneous_differences,
)

Floats = NDArray[np.float64]
ENTRIES, JUDGES = 15, 3


def cards(rng: np.random.Generator, n: int = ENTRIES, k: int = JUDGES) -> tuple[Floats, Floats]:
    """Merits, and one card of each judge for each entry."""
    merit = rng.normal(6, 1.2, n)
    return merit, merit[:, None] + rng.normal(0, 0.5, k) + rng.normal(0, 0.33, (n, k))


def seen(table: Floats) -> Estimates:
    entry, judge = (axis.ravel() for axis in np.indices(table.shape))
    fit = fit_additive(entry, judge, table.ravel())
    return of_sections({"all": fit}, {"all": 1})


def test_stated_chances_come_true() -> None:
    """400 shows, 42,000 pairs: of pairs stated at 60 to 70 % and so on that share is so."""
    rng = np.random.default_rng(14)
    stated, true = [], []
    upper = np.triu_indices(ENTRIES, 1)
    for _ in range(400):
        merit, table = cards(rng)
        chance = chances_ahead(seen(table))
        stated.append(chance[upper])
        true.append((merit[:, None] > merit)[upper])
    chance, right = np.concatenate(stated), np.concatenate(true)
    flip = chance < 0.5
    chance, right = np.where(flip, 1 - chance, chance), np.where(flip, ~right, right)
    for low, high in ((0.5, 0.6), (0.6, 0.7), (0.7, 0.8), (0.8, 0.9), (0.9, 0.97)):
        mine = (chance >= low) & (chance < high)
        assert mine.sum() > 500
        # Pairs of a show hang together, hence room of four points.
        assert right[mine].mean() == pytest.approx(chance[mine].mean(), abs=0.04)


@pytest.mark.parametrize("judges", [2, 3, 5])
def test_rank_intervals_hold_the_true_place(judges: int) -> None:
    """150 shows: 95 % intervals cover at least that, and are no wider than they need be."""
    rng = np.random.default_rng(judges)
    hit, width, won, stated = [], [], [], []
    for _ in range(150):
        merit, table = cards(rng, ENTRIES, judges)
        found = rank_uncertainty(seen(table), draws=1000)
        place = 1 + (merit[:, None] < merit).sum(axis=1)
        hit.append((found.low <= place) & (place <= found.high))
        width.append(found.high - found.low)
        top = int(found.first.argmax())
        won.append(place[top] == 1)
        stated.append(found.first[top])
        assert found.first.sum() == pytest.approx(1)
    assert np.mean(hit) >= 0.95
    assert np.mean(width) < ENTRIES / 2
    assert np.mean(won) == pytest.approx(np.mean(stated), abs=0.12)


def test_rank_intervals_hold_in_an_incomplete_panel_and_for_a_mixed_model() -> None:
    rng = np.random.default_rng(31)
    hits: dict[str, list[Any]] = {"additive": [], "crossed": []}
    for _ in range(60):
        merit, table = cards(rng, 12, 5)
        entry, judge = (axis.ravel() for axis in np.indices(table.shape))
        keep = (judge - entry) % 5 < 3
        place = 1 + (merit[:, None] < merit).sum(axis=1)
        fit = fit_additive(entry[keep], judge[keep], table.ravel()[keep])
        plain = rank_uncertainty(of_sections({"all": fit}, {"all": 1}), draws=800)
        mixed = fit_crossed(entry[keep], judge[keep], table.ravel()[keep])
        shrunk = rank_uncertainty(of_crossed(mixed), shrunk=True, draws=800)
        for name, found in (("additive", plain), ("crossed", shrunk)):
            hits[name].append((found.low <= place) & (place <= found.high))
    assert np.mean(hits["additive"]) >= 0.95
    assert np.mean(hits["crossed"]) >= 0.94


def test_rank_intervals_hold_where_the_field_is_close() -> None:
    """Wagons differ by less than their marks' noise: extremes are mostly luck, known as such."""
    rng, hit, stated, won = np.random.default_rng(41), [], [], []
    for _ in range(200):
        merit = rng.normal(6, 0.25, ENTRIES)
        table = merit[:, None] + rng.normal(0, 0.7, (ENTRIES, JUDGES))
        found = rank_uncertainty(seen(table), draws=600)
        place = 1 + (merit[:, None] < merit).sum(axis=1)
        hit.append((found.low <= place) & (place <= found.high))
        top = int(found.first.argmax())
        stated.append(found.first[top])
        won.append(place[top] == 1)
    assert np.mean(hit) >= 0.95
    assert np.mean(stated) == pytest.approx(np.mean(won), abs=0.1)


def test_errors_of_differences_know_what_entries_share() -> None:
    both = Estimates(("A", "B"), np.array([2.0, 1.0]), np.array([[1.0, 0.5], [0.5, 1.0]]), np.inf)
    np.testing.assert_allclose(both.difference_error, [[0, 1], [1, 0]])
    assert chances_ahead(both)[0, 1] == pytest.approx(0.8413, abs=1e-4)


def test_intervals_of_one_entry_and_of_all_differences_hold() -> None:
    """Without any view of the field: at least 95 % for one entry, and for all pairs at once."""
    rng = np.random.default_rng(5)
    one, whole = 0, 0
    for show in range(120):
        merit, table = cards(rng, 6, 3)
        found = seen(table)
        place = 1 + int((merit > merit[show % 6]).sum())
        low, high = rank_interval(found, show % 6, draws=1500)
        one += low <= place <= high
        floor, ceiling = simultaneous_differences(found)
        gap = merit[:, None] - merit
        whole += bool(((floor <= gap + 1e-12) & (gap - 1e-12 <= ceiling)).all())
    assert one >= 110 and whole >= 106


def test_a_rank_interval_without_noise_is_the_place() -> None:
    values = np.array([3.0, 1.0, 2.0])
    found = rank_uncertainty(Estimates(("A", "B", "C"), values, np.zeros((3, 3)), np.inf))
    assert found.low.tolist() == found.high.tolist() == [1, 3, 2]


def test_a_field_without_any_difference_is_wide_open() -> None:
    same = Estimates(tuple("ABCDEF"), np.zeros(6), np.eye(6), 10)
    found = rank_uncertainty(same)
    assert found.low.tolist() == [1] * 6
    assert found.high.tolist() == [6] * 6
    np.testing.assert_allclose(found.first, 1 / 6, atol=0.03)
    assert chances_ahead(same).tolist() == [[0.5] * 6] * 6


@given(st.integers(0, 2**32 - 1))
@settings(deadline=None, max_examples=20)
def test_chances_of_a_pair_add_up(seed: int) -> None:
    rng = np.random.default_rng(seed)
    chance = chances_ahead(seen(cards(rng)[1]))
    np.testing.assert_allclose(chance + chance.T, 1)
    again = rank_uncertainty(seen(cards(np.random.default_rng(seed))[1]), draws=50)
    twin = rank_uncertainty(seen(cards(np.random.default_rng(seed))[1]), draws=50)
    assert again.low.tolist() == twin.low.tolist()


def test_what_is_said_of_neighbours() -> None:
    values = np.array([9.0, 8.9, 7.0, 6.9, 6.8, 5.0, 4.9])
    found = neighbours(Estimates(tuple("ABCDEFG"), values, 0.01 * np.eye(7), 30), list("ABCDEFG"))
    first, second, *_, last = found
    assert not first.told_apart and first.chance == pytest.approx(0.757, abs=0.002)
    assert first.sentence == (
        "First and second cannot be told apart by these marks; the rules decide."
    )
    assert second.told_apart
    assert second.sentence == (
        "Second and third are in this order with a chance of 99 in 100 or more."
    )
    assert last.sentence.startswith("Places 6 and 7 cannot be told apart")


def test_sections_add_up_with_their_errors() -> None:
    rng = np.random.default_rng(3)
    tables = {name: cards(rng, 8, judges)[1] for name, judges in (("trail", 3), ("food", 2))}
    fits = {}
    for name, table in tables.items():
        entry, judge = (axis.ravel() for axis in np.indices(table.shape))
        fits[name] = fit_additive(entry, judge, table.ravel())
    found = of_sections(fits, {"trail": 3, "food": 2})
    np.testing.assert_allclose(
        found.value, tables["trail"].sum(axis=1) + tables["food"].sum(axis=1)
    )
    noise = [fit.sigma2 or 0.0 for fit in fits.values()]
    expected = (3 * noise[0] + 2 * noise[1]) * np.eye(8)
    np.testing.assert_allclose(found.covariance, expected, atol=1e-12)
    assert min(fit.df for fit in fits.values()) <= found.df <= sum(fit.df for fit in fits.values())


def test_what_cannot_be_told_is_refused_by_name() -> None:
    apart = fit_additive(list("AABBCCDD"), list("XYXYVWVW"), [5, 6, 7, 8, 3, 4, 5, 5])
    with pytest.raises(ValueError, match="trail no judge links these groups: A, B; C, D"):
        of_sections({"trail": apart}, {"trail": 2})
    alone = fit_additive(["A", "B"], ["X", "X"], [5, 6])
    with pytest.raises(ValueError, match="Section trail has no spare score"):
        of_sections({"trail": alone}, {"trail": 1})
    with pytest.raises(ValueError, match="no section"):
        of_sections({}, {})
    with pytest.raises(ValueError, match="No judge links"):
        of_crossed(fit_crossed(list("AABBCCDD"), list("XYXYVWVW"), [5, 6, 7, 8, 3, 4, 5, 5]))
    two = Estimates(("A", "B"), np.array([1.0, 2.0]), np.eye(2), 5)
    with pytest.raises(ValueError, match="no estimate of C, D"):
        neighbours(two, ["A", "C", "D"])
    with pytest.raises(ValueError, match="no estimate of C"):
        rank_interval(two, "C")
    with pytest.raises(ValueError, match="between 0 and 1"):
        rank_uncertainty(two, 1.0)
    with pytest.raises(ValueError, match="two entries"):
        simultaneous_differences(Estimates(("A",), np.ones(1), np.eye(1), 5))


def test_marks_that_agree_to_the_point_are_no_proof_of_an_order() -> None:
    """No spread among judges is not certainty: nothing shows how far a mark may be off."""
    alike = np.array([[7.3, 6.3, 8.3], [5.1, 4.1, 6.1], [2.9, 1.9, 3.9], [0.1, -0.9, 1.1]])
    entry, judge = (axis.ravel() for axis in np.indices(alike.shape))
    with pytest.raises(ValueError, match="same points at every entry"):
        of_sections({"all": fit_additive(entry, judge, alike.ravel())}, {"all": 3})
    with pytest.raises(ValueError, match="same points at every entry"):
        of_crossed(fit_crossed(entry, judge, alike.ravel()))
    # The least that marks in steps of a tenth can differ by is told from rounding.
    alike[0, 0] += 0.1
    assert of_sections({"all": fit_additive(entry, judge, alike.ravel())}, {"all": 3}).df > 0


def test_who_ties_has_the_same_places_within_reach() -> None:
    tied = Estimates(("A", "B", "C"), np.array([5.0, 5.0, 1.0]), np.zeros((3, 3)), 8)
    found = rank_uncertainty(tied, shrunk=True)
    assert found.low.tolist() == [1, 1, 3]
    assert found.high.tolist() == [2, 2, 3]
    np.testing.assert_allclose(found.first, [0.5, 0.5, 0.0], atol=0.03)


def test_one_entry_is_first() -> None:
    found = rank_uncertainty(Estimates(("A",), np.ones(1), np.eye(1), 5))
    assert (found.low.tolist(), found.high.tolist(), found.first.tolist()) == ([1], [1], [1.0])
