"""
Every public function of the charts, called with each argument replaced by nonsense.

A call either works or is refused by one sentence of ours: never another error, a warning (they are
errors here), a message of numpy's or NaN in a number that was asked for.
"""

from __future__ import annotations

import inspect
import math
from dataclasses import fields, is_dataclass

import numpy as np
import pytest

from weakstep import charts
from weakstep.errors import WeakstepError

RNG = np.random.default_rng(81)
ROW = RNG.normal(10.0, 1.0, 30)
TABLE = RNG.normal(10.0, 1.0, (10, 4))
POINTS = RNG.normal(size=(40, 3))
BASE = charts.baseline(POINTS)
COUNTS, TESTED = [3, 4, 5], [50, 60, 55]
FAR = ["beyond_limit"]

# Each function with arguments that work.
CALLS: dict[str, dict[str, object]] = {
    "alternating": {"window": 14},
    "anderson_darling": {"values": ROW, "mean": 10.0, "sd": 1.0},
    "anderson_darling_p": {"statistic": 1.0, "mean_known": True, "sd_known": False},
    "average_run_length": {"names": FAR, "shift": 0.5, "spread": 1.0},
    "baseline": {"values": POINTS},
    "between": {"needed": 2, "window": 3, "low": 2.0, "high": 3.0},
    "beyond": {"needed": 2, "window": 3, "limit": 2.0, "sides": 2},
    "binomial_limits": {"tested": [20, 30], "share": 0.2, "now": 0.3, "false_alarm": 0.01},
    "binomial_zones": {"tested": [20, 30], "share": 0.2, "now": 0.3},
    "box_cox": {"values": np.exp(ROW / 5)},
    "by_strata": {"values": ROW, "strata": ["a", "b"] * 15},
    "c_chart": {"faults": COUNTS, "mean": 4.0, "patterns": FAR, "width": 3.0},
    "capability": {
        "values": ROW, "lower": 5.0, "upper": 15.0, "sigma": 1.0, "degrees_of_freedom": 20.0,
        "level": 0.95,
    },
    "ccc_chart": {"items_until": [30, 40], "share": 0.02, "failures": 1, "false_alarm": 0.01},
    "centred_index_interval": {"index": 1.3, "n_values": 20, "level": 0.95, "freedom": 19.0},
    "completions": {"z": ROW, "names": FAR},
    "constants": {"n": 5},
    "count_cusum": {
        "counts": COUNTS, "mean": 4.0, "reference": 5.0, "decision": 8.0, "head_start": 4.0,
        "tested": 50,
    },
    "count_cusum_law": {"mean": 4.0, "reference": 5.0, "decision": 8.0, "head_start": 4.0},
    "count_cusum_run_length": {"mean": 4.0, "reference": 5.0, "decision": 8.0, "tested": 50},
    "cusum": {
        "values": ROW, "target": 10.0, "sigma": 1.0, "allowance": 0.5, "decision": 5.0,
        "head_start": 0.0, "shewhart_limit": 3.5, "degrees_of_freedom": 20.0,
    },
    "cusum_decision": {
        "allowance": 0.5, "run_length": 100.0, "n_points": 1, "n_charts": 1,
        "head_start_share": 0.0,
    },
    "cusum_law": {"allowance": 0.5, "decision": 4.0, "shift": 0.5, "head_start": 1.0},
    "cusum_run_length": {
        "allowance": 0.5, "decision": 4.0, "shift": 0.5, "head_start": 1.0, "shewhart_limit": 3.5,
    },
    "cusum_run_length_by_cells": {
        "allowance": 0.5, "decision": 4.0, "shift": 0.5, "head_start": 1.0, "cells": 20,
    },
    "cusum_survival": {"n_points": 9, "allowance": 0.5, "decision": 4.0, "shift": 0.5},
    "distribution_free_interval": {"values": range(99), "coverage": 0.9, "confidence": 0.9},
    "ewma": {
        "values": ROW, "target": 10.0, "sigma": 1.0, "weight": 0.2, "width": 2.8,
        "shewhart_limit": 3.5, "degrees_of_freedom": 20.0,
    },
    "ewma_design": {"shift": 2.0, "run_length": 50.0},
    "ewma_law": {"weight": 0.2, "width": 2.8, "shift": 0.5, "head_start": 0.1},
    "ewma_pair": {
        "values": ROW, "target": 10.0, "sigma": 1.0, "weight": 0.4, "width": 2.8,
        "head_start_share": 0.5, "degrees_of_freedom": 20.0,
    },
    "ewma_pair_law": {"weight": 0.4, "width": 2.8, "shift": 0.5, "head_start_share": 0.5},
    "ewma_pair_run_length": {"weight": 0.4, "width": 2.8, "shift": 0.5, "head_start_share": 0.2},
    "ewma_run_length": {"weight": 0.2, "width": 2.8, "shift": 0.5, "head_start": 0.1},
    "ewma_run_length_by_cells": {"weight": 0.2, "width": 2.8, "shift": 0.5, "cells": 21},
    "ewma_survival": {"n_points": 9, "weight": 0.2, "width": 2.8, "shift": 0.5},
    "ewma_width": {"weight": 0.2, "run_length": 100.0, "n_points": 1, "n_charts": 1},
    "exact_c_chart": {"faults": COUNTS, "mean": 4.0, "false_alarm": 0.01},
    "exact_np_chart": {"failed": COUNTS, "size": 50, "share": 0.1, "false_alarm": 0.01},
    "exact_p_chart": {"failed": COUNTS, "tested": TESTED, "share": 0.1, "false_alarm": 0.01},
    "exact_u_chart": {"faults": COUNTS, "area": TESTED, "rate": 0.1, "false_alarm": 0.01},
    "false_alarm": {"n_points": 20, "names": FAR, "n_charts": 2},
    "false_alarm_alone": {"n_points": 20, "name": "beyond_limit"},
    "fault_law": {"mean": 16.0, "now": 20.0},
    "find_signals": {"z": ROW, "names": FAR},
    "g_chart": {"good_between": [30, 40], "share": 0.02, "false_alarm": 0.01},
    "g_signal_chance": {"share": 0.02, "lower": 1.0, "upper": 300.0},
    "geometric_limits": {"share": 0.02, "false_alarm": 0.01},
    "geometric_total_chart": {"totals": [30, 40], "n_counts": 3, "share": 0.05},
    "heaped_share": {"values": ROW},
    "individuals": {
        "values": ROW, "centre": 10.0, "sigma": 1.0, "patterns": FAR, "width": 3.0,
        "baseline": range(20),
    },
    "individuals_law": {"shift": 0.5, "spread": 1.0, "width": 3.0, "range_limit": 4.0},
    "judge_tolerance": {
        "values": ROW, "lower": 5.0, "upper": 15.0, "limits": charts.individuals(ROW)[0].limits,
    },
    "lag_one_correlation": {"values": ROW},
    "laney_p_chart": {"failed": COUNTS, "tested": TESTED, "share": 0.08},
    "laney_u_chart": {"faults": COUNTS, "area": TESTED, "rate": 0.08},
    "levels_differ": {"values": ROW, "groups": ["a", "b"] * 15},
    "mean_range": {"values": TABLE, "centre": 10.0, "sigma": 1.0},
    "mean_sd": {"values": TABLE, "centre": 10.0, "sigma": 1.0},
    "median_range": {"values": TABLE, "centre": 10.0, "sigma": 1.0, "patterns": FAR, "width": 3.0},
    "median_sd": {"n": 5},
    "mewma_chart": {"points": POINTS, "base": BASE, "weight": 0.1, "limit": 9.0},
    "mewma_law": {"limit": 8.6, "n_variables": 2, "weight": 0.1},
    "mewma_limit": {"n_variables": 2, "weight": 0.1, "run_length": 100.0},
    "mewma_run_length": {"limit": 8.6, "n_variables": 2, "weight": 0.1, "distance": 0.5},
    "mewma_survival": {"n_points": 5, "limit": 8.6, "n_variables": 2, "weight": 0.1},
    "monitored": {"values": ROW, "n_baseline": 20, "left_out": [3]},
    "moving_average": {
        "values": ROW, "target": 10.0, "sigma": 1.0, "span": 3, "width": 2.8,
        "degrees_of_freedom": 20.0,
    },
    "moving_average_law": {"span": 3, "width": 2.8, "shift": 0.5},
    "moving_average_run_length": {"span": 3, "width": 2.8, "shift": 0.5},
    "moving_average_width": {"span": 2, "run_length": 100.0, "n_points": 1, "n_charts": 1},
    "moving_range_false_alarm": {"n_values": 20},
    "moving_range_freedom": {"n_values": 20},
    "moving_range_sigma": {"values": ROW, "span": 3},
    "nearly_normal_times": {"time_between": ROW, "shape": 1.0},
    "normal_scale_quantiles": {"values": ROW, "power": 0.5},
    "np_chart": {"failed": COUNTS, "size": 50, "share": 0.08},
    "one_sided_index_interval": {"index": 1.3, "n_values": 20, "level": 0.95, "freedom": 19.0},
    "outside": {"needed": 8, "window": 8, "limit": 1.0},
    "p_chart": {
        "failed": COUNTS, "tested": TESTED, "share": 0.08, "patterns": FAR, "width": 3.0,
    },
    "pattern_width": {"names": FAR, "run_length": 100.0, "n_points": 1, "n_charts": 1},
    "pearson_curve": {"mean": 10.0, "sd": 2.0, "skewness": 0.5, "kurtosis": 1.0},
    "pearson_performance": {"values": np.tile(ROW, 2), "lower": 5.0, "upper": 15.0},
    "percentile_indices": {"quantiles": (-3.0, 0.0, 3.0), "lower": -4.0, "upper": 4.0},
    "poisson_limits": {"mean": [16.0, 17.0], "now": [20.0, 20.0], "false_alarm": 0.01},
    "poisson_zones": {"mean": [16.0, 17.0], "now": [20.0, 20.0]},
    "pooled_range": {"n": 5, "n_subgroups": 3},
    "range_cdf": {"width": [1.0, 2.0], "n": 5},
    "range_quantile": {"level": 0.9, "n": 5},
    "run_length_law": {"names": FAR, "shift": 0.5, "spread": 1.0},
    "self_starting_cusum": {"values": ROW, "allowance": 0.5, "decision": 5.0},
    "self_starting_scores": {"values": ROW},
    "share_law": {"tested": 50, "share": 0.2, "now": 0.3},
    "share_of_each": {"family_wise": 0.05, "n_charts": 5},
    "shewhart_width": {"run_length": 100.0, "n_points": 1, "n_charts": 1},
    "siegmund_run_length": {"allowance": 0.5, "decision": 5.0, "shift": 0.0},
    "skewness": {"values": ROW},
    "spread_index_interval": {"index": 1.3, "freedom": 20.0, "level": 0.95},
    "spread_run_length": {"n": 5, "ratio": 1.5, "lower": 0.5, "upper": 5.0},
    "staged": {"values": ROW, "starts": [15]},
    "steady": {"window": 6},
    "subgroup_baseline": {"values": RNG.normal(size=(20, 4, 2))},
    "suits_log_scale": {"values": ROW},
    "summary_indices": {
        "mean": 16.0, "sd": 2.0, "n_values": 50, "lower": 8.0, "upper": 20.0, "target": 14.0,
    },
    "survival": {"n_points": 9, "names": FAR, "zones": charts.zone_probabilities()},
    "t2_chart": {"points": POINTS, "base": BASE, "false_alarm": 0.01},
    "t2_limit": {"n_variables": 2, "false_alarm": 0.01, "n_points": 20, "size": 1},
    "t2_run_length": {"limit": 10.0, "n_variables": 2, "distance": 1.0},
    "t_chart": {"time_between": ROW, "mean": 10.0, "shape": 1.0, "failures": 1},
    "t_run_length": {"ratio": 0.5, "shape": 1.0, "failures": 1, "false_alarm": 0.01},
    "target_index": {"values": ROW, "lower": 5.0, "upper": 15.0, "target": 10.0, "level": 0.95},
    "target_index_interval": {"index": 1.0, "n_values": 30, "offset": 0.5, "level": 0.95},
    "tolerance_factor": {"n_values": 20, "coverage": 0.9, "confidence": 0.95, "freedom": 19.0},
    "tolerance_interval": {"values": ROW, "coverage": 0.9, "confidence": 0.95},
    "tolerance_sample_size": {"coverage": 0.9, "confidence": 0.95},
    "u_chart": {"faults": COUNTS, "area": TESTED, "rate": 0.08},
    "within": {"needed": 15, "window": 15, "limit": 1.0},
    "zone_probabilities": {"shift": 0.5, "spread": 1.0},
}  # fmt: skip
NONSENSE = (
    math.nan, math.inf, -1, 0, 1.5, 1e300, "x", None, True, [], [1.0], [[1.0]], {}, ["a"] * 30,
    [math.nan] * 30, [math.inf] * 30, [5.0] * 30, [-1.0] * 30,
)  # fmt: skip
# Words of numpy, scipy and Python that would mean that a check of ours is missing.
NOT_OURS = (
    "could not convert", "operands", "broadcast", "inhomogeneous", "different signs", "setting an",
    "reshape", "axis", "math domain", "ambiguous", "unpack", "zero-size", "ingular", "expected",
)  # fmt: skip


def numbers_in(found: object) -> list[float]:
    """Return every single number of a result, arrays (which may have gaps) left out."""
    if isinstance(found, float):
        return [found]
    if is_dataclass(found) and not isinstance(found, type):
        return [one for field in fields(found) for one in numbers_in(getattr(found, field.name))]
    if isinstance(found, tuple):
        return [one for part in found for one in numbers_in(part)]
    return []


def test_every_public_function_is_asked() -> None:
    """A new function without a row above fails here."""
    functions = {
        name for name in charts.__all__ if inspect.isfunction(inspect.unwrap(getattr(charts, name)))
    }
    assert functions == set(CALLS)


@pytest.mark.parametrize("name", CALLS)
def test_nonsense_is_refused_in_a_sentence(name: str) -> None:
    """One argument at a time; what stands in the table itself works."""
    function, plain = getattr(charts, name), CALLS[name]
    function(**plain)
    defaults = inspect.signature(inspect.unwrap(function)).parameters
    for argument in plain:
        for nonsense in NONSENSE:
            if nonsense is None and defaults[argument].default is None:
                continue
            try:
                found = function(**plain | {argument: nonsense})
            except (ValueError, WeakstepError) as refusal:
                words = str(refusal)
                assert words, (argument, nonsense)
                assert not any(alien in words for alien in NOT_OURS), (argument, nonsense, words)
            else:
                assert not any(map(math.isnan, numbers_in(found))), (argument, nonsense)


# First arguments that are one row of measured values.
OF_A_ROW = [
    name for name, plain in CALLS.items() if next(iter(plain)) in ("values", "time_between", "z")
    and np.ndim(next(iter(plain.values()))) == 1  # type: ignore[call-overload]
]  # fmt: skip
STRANGE = {
    "huge": 1e300 * (ROW - 10.0),
    "beyond squares": 1e160 * (ROW - 10.0),
    "far off": 1e12 + ROW,
    "denormal": 1e-300 * ROW,
    "half missing": np.where(np.arange(30) % 2, ROW, np.nan),
    "masked": np.ma.array(ROW, mask=np.arange(30) % 4 == 0),
    "wholly masked": np.ma.masked_all(30),
    "objects": np.array([1, 2.5, 4] * 10, dtype=object),
    "with None": [1.0, None, 2.0] * 10,
    "a step": np.repeat([1.0, 2.0], 15),
    "one far out": np.r_[ROW[:-1], 1e6],
    "single precision": ROW.astype(np.float32),
    "none at all": np.array([]),
    "one": np.array([1.0]),
    "two": np.array([1.0, 2.0]),
}


def test_rows_are_known() -> None:
    """The list above is not empty by accident."""
    assert {"individuals", "ewma", "cusum", "t_chart", "tolerance_interval"} <= set(OF_A_ROW)


@pytest.mark.parametrize("name", OF_A_ROW)
@pytest.mark.parametrize("label", STRANGE)
def test_strange_rows(name: str, label: str) -> None:
    """Each is charted or refused in a sentence; nothing runs over, nothing is NaN."""
    plain = CALLS[name]
    estimated = {"centre", "mean", "sd", "baseline"}
    estimated |= {"sigma"} if name == "individuals" else set()
    given = {key: value for key, value in plain.items() if key not in estimated}
    try:
        found = getattr(charts, name)(**given | {next(iter(plain)): STRANGE[label]})
    except (ValueError, WeakstepError) as refusal:
        words = str(refusal)
        assert not any(alien in words for alien in NOT_OURS), words
    else:
        assert not any(map(math.isnan, numbers_in(found)))


def test_what_a_mask_hides_is_a_gap() -> None:
    """Masked values are missing values, not the numbers under the mask."""
    hidden = np.ma.array([1.0, 2.0, 99.0, 3.0], mask=[False, False, True, False])
    masked, plain = charts.individuals(hidden)[0], charts.individuals([1.0, 2.0, math.nan, 3.0])[0]
    assert masked.limits.upper == pytest.approx(plain.limits.upper)
    assert np.isnan(masked.values[2])
