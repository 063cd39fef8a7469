"""Variances by restricted maximum likelihood against printed figures."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from judging.rules.results.effects import fit_crossed

Fact = dict[str, Any]
REFERENCE = Path(__file__).parents[1] / "reference" / "statistics.json"
FACTS: dict[str, Fact] = {fact["id"]: fact for fact in json.loads(REFERENCE.read_text("utf-8"))}


def held(fact: Fact, found: dict[str, Any], **tolerance: Any) -> None:
    """Every printed value is met."""
    assert fact["expected"]
    for key, expected in fact["expected"].items():
        allowed = tolerance[key] if key in tolerance else fact["tolerance"]
        np.testing.assert_allclose(found[key], expected, rtol=0, atol=allowed, err_msg=key)


def test_reml_penicillin() -> None:
    fact = FACTS["reml-penicillin"]
    found = fit_crossed(*(fact["data"][key] for key in ("plate", "sample", "diameter")))
    variances = found.variance_entry, found.variance_judge, found.variance_residual
    held(
        fact,
        {
            **dict(zip(("var_plate", "var_sample", "var_res"), variances, strict=True)),
            **dict(zip(("sd_plate", "sd_sample", "sd_res"), np.sqrt(variances), strict=True)),
            "intercept": found.mean[0],
            "se": found.mean_error[0],
            "reml_crit": found.reml,
            "blup_sample": found.judge_effect,
        },
    )


def test_reml_dyestuff_one_factor() -> None:
    """Batches as entries; the one judge plays no part."""
    fact = FACTS["reml-dyestuff"]
    found = fit_crossed(fact["data"]["batch"], ["one"] * 30, fact["data"]["y"])
    held(
        fact,
        {
            "var_batch": found.variance_entry,
            "var_res": found.variance_residual,
            "intercept": found.mean[0],
            "se": found.mean_error[0],
            "reml_crit": found.reml,
            "blup": found.entry_effect,
        },
    )
    assert np.isnan(found.variance_judge)


def test_reml_ergostool_fixed_types() -> None:
    """Subjects as judges, types as criteria."""
    fact = FACTS["reml-ergostool"]
    data = fact["data"]
    found = fit_crossed(["stool"] * 36, data["subject"], data["effort"], data["type"])
    held(
        fact,
        {
            "sd_subject": np.sqrt(found.variance_judge),
            "sd_res": np.sqrt(found.variance_residual),
            "type_means": found.mean,
            "se": found.mean_error,
        },
        se=0.0006,
    )


def test_reml_recovers_what_blocks_tell() -> None:
    fact = FACTS["bibd-catalyst-combined"]
    data = fact["data"]
    found = fit_crossed(["one"] * 12, data["block"], data["y"], data["treatment"])
    held(
        fact,
        {
            "combined_effects": found.mean - found.mean.mean(),
            "sigma2_block": found.variance_judge,
            "sigma2": found.variance_residual,
        },
    )


def test_reml_with_card_term_on_the_boundary() -> None:
    """No spread between operators: exactly 0, and theirs is pooled with that of the cards."""
    fact = FACTS["gauge-rr-lawson"]
    data, expected = fact["data"], fact["expected"]
    found = fit_crossed(data["part"], data["operator"], data["y"], card=True)
    assert found.variance_judge == expected["var_oper_anova_negative_set_zero"]
    parts, operators, repeats = 10, 3, 2
    degrees = operators - 1, (parts - 1) * (operators - 1)
    squares = degrees[0] * expected["MS_oper"] + degrees[1] * expected["MS_interaction"]
    pooled = squares / sum(degrees)
    card = (pooled - expected["MS_error"]) / repeats
    entry = (expected["MS_part"] - pooled) / (operators * repeats)
    assert found.variance_residual == pytest.approx(expected["MS_error"], abs=1e-7)
    assert found.variance_card == pytest.approx(card, abs=fact["tolerance"])
    assert found.variance_entry == pytest.approx(entry, abs=fact["tolerance"])
