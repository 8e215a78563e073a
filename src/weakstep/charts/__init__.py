"""
Control charts as pure functions on arrays: limits, patterns, nothing about any process.

Every public function can be asked for here and is imported on first use::

    from weakstep.charts import individuals, run_length_law

    chart, ranges = individuals(values)
    law = run_length_law(["beyond_limit", "six_steady"], shift=1.0)

Charts: `individuals`, `mean_range`, `mean_sd`, `p_chart`, `np_chart`, `c_chart`, `u_chart`,
`g_chart`, `t_chart`, `ewma`, `cusum`, `self_starting_cusum`, `t2_chart`, `mewma_chart`; with
baselines, stages and strata `monitored`, `staged`, `by_strata`. Run lengths: a function whose name
ends in `_law` gives the distribution, one in `_run_length` its mean, one in `_survival` the chance
of no signal so far; limits for a stated run length or chance of alarm: `shewhart_width`,
`ewma_width`, `cusum_decision`, `t2_limit`, `mewma_limit`. Capability: `capability`,
`judge_tolerance`, `percentile_indices`. Fitness: `anderson_darling`, `box_cox`, `levels_differ`.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from weakstep.charts.attributes import np_chart as np_chart
    from weakstep.charts.attributes import p_chart as p_chart
    from weakstep.charts.capability_indices import Capability as Capability
    from weakstep.charts.capability_indices import capability as capability
    from weakstep.charts.capability_indices import centred_index_interval as centred_index_interval
    from weakstep.charts.capability_indices import (
        one_sided_index_interval as one_sided_index_interval,
    )
    from weakstep.charts.capability_indices import spread_index_interval as spread_index_interval
    from weakstep.charts.count_run_lengths import fault_law as fault_law
    from weakstep.charts.count_run_lengths import share_law as share_law
    from weakstep.charts.cusum_run_lengths import cusum_law as cusum_law
    from weakstep.charts.cusum_run_lengths import cusum_run_length as cusum_run_length
    from weakstep.charts.cusum_run_lengths import cusum_survival as cusum_survival
    from weakstep.charts.ewma_run_lengths import ewma_law as ewma_law
    from weakstep.charts.ewma_run_lengths import ewma_run_length as ewma_run_length
    from weakstep.charts.ewma_run_lengths import ewma_survival as ewma_survival
    from weakstep.charts.factors import Constants as Constants
    from weakstep.charts.factors import constants as constants
    from weakstep.charts.factors import range_cdf as range_cdf
    from weakstep.charts.false_alarms import binomial_zones as binomial_zones
    from weakstep.charts.false_alarms import false_alarm as false_alarm
    from weakstep.charts.false_alarms import false_alarm_alone as false_alarm_alone
    from weakstep.charts.false_alarms import moving_range_false_alarm as moving_range_false_alarm
    from weakstep.charts.false_alarms import poisson_zones as poisson_zones
    from weakstep.charts.faults import c_chart as c_chart
    from weakstep.charts.faults import u_chart as u_chart
    from weakstep.charts.fitness import heaped_share as heaped_share
    from weakstep.charts.fitness import lag_one_correlation as lag_one_correlation
    from weakstep.charts.fitness import skewness as skewness
    from weakstep.charts.fitness import suits_log_scale as suits_log_scale
    from weakstep.charts.levels import levels_differ as levels_differ
    from weakstep.charts.mewma import mewma_chart as mewma_chart
    from weakstep.charts.mewma_run_lengths import mewma_law as mewma_law
    from weakstep.charts.mewma_run_lengths import mewma_limit as mewma_limit
    from weakstep.charts.mewma_run_lengths import mewma_run_length as mewma_run_length
    from weakstep.charts.mewma_run_lengths import mewma_survival as mewma_survival
    from weakstep.charts.model import Chart as Chart
    from weakstep.charts.model import Limits as Limits
    from weakstep.charts.model import Signal as Signal
    from weakstep.charts.multivariate import Baseline as Baseline
    from weakstep.charts.multivariate import MultivariateChart as MultivariateChart
    from weakstep.charts.multivariate import baseline as baseline
    from weakstep.charts.multivariate import subgroup_baseline as subgroup_baseline
    from weakstep.charts.multivariate import t2_chart as t2_chart
    from weakstep.charts.multivariate_limits import t2_limit as t2_limit
    from weakstep.charts.multivariate_limits import t2_run_length as t2_run_length
    from weakstep.charts.normality import NormalityTest as NormalityTest
    from weakstep.charts.normality import anderson_darling as anderson_darling
    from weakstep.charts.normality import box_cox as box_cox
    from weakstep.charts.pattern_shapes import between as between
    from weakstep.charts.pattern_shapes import beyond as beyond
    from weakstep.charts.patterns import DEFAULT_PATTERNS as DEFAULT_PATTERNS
    from weakstep.charts.patterns import NELSON as NELSON
    from weakstep.charts.patterns import PATTERNS as PATTERNS
    from weakstep.charts.patterns import WESTERN_ELECTRIC as WESTERN_ELECTRIC
    from weakstep.charts.patterns import completions as completions
    from weakstep.charts.patterns import find_signals as find_signals
    from weakstep.charts.percentiles import PercentileIndices as PercentileIndices
    from weakstep.charts.percentiles import normal_scale_quantiles as normal_scale_quantiles
    from weakstep.charts.percentiles import percentile_indices as percentile_indices
    from weakstep.charts.phases import by_strata as by_strata
    from weakstep.charts.phases import monitored as monitored
    from weakstep.charts.phases import staged as staged
    from weakstep.charts.pooled_ranges import pooled_range as pooled_range
    from weakstep.charts.rare import g_chart as g_chart
    from weakstep.charts.rare import g_signal_chance as g_signal_chance
    from weakstep.charts.rare import geometric_limits as geometric_limits
    from weakstep.charts.rare import nearly_normal_times as nearly_normal_times
    from weakstep.charts.rare import t_chart as t_chart
    from weakstep.charts.rare import t_run_length as t_run_length
    from weakstep.charts.run_length_laws import RunLengthLaw as RunLengthLaw
    from weakstep.charts.run_lengths import average_run_length as average_run_length
    from weakstep.charts.run_lengths import run_length_law as run_length_law
    from weakstep.charts.run_lengths import survival as survival
    from weakstep.charts.run_lengths import zone_probabilities as zone_probabilities
    from weakstep.charts.self_starting import self_starting_cusum as self_starting_cusum
    from weakstep.charts.self_starting import self_starting_scores as self_starting_scores
    from weakstep.charts.set_limits import cusum_decision as cusum_decision
    from weakstep.charts.set_limits import ewma_width as ewma_width
    from weakstep.charts.set_limits import share_of_each as share_of_each
    from weakstep.charts.set_limits import shewhart_width as shewhart_width
    from weakstep.charts.siegmund import siegmund_run_length as siegmund_run_length
    from weakstep.charts.single_values import moving_range_freedom as moving_range_freedom
    from weakstep.charts.subgroups import mean_range as mean_range
    from weakstep.charts.subgroups import mean_sd as mean_sd
    from weakstep.charts.tolerance import Tolerance as Tolerance
    from weakstep.charts.tolerance import judge_tolerance as judge_tolerance
    from weakstep.charts.variables import individuals as individuals
    from weakstep.charts.weighted import Cusum as Cusum
    from weakstep.charts.weighted import cusum as cusum
    from weakstep.charts.weighted import ewma as ewma

# Module of each public name.
_HOME = {
    "attributes": ("np_chart", "p_chart"),
    "capability_indices": (
        "Capability",
        "capability",
        "centred_index_interval",
        "one_sided_index_interval",
        "spread_index_interval",
    ),
    "factors": ("Constants", "constants", "range_cdf"),
    "count_run_lengths": ("fault_law", "share_law"),
    "cusum_run_lengths": ("cusum_law", "cusum_run_length", "cusum_survival"),
    "ewma_run_lengths": ("ewma_law", "ewma_run_length", "ewma_survival"),
    "false_alarms": (
        "binomial_zones",
        "false_alarm",
        "fault_law",
        "false_alarm_alone",
        "moving_range_false_alarm",
        "poisson_zones",
    ),
    "faults": ("c_chart", "u_chart"),
    "fitness": ("heaped_share", "lag_one_correlation", "skewness", "suits_log_scale"),
    "levels": ("levels_differ",),
    "mewma": ("mewma_chart",),
    "mewma_run_lengths": ("mewma_law", "mewma_limit", "mewma_run_length", "mewma_survival"),
    "model": ("Chart", "Limits", "Signal"),
    "multivariate": ("Baseline", "MultivariateChart", "baseline", "subgroup_baseline", "t2_chart"),
    "multivariate_limits": ("t2_limit", "t2_run_length"),
    "normality": ("NormalityTest", "anderson_darling", "box_cox"),
    "pattern_shapes": ("between", "beyond"),
    "patterns": (
        "DEFAULT_PATTERNS",
        "NELSON",
        "PATTERNS",
        "WESTERN_ELECTRIC",
        "completions",
        "find_signals",
    ),
    "percentiles": ("PercentileIndices", "normal_scale_quantiles", "percentile_indices"),
    "phases": ("by_strata", "monitored", "staged"),
    "pooled_ranges": ("pooled_range",),
    "rare": (
        "g_chart",
        "g_signal_chance",
        "geometric_limits",
        "nearly_normal_times",
        "t_chart",
        "t_run_length",
    ),
    "run_length_laws": ("RunLengthLaw",),
    "run_lengths": ("average_run_length", "run_length_law", "survival", "zone_probabilities"),
    "self_starting": ("self_starting_cusum", "self_starting_scores"),
    "set_limits": ("cusum_decision", "ewma_width", "share_of_each", "shewhart_width"),
    "siegmund": ("siegmund_run_length",),
    "single_values": ("moving_range_freedom",),
    "subgroups": ("mean_range", "mean_sd"),
    "tolerance": ("Tolerance", "judge_tolerance"),
    "variables": ("individuals",),
    "weighted": ("Cusum", "cusum", "ewma"),
}
_MODULE = {name: module for module, names in _HOME.items() for name in names}

__all__ = [
    "DEFAULT_PATTERNS",
    "NELSON",
    "PATTERNS",
    "WESTERN_ELECTRIC",
    "Baseline",
    "Capability",
    "Chart",
    "Constants",
    "Cusum",
    "Limits",
    "MultivariateChart",
    "NormalityTest",
    "PercentileIndices",
    "RunLengthLaw",
    "Signal",
    "Tolerance",
    "anderson_darling",
    "average_run_length",
    "baseline",
    "between",
    "beyond",
    "binomial_zones",
    "box_cox",
    "by_strata",
    "c_chart",
    "capability",
    "centred_index_interval",
    "completions",
    "constants",
    "cusum",
    "cusum_decision",
    "cusum_law",
    "cusum_run_length",
    "cusum_survival",
    "ewma",
    "ewma_law",
    "ewma_run_length",
    "ewma_survival",
    "ewma_width",
    "false_alarm",
    "false_alarm_alone",
    "find_signals",
    "g_chart",
    "g_signal_chance",
    "geometric_limits",
    "heaped_share",
    "individuals",
    "judge_tolerance",
    "lag_one_correlation",
    "levels_differ",
    "mean_range",
    "mean_sd",
    "mewma_chart",
    "mewma_law",
    "mewma_limit",
    "mewma_run_length",
    "mewma_survival",
    "monitored",
    "moving_range_false_alarm",
    "moving_range_freedom",
    "nearly_normal_times",
    "normal_scale_quantiles",
    "np_chart",
    "one_sided_index_interval",
    "p_chart",
    "percentile_indices",
    "poisson_zones",
    "pooled_range",
    "range_cdf",
    "run_length_law",
    "self_starting_cusum",
    "self_starting_scores",
    "share_law",
    "share_of_each",
    "shewhart_width",
    "siegmund_run_length",
    "skewness",
    "spread_index_interval",
    "staged",
    "subgroup_baseline",
    "suits_log_scale",
    "survival",
    "t2_chart",
    "t2_limit",
    "t2_run_length",
    "t_chart",
    "t_run_length",
    "u_chart",
    "zone_probabilities",
]


def __getattr__(name: str) -> object:
    if name not in _MODULE:
        message = f"weakstep.charts has no name {name!r}; it offers {', '.join(sorted(_MODULE))}"
        raise AttributeError(message)
    return getattr(import_module(f"weakstep.charts.{_MODULE[name]}"), name)


def __dir__() -> list[str]:
    return __all__
