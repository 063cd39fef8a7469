"""Agreement, outliers, uncertainty, purses and placings against printed figures."""

import json
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.special import ndtri
from scipy.stats import f as f_law

from judging.rules.results.agreement import icc, kendall_w, krippendorff_alpha
from judging.rules.results.long_lists import grubbs, grubbs_limit, largest_possible, mandel
from judging.rules.results.panel import analyse, read_marks
from judging.rules.results.placing import borda
from judging.rules.results.purse import pay, split
from judging.rules.results.rank_intervals import rank_interval
from judging.rules.results.steadiness import steadiness
from judging.rules.results.thresholds import bonferroni_threshold
from judging.rules.results.totals_more import trimmed_mean
from judging.rules.results.uncertainty import Estimates, simultaneous_differences

Fact = dict[str, Any]
REFERENCE = Path(__file__).parents[1] / "reference" / "statistics.json"
FACTS: dict[str, Fact] = {fact["id"]: fact for fact in json.loads(REFERENCE.read_text("utf-8"))}


def held(fact: Fact, found: dict[str, Any], **tolerance: Any) -> None:
    """Every printed value is met."""
    assert fact["expected"]
    for key, expected in fact["expected"].items():
        allowed = tolerance[key] if key in tolerance else fact["tolerance"]
        np.testing.assert_allclose(found[key], expected, rtol=0, atol=allowed, err_msg=key)


@pytest.mark.parametrize("name", ["icc-shrout-fleiss-1979", "icc-anxiety-3x20"])
def test_intraclass_correlation(name: str) -> None:
    fact = FACTS[name]
    found = icc(fact["data"]["x"])
    held(
        fact,
        {
            "ICC1_1": found.one_way_single.value,
            "ICC2_1": found.agreement_single.value,
            "ICC3_1": found.consistency_single.value,
            "ICC1_k": found.one_way_mean.value,
            "ICC2_k": found.agreement_mean.value,
            "ICC3_k": found.consistency_mean.value,
            "ICC1_1_ci": [found.one_way_single.low, found.one_way_single.high],
            "ICC2_1_ci": [found.agreement_single.low, found.agreement_single.high],
            "ICC3_1_ci": [found.consistency_single.low, found.consistency_single.high],
            "BMS": found.ms_entries,
            "WMS": found.ms_within,
            "JMS": found.ms_judges,
            "EMS": found.ms_rest,
            "F_oneway": found.f_one_way,
            "F_twoway": found.f_two_way,
        },
    )


@pytest.mark.parametrize(
    "name",
    [
        "kendall-w-siegel-applicants",
        "kendall-w-ties-kendall",
        "kendall-w-anxiety",
        "friedman-conover-grass",
        "friedman-sachs-diuretics",
    ],
)
def test_concordance(name: str) -> None:
    fact = FACTS[name]
    table = np.array(fact["data"].get("x", fact["data"].get("ranks")), dtype=float)
    found = kendall_w(table if fact["data"]["rows"] == "objects" else table.T)
    held(
        fact,
        {
            "W": found.w,
            "S": found.s,
            "rank_sums": found.rank_sums,
            "chi2": found.chi2,
            "p": found.p_chi2,
            "F": found.f,
            "pF": found.p_f,
            "df": found.df,
        },
        W=0.0006,
        p=0.0006,
    )


def test_friedman_corrected_for_ties_and_not() -> None:
    """The paper leaves ties out of account; from W's own parts both forms follow."""
    fact = FACTS["friedman-demsar-2006"]
    table = -np.array(fact["data"]["x"], dtype=float)  # rank 1 is the best
    found = kendall_w(table.T)
    n, k = found.n_entries, found.n_judges
    plain = 12 * found.s / (k * n * (n + 1))
    held(
        fact,
        {
            "average_ranks": np.array(found.rank_sums) / k,
            "chi2_uncorrected": plain,
            "F_F_uncorrected": (k - 1) * plain / (k * (n - 1) - plain),
            "chi2_tie_corrected": found.chi2,
        },
    )


@pytest.mark.parametrize("name", ["kripp-2011-C", "kripp-2011-A"])
def test_alpha(name: str) -> None:
    fact = FACTS[name]
    table = np.array(fact["data"]["x"], dtype=float).T
    held(fact, {level: krippendorff_alpha(table, level).value for level in fact["expected"]})


def test_grubbs_on_a_published_list() -> None:
    fact = FACTS["grubbs-nist-uranium"]
    values = fact["data"]["x"]
    found = grubbs(values, fact["data"]["alpha"], least=3)
    assert found.flagged and found.position is not None
    held(
        fact,
        {
            "G": found.statistic,
            "outlier": values[found.position],
            "crit_two_sided": found.threshold,
            "crit_one_sided": grubbs_limit(len(values), 0.05, two_sided=False),
        },
    )


def test_grubbs_limits_and_both_ends_of_a_list() -> None:
    fact = FACTS["grubbs-critical-5pct"]
    limits = [grubbs_limit(n, fact["data"]["alpha"], two_sided=False) for n in fact["data"]["n"]]
    held(fact, {"crit": limits})
    fact = FACTS["grubbs-venus"]
    values = np.array(fact["data"]["x"])
    low = grubbs(values)
    assert low.position == int(values.argmin())
    assert low.flagged  # the lowest alone; Grubbs tested both ends at once and kept them
    high = grubbs([-value for value in values[values > values.min()]], least=3)
    assert high.position == int(values.argmax()) - 1
    held(
        fact,
        {
            "mean": values.mean(),
            "sd": values.std(ddof=1),
            "G_low": low.statistic,
            "G_high": (values.max() - values.mean()) / values.std(ddof=1),
        },
    )


def test_no_value_can_lie_farther_than_this() -> None:
    fact = FACTS["max-z-bound"]
    numbers = fact["data"]["n"]
    first = next(n for n in range(2, 50) if largest_possible(n) > 3)
    held(
        fact,
        {"bound": [largest_possible(n) for n in numbers], "first_n_for_z_above_3": first},
    )
    for n in numbers:
        one_off = grubbs([*[5.0] * (n - 1), 6.0], least=3)
        assert one_off.statistic == pytest.approx(largest_possible(n))


def test_cochran_and_mandel() -> None:
    fact = FACTS["cochran-creosote"]
    table = np.array(fact["data"]["x"])
    five, one = mandel(table, 0.05), mandel(table, 0.01)
    held(
        fact,
        {
            "C": five.cochran,
            "crit5": five.cochran_limit,
            "crit1": one.cochran_limit,
            "cell_means": table.mean(axis=1),
            "k_lab6": five.k[5],
            "h_lab1": five.h[0],
        },
    )


@pytest.mark.parametrize("name", ["cochran-critical", "cochran-critical-n3"])
def test_cochran_limits(name: str) -> None:
    fact = FACTS[name]
    n = fact["data"]["n"]
    noise = np.random.default_rng(1)
    held(
        fact,
        {
            key: [mandel(noise.normal(size=(p, n)), alpha).cochran_limit for p in fact["data"]["p"]]
            for key, alpha in (("c5", 0.05), ("c1", 0.01))
        },
    )


def test_mandel_limits() -> None:
    fact = FACTS["mandel-critical"]
    noise = np.random.default_rng(1)
    tables = [noise.normal(size=(p, fact["data"]["n_for_k"])) for p in fact["data"]["p"]]
    held(
        fact,
        {
            f"{letter}{percent}": [
                getattr(mandel(table, percent / 100), f"{letter}_limit") for table in tables
            ]
            for letter in "hk"
            for percent in (1, 5)
        },
    )


def test_mandel_on_published_materials() -> None:
    fact = FACTS["mandel-e691-glucose"]
    found = {name: mandel(table, 0.005) for name, table in fact["data"]["materials"].items()}
    stats = {
        name: [
            np.mean(fact["data"]["materials"][name]),
            np.std(np.mean(fact["data"]["materials"][name], axis=1), ddof=1),
            one.repeatability,
            one.reproducibility,
        ]
        for name, one in found.items()
    }
    for name, expected in fact["expected"]["stats"].items():
        np.testing.assert_allclose(stats[name], expected, atol=fact["tolerance"])
    limits = found["A"]
    assert limits.h_limit == pytest.approx(fact["expected"]["h_crit_0p5pct"], abs=0.006)
    assert limits.k_limit == pytest.approx(fact["expected"]["k_crit_0p5pct"], abs=0.006)
    beyond = [
        [name, int(lab) + 1]
        for name, one in found.items()
        for lab in np.flatnonzero(one.k > one.k_limit)
    ]
    assert beyond == fact["expected"]["cells_beyond_k"]


def test_bonferroni_rejects_as_published() -> None:
    fact = FACTS["fdr-benjamini-hochberg"]
    p = np.array(fact["data"]["p"])
    z = -ndtri(p / 2)
    limit = bonferroni_threshold(fact["data"]["alpha"], p.size, 10_000_000)
    assert int((z > limit).sum()) == fact["expected"]["bonferroni_rejected"]


def test_trimmed_means() -> None:
    fact = FACTS["location-newcomb"]
    values = [Decimal(str(value)) for value in fact["data"]["x"]]
    middle = (len(values) - 1) // 2
    held(
        fact,
        {
            "mean": float(trimmed_mean(values, 0)),
            "median": float(trimmed_mean(values, middle)),
            "trimmed10": float(trimmed_mean(values, len(values) // 10)),
        },
    )
    fact = FACTS["trimmed-mean-r-doc"]
    drop = int(len(fact["data"]["x"]) * fact["data"]["trim"])
    assert trimmed_mean(fact["data"]["x"], 0) == Fraction(fact["expected"]["mean"])
    assert trimmed_mean(fact["data"]["x"], drop) == Fraction(fact["expected"]["trimmed"])


def test_shuklas_variances() -> None:
    fact = FACTS["shukla-kang-1993"]
    table = np.array(fact["data"]["x"])  # lines act as judges
    judge, entry = (axis.ravel() for axis in np.indices(table.shape))
    found = steadiness(analyse(read_marks(entry, judge, [0] * table.size, table.ravel())))
    times = fact["data"]["replicates"]
    held(
        fact,
        {
            "sigma2_times_4": times * found.variance,
            "ecovalence_times_4": times * found.sum_of_squares,
        },
        sigma2_times_4=0.006,
    )


def test_borda() -> None:
    fact = FACTS["rank-tennessee"]
    judges = [
        {name: place for place, name in enumerate(order, start=1)}
        for count, order in fact["data"]["ballots"]
        for _ in range(count)
    ]
    assert borda(judges) == fact["expected"]["borda"]


def test_purses() -> None:
    fact = FACTS["hare-10-seats"]
    assert split(fact["data"]["total"], fact["data"]["votes"]) == fact["expected"]["seats"]
    fact = FACTS["purse-cents"]
    data, second = fact["data"], fact["data"]["second"]
    assert split(data["total_cents"], data["weights_percent"]) == fact["expected"]["cents"]
    assert split(second["total_cents"], second["weights"]) == fact["expected"]["second"]
    fact = FACTS["purse-tie-pooling"]
    paid = pay(fact["data"]["prizes_cents"], fact["data"]["ranks"])
    assert paid == fact["expected"]["cents"]
    assert sum(paid) == fact["expected"]["sum"]


def test_all_differences_at_once() -> None:
    fact = FACTS["tukey-nist-4groups"]
    groups = np.array(fact["data"]["groups"])
    n, each = groups.shape
    noise = float(groups.var(axis=1, ddof=1).mean())
    seen = Estimates(
        tuple(range(1, n + 1)), groups.mean(axis=1), noise / each * np.eye(n), n * (each - 1)
    )
    low, high = simultaneous_differences(seen)
    for key, interval in fact["expected"].items():
        one, other = (int(number) - 1 for number in key.split("-"))
        found = [low[one, other], high[one, other]]
        np.testing.assert_allclose(found, interval, atol=fact["tolerance"], err_msg=key)


def test_interval_of_a_place() -> None:
    fact = FACTS["rank-ci-pisa-uk"]
    data = fact["data"]
    covariance = np.diag(np.square(data["se"]))
    seen = Estimates(tuple(data["country"]), np.array(data["score"]), covariance, np.inf)
    assert list(rank_interval(seen, "United Kingdom")) == fact["expected"]["ci"]
    place = 1 + sum(
        score > seen.value[seen.entries.index("United Kingdom")] for score in seen.value
    )
    assert place == fact["expected"]["rank"]


def test_friedmans_f_form_is_an_f_ratio() -> None:
    """The chance printed beside F is that of F with (n - 1) and (n - 1)(k - 1) degrees."""
    found = kendall_w(np.array(FACTS["friedman-conover-grass"]["data"]["ranks"]).T)
    n, k = found.n_entries, found.n_judges
    assert found.p_f == pytest.approx(f_law.sf(found.f, n - 1, (n - 1) * (k - 1)))
