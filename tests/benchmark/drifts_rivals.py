"""What the drift screen is held against: an oracle, and the usual practice with charts."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from weakstep.charts.patterns import NELSON, completions
from weakstep.charts.variables import individuals

ORACLE_SERIES = 20000


def usual_practice(values: np.ndarray) -> tuple[float, float]:
    """Share of parameters that alarm by 3-sigma limits alone, and by all patterns."""
    alone = every = 0
    for column in values.T:
        logged = column[~np.isnan(column)]
        limits = individuals(logged)[0].limits
        z = (logged - limits.centre) / limits.sigma
        hits = {name: found.any() for name, found in completions(z, NELSON).items()}
        alone += hits["beyond_limit"]
        every += any(hits.values())
    return alone / values.shape[1], every / values.shape[1]


def oracle_finds(series: np.ndarray, form: str, phi: float, parameters: int) -> bool:
    """Whether the oracle calls a series at a family-wise 5 %; it knows form and correlation."""
    known = series[~np.isnan(series)]
    whitened = known[1:] - phi * known[:-1] if phi else known
    bound = oracle_bound(form, len(whitened) // 10 * 10, parameters)
    return bool(oracle(whitened[None, :], form)[0] > bound)


@lru_cache
def oracle_bound(form: str, runs: int, parameters: int) -> float:
    """Value that the oracle's statistic passes in 5 % of stable semesters (any parameter)."""
    values = np.random.default_rng(7).normal(size=(ORACLE_SERIES, runs))
    return float(np.quantile(oracle(values, form), 0.95 ** (1 / parameters)))


def oracle(values: np.ndarray, form: str) -> np.ndarray:
    """Likelihood ratio of a normal series for one known form, size and start unknown."""
    runs = values.shape[1]
    off = values - values.mean(axis=1, keepdims=True)
    split = np.arange(5, runs - 4)
    if form == "step":
        gain = np.cumsum(off, axis=1)[:, split - 1] ** 2 * runs / (split * (runs - split))
    elif form == "ramp":
        hinges = np.maximum(0.0, np.arange(runs) - np.arange(0, runs - 10)[:, None])
        hinges -= hinges.mean(axis=1, keepdims=True)
        gain = (off @ hinges.T) ** 2 / (hinges**2).sum(axis=1)
    else:
        squares = np.cumsum(off**2, axis=1)
        total, before = squares[:, -1:], squares[:, split - 1]
        return (
            runs * np.log(total / runs)
            - split * np.log(before / split)
            - (runs - split) * np.log((total - before) / (runs - split))
        ).max(axis=1)
    return (gain / (off**2).sum(axis=1, keepdims=True)).max(axis=1)
