"""
Control charts as pure functions on arrays: limits, patterns, nothing about any process.

Every public function can be asked for here and is imported on first use::

    from weakstep.charts import individuals, run_length_law

    chart, ranges = individuals(values)
    law = run_length_law(["beyond_limit", "six_steady"], shift=1.0)

Charts of single values: `individuals`, with baselines, stages and strata `monitored`, `staged`,
`by_strata`. Of subgroups: `mean_range`, `mean_sd`, `median_range`. Of counts: `p_chart`,
`np_chart`, `c_chart`, `u_chart`, with probability limits `exact_p_chart`, `exact_np_chart`,
`exact_c_chart`, `exact_u_chart`; `count_cusum`, Laney's `laney_p_chart` and `laney_u_chart`. Of
rare failures: `g_chart`, `geometric_total_chart`, `ccc_chart`, `t_chart`. With memory: `ewma` and
`cusum` (both sides alike or not), each also combined with a limit for single values, `ewma_pair`
with a head start, `self_starting_cusum`, `moving_average`. Of several variables: `t2_chart`,
`mewma_chart`.

Patterns: the names in `PATTERNS`, or one's own by `beyond`, `between`, `within`, `outside`,
`steady`, `alternating`. Run lengths: a function whose name ends in `_law` gives the distribution,
one in `_run_length` its mean, one in `_survival` the chance of no signal so far, one in `_by_cells`
the mean by an independent road. Limits for a stated run length or chance of alarm:
`shewhart_width`, `pattern_width`, `ewma_width`, `ewma_design`, `moving_average_width`,
`cusum_decision`, `t2_limit`, `mewma_limit`, exact ones of counts `binomial_limits`,
`poisson_limits`.
Factors: `constants`, `pooled_range`, `median_sd`, `moving_range_sigma`, `range_quantile`.

Capability: `capability`, `summary_indices`, `judge_tolerance`, `target_index` (Cpm),
`percentile_indices`, and by a fitted `pearson_curve` `pearson_performance`; intervals of indices
that are given: `spread_index_interval` (Cp), `centred_index_interval` (Cpk),
`one_sided_index_interval`, `target_index_interval`. Statistical tolerance intervals:
`tolerance_interval`, `tolerance_factor`, `distribution_free_interval`, `tolerance_sample_size`.
Fitness: `anderson_darling`, `box_cox`, `levels_differ`.
"""

from __future__ import annotations

from importlib import import_module

# Module of each public name.
_HOME = {
    "anderson_darling_laws": ("anderson_darling_p",),
    "attributes": ("np_chart", "p_chart"),
    "capability_indices": ("Capability", "capability"),
    "cell_chains": ("cusum_run_length_by_cells", "ewma_run_length_by_cells"),
    "count_cusums": ("count_cusum", "count_cusum_law", "count_cusum_run_length"),
    "count_run_lengths": ("fault_law", "share_law"),
    "count_zones": ("binomial_zones", "poisson_zones"),
    "cusum_charts": ("Cusum", "cusum"),
    "cusum_run_lengths": ("cusum_law", "cusum_run_length", "cusum_survival"),
    "ewma_designs": ("EwmaDesign", "ewma_design"),
    "ewma_pairs": ("EwmaPair", "ewma_pair", "ewma_pair_law", "ewma_pair_run_length"),
    "ewma_run_lengths": ("ewma_law", "ewma_run_length", "ewma_survival"),
    "exact_charts": (
        "ExactChart",
        "exact_c_chart",
        "exact_np_chart",
        "exact_p_chart",
        "exact_u_chart",
    ),
    "exact_limits": ("CountLimits", "binomial_limits", "poisson_limits"),
    "factors": ("Constants", "constants", "range_cdf"),
    "false_alarms": ("false_alarm", "false_alarm_alone", "moving_range_false_alarm"),
    "faults": ("c_chart", "u_chart"),
    "fitness": ("heaped_share", "lag_one_correlation", "skewness", "suits_log_scale"),
    "given_indices": ("SummaryIndices", "summary_indices"),
    "index_intervals": (
        "centred_index_interval",
        "one_sided_index_interval",
        "spread_index_interval",
        "target_index_interval",
    ),
    "levels": ("levels_differ",),
    "median_laws": ("median_sd",),
    "mewma": ("mewma_chart",),
    "mewma_limits": ("mewma_limit",),
    "mewma_run_lengths": ("mewma_law", "mewma_run_length", "mewma_survival"),
    "model": ("Chart", "Limits", "Signal"),
    "moving_averages": (
        "moving_average",
        "moving_average_law",
        "moving_average_run_length",
        "moving_average_width",
    ),
    "moving_ranges": ("moving_range_sigma",),
    "multivariate": (
        "Baseline",
        "MultivariateChart",
        "baseline",
        "subgroup_baseline",
        "t2_chart",
    ),
    "multivariate_limits": ("t2_limit", "t2_run_length"),
    "normality": ("NormalityTest", "anderson_darling", "box_cox"),
    "overdispersed": ("laney_p_chart", "laney_u_chart"),
    "own_patterns": ("alternating", "outside", "steady", "within"),
    "pattern_limits": ("pattern_width",),
    "pattern_shapes": ("between", "beyond"),
    "patterns": (
        "DEFAULT_PATTERNS",
        "NELSON",
        "PATTERNS",
        "WESTERN_ELECTRIC",
        "completions",
        "find_signals",
    ),
    "pearson_curves": ("PearsonCurve", "pearson_curve"),
    "pearson_fits": ("PearsonPerformance", "pearson_performance"),
    "percentiles": ("PercentileIndices", "normal_scale_quantiles", "percentile_indices"),
    "phases": ("by_strata", "monitored", "staged"),
    "pooled_ranges": ("pooled_range",),
    "rare": ("g_chart", "g_signal_chance", "geometric_limits"),
    "run_length_laws": ("RunLengthLaw",),
    "run_lengths": ("average_run_length", "run_length_law", "survival", "zone_probabilities"),
    "self_starting": ("self_starting_cusum", "self_starting_scores"),
    "set_limits": ("cusum_decision", "ewma_width", "share_of_each", "shewhart_width"),
    "siegmund": ("siegmund_run_length",),
    "single_values": ("moving_range_freedom",),
    "spread_run_lengths": ("individuals_law", "range_quantile", "spread_run_length"),
    "subgroups": ("mean_range", "mean_sd", "median_range"),
    "target_indices": ("target_index",),
    "tolerance": ("Tolerance", "judge_tolerance"),
    "tolerance_factors": ("tolerance_factor",),
    "tolerance_intervals": (
        "ToleranceInterval",
        "distribution_free_interval",
        "tolerance_interval",
        "tolerance_sample_size",
    ),
    "until_failures": ("ccc_chart", "geometric_total_chart"),
    "variables": ("individuals",),
    "waiting_times": ("nearly_normal_times", "t_chart", "t_run_length"),
    "weighted": ("ewma",),
}
_MODULE = {name: module for module, names in _HOME.items() for name in names}

__all__ = sorted(_MODULE)


def __getattr__(name: str) -> object:
    if name not in _MODULE:
        message = f"weakstep.charts has no name {name!r}; it offers {', '.join(sorted(_MODULE))}"
        raise AttributeError(message)
    return getattr(import_module(f"weakstep.charts.{_MODULE[name]}"), name)


def __dir__() -> list[str]:
    return __all__
