"""
Measure what trials, comparisons and watching promise.

    python tests/benchmark/trials.py power      claimed against simulated power, 20 settings
    python tests/benchmark/trials.py compare    coverage of the difference, chips nested in runs
    python tests/benchmark/trials.py watch      false alarms a semester, delays of detection

Standard errors are printed beside; draws have seeds of their own.
"""

from __future__ import annotations

import argparse
import itertools

import numpy as np

from weakstep.charts.cusum_run_lengths import cusum_survival
from weakstep.trials.power import nested_failures, runs_at_each_level, simulated_power
from weakstep.trials.rates import nesting, newcombe_difference
from weakstep.watching.limits import FAST, FOR_COLUMNS, SLOW, column_limits, share_of, spread_scores
from weakstep.watching.monitor import sums_of
from weakstep.watching.scores import memory_of, new_scores

POWER_SETTINGS = [
    (rates, chips, correlation)
    for rates in [(0.5, 0.1), (0.3, 0.1), (0.25, 0.08), (0.6, 0.3), (0.2, 0.05)]
    for chips, correlation in [(1, 0.0), (2, 0.2), (3, 0.3), (5, 0.1)]
]
TYPICAL = (1, 2, 3, 4)  # chips of a run, each as often
UNEQUAL = (1, 1, 1, 2, 2, 3, 6, 12, 24)
COMPARE_SETTINGS = [
    # runs before and after, rates, correlation, chips of a run
    (60, 60, 0.20, 0.10, 0.3, TYPICAL),
    (40, 20, 0.20, 0.10, 0.3, TYPICAL),
    (80, 40, 0.17, 0.05, 0.2, TYPICAL),
    (30, 15, 0.30, 0.30, 0.4, TYPICAL),
    (100, 50, 0.10, 0.10, 0.0, TYPICAL),
    (60, 30, 0.20, 0.02, 0.3, TYPICAL),
    (20, 10, 0.20, 0.20, 0.5, TYPICAL),
    (50, 50, 0.40, 0.20, 0.2, TYPICAL),
    (110, 25, 0.15, 0.15, 0.3, TYPICAL),
    # few runs
    (12, 6, 0.30, 0.10, 0.3, TYPICAL),
    (8, 8, 0.25, 0.25, 0.3, TYPICAL),
    (60, 5, 0.20, 0.20, 0.3, TYPICAL),
    # rates near 0
    (80, 40, 0.05, 0.01, 0.2, TYPICAL),
    (100, 100, 0.02, 0.02, 0.2, TYPICAL),
    (60, 30, 0.03, 0.03, 0.4, TYPICAL),
    # chips of a run nearly always alike
    (60, 30, 0.20, 0.10, 0.7, TYPICAL),
    (40, 40, 0.30, 0.30, 0.9, TYPICAL),
    # unequal runs
    (60, 30, 0.20, 0.10, 0.1, UNEQUAL),
    (60, 30, 0.20, 0.10, 0.3, UNEQUAL),
    (30, 15, 0.15, 0.15, 0.2, UNEQUAL),
    (80, 40, 0.05, 0.05, 0.3, UNEQUAL),
]


def power() -> None:
    """Print claimed power, and the share of 20 000 other trials that show the difference."""
    print("rates        chips  rho   runs  claimed  simulated  (se 0.3 points)")
    worst = 0.0
    for (rates, chips, correlation), seed in zip(POWER_SETTINGS, itertools.count(900)):
        found = runs_at_each_level(rates, chips=chips, correlation=correlation, step=2)
        assert found is not None
        runs, claimed = found
        again = simulated_power(
            rates,
            runs,
            chips=chips,
            correlation=correlation,
            blocks=runs // 2,
            seed=seed,
            trials=20_000,
        )
        worst = max(worst, abs(claimed - again))
        print(f"{rates!s:12} {chips:5} {correlation:5} {runs:5} {claimed:8.3f} {again:8.3f}")
    print(f"largest difference {100 * worst:.1f} points")


def compare(semesters: int) -> None:
    """Print the share of intervals that hold the true difference."""
    rng = np.random.default_rng(31)
    print(f"before after  rates        rho  chips  coverage (se {np.sqrt(0.0475 / semesters):.4f})")
    for first, second, rate, later, correlation, sizes in COMPARE_SETTINGS:
        after = np.arange(first + second) >= first
        held = 0
        for _ in range(semesters):
            chips = rng.choice(sizes, first + second)
            failed = np.zeros(first + second, dtype=int)
            for size in set(sizes):
                for group, p in ((~after, rate), (after, later)):
                    some = group & (chips == size)
                    failed[some] = nested_failures(rng, p, size, correlation, (int(some.sum()),))
            nested = nesting(failed, chips, after)
            counts = [
                (failed[g].sum() / effect, chips[g].sum() / effect)
                for g, effect in zip((~after, after), nested.effects, strict=True)
            ]
            found = newcombe_difference(counts[1], counts[0], freedom=nested.freedom)
            held += found.lower <= later - rate <= found.upper
        print(
            f"{first:6} {second:5}  {rate:.2f} {later:.2f}  {correlation:5}  "
            f"1-{max(sizes):<3} {held / semesters:9.3f}"
        )


def drawn(rng: np.random.Generator, kind: str, columns: int, values: int) -> np.ndarray:
    """Return values of a stable bench, shape (columns, values)."""
    z = rng.standard_normal((columns, values))
    if kind == "correlated":
        return np.sqrt(0.5) * (z + rng.standard_normal(values))
    if kind == "skewed":
        return np.exp(0.8 * z)
    if kind == "heavy tails":
        return rng.standard_t(3, (columns, values))
    if kind == "memory 0.3":
        for place in range(1, values):
            z[:, place] = 0.3 * z[:, place - 1] + np.sqrt(1 - 0.09) * z[:, place]
    return z


def signals(values: np.ndarray, before: int, each: float) -> list[int]:
    """Return where the five sums of one parameter first pass, in new runs; empty when none does."""
    limits = column_limits(before, len(values) - before, each, normal=False)
    memory = memory_of(values[:before])
    score = new_scores(values[:before], values[before:], normal=False, memory=memory)
    quiet = np.zeros(len(score), dtype=bool)
    charts = [
        (sign * score - allowance, limit)
        for sign in (1, -1)
        for allowance, limit in ((SLOW, limits.slow), (FAST, limits.fast))
    ]
    charts.append((spread_scores(score) - SLOW, limits.spread))
    passed = [found[0][1] for steps, h in charts if (found := sums_of(steps, h, quiet))]
    return [min(passed)] if passed else []


def watch(semesters: int) -> None:
    """Print the chance of a false alarm on any of 20 parameters, and delays of detection."""
    before, runs, columns = 100, 110, 20
    each = share_of(0.05, FOR_COLUMNS, columns)
    print(f"asked: {100 * 0.05 * FOR_COLUMNS:.1f} % for 20 parameters (0.8 of 5 %)")
    for kind in ("independent", "correlated", "skewed", "heavy tails", "memory 0.3"):
        rng = np.random.default_rng(57)
        alarms = 0
        for _ in range(semesters):
            for values in drawn(rng, kind, columns, before + runs):
                if signals(values, before, each):
                    alarms += 1
                    break
        share = alarms / semesters
        error = np.sqrt(share * (1 - share) / semesters)
        print(f"{kind:12} any false alarm {100 * share:5.1f} % (se {100 * error:.1f})")
    delays(before, runs, each)


def delays(before: int, runs: int, each: float) -> None:
    """Print delays against the best CUSUM of known mean and spread at the same chance."""
    print("shift  baseline  delay (mean)  found   best CUSUM, all known")
    for shift, allowance in ((1.0, 0.5), (2.0, 1.0)):
        best = best_limit(allowance, runs, each)
        for count in (before, 1000):
            rng = np.random.default_rng(58)
            found, known = [], []
            for _ in range(2000):
                values = rng.standard_normal(count + runs)
                values[count:] += shift
                hit = signals(values, count, each)
                found += [hit[0] + 1] if hit else [runs]
                ideal = sums_of(values[count:] - allowance, best, np.zeros(runs, dtype=bool))
                known.append(ideal[0][1] + 1 if ideal else runs)
            share = np.mean(np.array(found) < runs)
            print(
                f"{shift:5} {count:9} {np.mean(found):10.1f} {100 * share:9.1f} % "
                f"{np.mean(known):10.1f}"
            )


def best_limit(allowance: float, runs: int, each: float) -> float:
    """Return the limit of two one-sided sums that join to the chance of one parameter."""
    low, high = 1.0, 20.0
    for _ in range(50):
        middle = (low + high) / 2.0
        passed = 1.0 - cusum_survival(runs, allowance, middle)[-1] ** 2
        low, high = (middle, high) if passed > each else (low, middle)
    return high


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("what", choices=["power", "compare", "watch"])
    parser.add_argument("--semesters", type=int, default=4000)
    options = parser.parse_args()
    if options.what == "power":
        power()
    elif options.what == "compare":
        compare(options.semesters)
    else:
        watch(options.semesters)
