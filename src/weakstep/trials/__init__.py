"""
Trials: sizes, designs, plans and their reading; before against after.

Every public function can be asked for here and is imported on first use::

    from weakstep.trials import chips_for_rates, two_level

    chips_for_rates(0.30, 0.10, corrected=True)
    two_level(7, 3).word_lengths

Sizes: `chips_for_rates`, `chips_by_arcsine`, `chips_in_pairs`, `pairs_for_rates`,
`chips_for_slope`, `chips_for_groups`, times `inflation` where chips of one run fail together;
`runs_for_means` of chips that scatter as `scatter_of_means` finds; by carrying trials out on paper
`simulated_power`, `runs_at_each_level`. Designs:
`two_level`, `from_generators`, `suitable`, `aliases`, `plackett_burman`. Effects:
`numeric_effects`, `failure_effects`, `lenth_margins`, `bend`. Shares: `score_limits`,
`exact_limits`, `still_possible`; their difference: `newcombe_difference`, `score_difference`,
`plus_four_difference`, `paired_difference`; nested in runs: `nesting`. Spreads:
`ratio_of_spreads`. Whole jobs: `plan_trial`,
`analyse_trial`, `compare`.
"""

from __future__ import annotations

from importlib import import_module

# Module of each public name.
_HOME = {
    "comparing": ("Comparison", "compare"),
    "curvature": ("Bend", "bend"),
    "dealing": ("how_dealt", "lots_of", "same_hands"),
    "designs": ("Design", "aliases", "from_generators", "suitable", "two_level"),
    "differences": (
        "newcombe_difference",
        "paired_difference",
        "plus_four_difference",
        "score_difference",
    ),
    "effects": (
        "Effect",
        "contrast",
        "failure_effects",
        "half_normal_quantiles",
        "numeric_effects",
    ),
    "bends": ("Bent",),
    "filled": ("Fit", "OffPlan"),
    "finished": ("AtLevel", "Finished", "analyse_trial"),
    "lenth": ("Margins", "lenth_margins", "pseudo_error"),
    "levels": ("Levels", "choose_levels"),
    "luck": ("chance_groups_differ", "chance_of_luck"),
    "means": ("mean_power", "runs_for_means", "scatter_of_means"),
    "nested": ("Nesting", "as_if_independent", "nesting"),
    "pairs": ("chips_in_pairs", "pairs_for_rates"),
    "periods": ("Periods", "split_at_date", "split_at_run", "two_logs"),
    "plan": ("plan_trial",),
    "planned": ("TrialPlan", "read_plan"),
    "power": ("randomisation_p", "runs_at_each_level", "simulated_mean_power", "simulated_power"),
    "proportions": (
        "chips_by_arcsine",
        "chips_for_rates",
        "inflation",
        "power_for_rates",
    ),
    "question": ("Question", "question_of"),
    "screening": ("plackett_burman",),
    "shares": (
        "beta_limits",
        "exact_limits",
        "good_in_a_row_needed",
        "score_limits",
        "still_possible",
    ),
    "spreads": ("ratio_of_spreads",),
    "slopes": ("chips_for_groups", "chips_for_slope"),
}
_MODULE = {name: module for module, names in _HOME.items() for name in names}

__all__ = sorted(_MODULE)


def __getattr__(name: str) -> object:
    if name not in _MODULE:
        message = f"weakstep.trials has no name {name!r}; it offers {', '.join(sorted(_MODULE))}"
        raise AttributeError(message)
    return getattr(import_module(f"weakstep.trials.{_MODULE[name]}"), name)


def __dir__() -> list[str]:
    return __all__
