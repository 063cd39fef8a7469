"""Risk and plain walks against published distribution functions, a worked sum and TSPLIB."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from judging.rules.windows.risk import (
    fenton_wilkinson,
    fits_probability,
    lognormal_chance,
    three_point,
)
from judging.rules.windows.walk import shortest

ITEMS: dict[str, dict[str, Any]] = {
    item["id"]: item
    for item in json.loads(
        (Path(__file__).parents[1] / "reference" / "planning.json").read_text(encoding="utf-8")
    )
}


def ids(prefix: str) -> list[str]:
    return [name for name in ITEMS if name.startswith(prefix)]


def test_there_is_something_to_check() -> None:
    assert len(ids("risk-")) >= 5
    assert len(ids("walk")) >= 9


def test_lognormal_values() -> None:
    item = ITEMS["risk-lognormal-cdf-1"]
    for (mu, sigma, x), expected in zip(item["data"]["mu_sigma_x"], item["expected"], strict=True):
        assert lognormal_chance(x, mu, sigma) == pytest.approx(expected, abs=item["tolerance"])
    item = ITEMS["risk-lognormal-altair"]
    for x, expected in zip(item["data"]["x"], item["expected"], strict=True):
        found = lognormal_chance(x, item["data"]["mu"], item["data"]["sigma"])
        assert found == pytest.approx(expected, abs=item["tolerance"])


def test_a_sum_of_three_point_times() -> None:
    item = ITEMS["risk-pert-28"]
    found = three_point([tuple(times) for times in item["data"]["a_m_b"]])
    for value, name in (
        (found.mean, "mean"),
        (found.variance, "var"),
        (found.chance(item["data"]["x"]), "P"),
    ):
        assert value == pytest.approx(item["expected"][name], abs=item["tolerance"][name])


@pytest.mark.parametrize("name", ids("risk-sum-"))
def test_sums_of_lognormal_visits(name: str) -> None:
    data, expected = ITEMS[name]["data"], ITEMS[name]["expected"]
    visits = [data["mean"]] * data["n"]
    found = fits_probability(visits, data["cv"], data["x"])
    assert found == pytest.approx(expected, abs=ITEMS[name]["tolerance"])
    quick = fenton_wilkinson(visits, data["cv"], data["x"])
    assert quick == pytest.approx(expected, abs=0.004)


@pytest.mark.parametrize("name", ids("walk"))
def test_the_shortest_way_through_a_plain_table(name: str) -> None:
    item = ITEMS[name]
    closed = name.startswith("walk-")
    data = item["data"] if closed else ITEMS[item["data"]["matrix_of"]]["data"]
    matrix = [[0] * data["n"] for _ in range(data["n"])]
    for i, row in enumerate(data["d_lower"], start=1):
        for k, length in enumerate(row):
            matrix[i][k] = matrix[k][i] = length
    found = shortest(matrix, closed)
    assert found.minutes == item["expected"]
    assert sorted(found.order) == list(range(data["n"]))
    assert 0.98 * found.minutes <= found.lower_bound <= found.minutes
