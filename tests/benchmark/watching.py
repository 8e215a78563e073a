"""
Measure what watching promises: false alarms a semester, delays of detection.

    python tests/benchmark/watching.py

Standard errors are printed beside; draws have seeds of their own.
"""

from __future__ import annotations

import argparse

import numpy as np

from weakstep.charts.cusum_run_lengths import cusum_survival
from weakstep.watching.limits import FAST, FOR_COLUMNS, SLOW, column_limits, share_of, spread_scores
from weakstep.watching.monitor import sums_of
from weakstep.watching.scores import memory_of, new_scores


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
    parser.add_argument("--semesters", type=int, default=4000)
    watch(parser.parse_args().semesters)
