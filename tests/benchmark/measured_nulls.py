"""
How often a measured outcome accuses an innocent parameter, and how often it finds the cause.

    python tests/benchmark/measured_nulls.py [SEMESTERS]

Semesters of 110 runs of one or two chips, 20 parameters of which some drift or differ between six
operators, in 15 weeks; burst pressures are log-normal or Weibull, a quarter is censored. Kinds: in
four nulls nothing logged matters (plain; operators differ; a trend for an unlogged reason; week
effects); in the last one parameter matters. Printed: share of semesters with a wrong strong claim,
and with the cause strong, with binomial standard errors.
"""

from __future__ import annotations

import argparse
from types import SimpleNamespace

import numpy as np
import pandas as pd

from weakstep.failures.candidates import gather, pool_small_strata
from weakstep.failures.measured import hazard_scores
from weakstep.failures.measured_screen import MeasuredScreen
from weakstep.failures.permuting import draw_orders
from weakstep.process.model import Parameter

RUNS, PARAMETERS, WEEKS = 110, 20, 15
KINDS = ("plain", "operators", "trend", "weeks", "cause")


def parameters(rng: np.random.Generator, operator: np.ndarray) -> np.ndarray:
    """Draw values: a third drift through the log, a third differ between operators."""
    values = rng.normal(size=(RUNS, PARAMETERS))
    time = np.linspace(-1.0, 1.0, RUNS)
    values[:, 0::3] += rng.normal(0.0, 1.0, values[:, 0::3].shape[1]) * time[:, None]
    values[:, 1::3] += rng.normal(0.0, 1.0, (6, values[:, 1::3].shape[1]))[operator]
    values[:, ::2] = np.exp(0.4 * values[:, ::2])
    return values


def strength(kind: str, rng: np.random.Generator, operator: np.ndarray, cause: np.ndarray):
    """Return the logarithm of each run's typical burst pressure."""
    time = np.linspace(-1.0, 1.0, RUNS)
    middle = np.full(RUNS, 5.0)
    if kind == "operators":
        middle += rng.normal(0.0, 0.5, 6)[operator]
    if kind == "trend":
        middle += rng.choice([-0.7, 0.7]) * (time if rng.random() < 0.5 else np.sign(time - 0.2))
    if kind == "weeks":
        middle += rng.normal(0.0, 0.4, WEEKS)[np.arange(RUNS) * WEEKS // RUNS]
    if kind == "cause":
        middle -= 0.6 * np.maximum(cause - np.quantile(cause, 0.5), 0.0) / cause.std()
    return middle


def screened(kind: str, seed: int) -> tuple[bool, bool]:
    """Return whether anything innocent was strong, and whether the cause was."""
    rng = np.random.default_rng([seed, KINDS.index(kind)])
    operator = rng.integers(0, 6, RUNS)
    values = parameters(rng, operator)
    cause = int(rng.integers(PARAMETERS))
    middle = strength(kind, rng, operator, values[:, cause])
    run = np.repeat(np.arange(RUNS), rng.integers(1, 3, RUNS))
    shared = 0.3 * rng.normal(size=RUNS)
    noise = rng.normal(0.0, 0.4, len(run)) if seed % 2 else np.log(rng.weibull(3.0, len(run)))
    burst = np.exp((middle + shared)[run] + noise)
    limit = np.quantile(burst, 0.75)
    scores = hazard_scores(np.minimum(burst, limit), burst < limit)
    per_run = np.bincount(run, weights=scores, minlength=RUNS)
    described = tuple(
        Parameter(f"x{i}", f"x{i}", "step", "reading", "number") for i in range(PARAMETERS)
    )
    table = pd.DataFrame(values, columns=[one.name for one in described])
    strata = pool_small_strata(operator.astype(str))
    # What `gather` asks of a process and of a table of runs.
    candidates, _ = gather(
        SimpleNamespace(parameters=described),  # type: ignore[arg-type]
        SimpleNamespace(numbers=table, categories=pd.DataFrame()),  # type: ignore[arg-type]
        strata,
    )
    week = np.arange(RUNS) * WEEKS // RUNS
    links = MeasuredScreen(candidates, per_run, week, draw_orders(strata, 499, rng)).run()
    strong = [link for link in links if link.evidence == "strong"]
    right = {f"x{cause}"} if kind == "cause" else set()
    wrong = any(not right & {link.column, *link.alike} for link in strong)
    return wrong, any(right & {link.column, *link.alike} for link in strong)


def main() -> None:
    """Print one line a kind."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("semesters", nargs="?", type=int, default=100)
    semesters = parser.parse_args().semesters
    for kind in KINDS:
        found = np.array([screened(kind, seed) for seed in range(semesters)])
        shares = found.mean(axis=0)
        errors = np.sqrt(shares * (1 - shares) / semesters)
        print(
            f"{kind:10s} wrong strong claim {shares[0]:.3f} (se {errors[0]:.3f})   "
            f"cause strong {shares[1]:.3f} (se {errors[1]:.3f})",
            flush=True,
        )


if __name__ == "__main__":
    main()
