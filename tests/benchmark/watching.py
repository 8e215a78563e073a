"""
Measure what watching promises: the chance of a false alarm a semester, and delays of detection.

    python tests/benchmark/watching.py                  all of it
    python tests/benchmark/watching.py alarms           false alarms of the whole watch
    python tests/benchmark/watching.py delays           delays beside the best possible ones

A semester is 110 runs of 20 parameters and three failure families behind a baseline of 60, 100 or
300 runs of the same law; asked is a chance of 5 % over all charts together. The scores, limits and
charts are those of the package, many semesters side by side. Draws have seeds of their own.
"""

from __future__ import annotations

import argparse
import itertools
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from watch_semesters import (
    CHANCE,
    KINDS,
    PARAMETERS,
    RUNS,
    drawn,
    failure_alarms,
    failure_baselines,
    joint_alarms,
    scored,
)

from weakstep.charts.cusum_run_lengths import cusum_survival
from weakstep.watching.limits import FOR_COLUMNS, share_of
from weakstep.watching.scores import sequential_scores

BASELINES = (60, 100, 300)
AT_ONCE = 250  # semesters
LONGEST = {1.0: 200, 2.0: 60}  # runs after the change; a delay counts at most as this


def percent(alarms: np.ndarray) -> str:
    """Return a share in % with its standard error."""
    share = alarms.mean()
    return f"{100 * share:5.1f} ({100 * np.sqrt(share * (1 - share) / len(alarms)):.1f})"


def alarms(semesters: int, kinds: tuple[str, ...], baselines: tuple[int, ...], seed: int) -> None:
    """Print the chance of any false alarm a semester, by kind of parameters and baseline."""
    print(
        f"False alarms in % of semesters (standard error); asked {100 * CHANCE:.0f} for the whole"
    )
    print(f"{'parameters':12} baseline   whole        parameters   failures     joint     seconds")
    for before in baselines:
        charts = failure_baselines(before, min(200, semesters), seed=seed + before)
        for kind in kinds:
            began = time.process_time()
            rng = np.random.default_rng([seed, before, KINDS.index(kind)])
            parts: list[np.ndarray] = []
            for _ in range(max(1, semesters // AT_ONCE)):
                size = min(AT_ONCE, semesters)
                found = scored(drawn(rng, kind, before + RUNS, size), before)
                columns = found.over.any(axis=0).reshape(size, PARAMETERS).any(axis=1)
                failures = failure_alarms(rng, charts, size)
                charts = charts[size % len(charts) :] + charts[: size % len(charts)]
                parts.append(np.stack([columns, failures, joint_alarms(found, before, size)]))
            each = np.concatenate(parts, axis=1)
            shares = "  ".join(percent(row) for row in (each.any(axis=0), *each))
            print(f"{kind:12} {before:8}  {shares}  {time.process_time() - began:5.0f}", flush=True)


def best_limit(allowance: float, each: float) -> float:
    """Return the limit of two one-sided sums that join to the chance of one parameter."""
    low, high = 1.0, 20.0
    for _ in range(50):
        middle = (low + high) / 2.0
        passed = 1.0 - cusum_survival(RUNS, allowance, middle)[-1] ** 2
        low, high = (middle, high) if passed > each else (low, middle)
    return high


def page_sums(scores: np.ndarray, known: float, allowance: float) -> np.ndarray:
    """
    Return the larger of the two one-sided cumulative sums after each score, over all its starts.

    Scores are held against *known* values and all new ones before them, so that a change that
    began *j* scores ago raises each by less the longer it lasts.
    """
    shifted, squares = np.zeros(scores.shape), np.zeros((len(scores), 1))
    found = np.empty(scores.shape)
    before = known + np.arange(len(scores))
    for run in range(len(scores)):
        c = (before[: run + 1] / np.sqrt((known + run) * (known + run + 1.0)))[:, None]
        shifted[: run + 1] += c * scores[run]
        squares[: run + 1] += c * c
        cost = allowance * squares[: run + 1]
        found[run] = (np.abs(shifted[: run + 1]) - cost).max(axis=0)
    return found


def first_after(over: np.ndarray, change: int, longest: int) -> tuple[float, float]:
    """Mean delay of a signal, runs without an earlier one only, and its standard error."""
    at = np.where(over.any(axis=0), over.argmax(axis=0), len(over))
    delay = np.minimum(at[at >= change] - change + 1, longest)
    return float(delay.mean()), float(delay.std() / np.sqrt(len(delay)))


def delays(semesters: int, seed: int) -> None:
    """Print delays of one parameter of 20 beside the two best ones for its chance of a semester."""
    each = share_of(CHANCE, FOR_COLUMNS, PARAMETERS)
    print(f"Mean runs to detection, the chance of a parameter being {100 * each:.3f} % a semester")
    print("  known: the best CUSUM for that shift, mean, spread and memory known")
    print("  same ignorance: the best for that shift by the baseline's values, memory known")
    print(
        "  neither begins ahead, as watch's evidence does: a change at 0 may come earlier by these"
    )
    print("  scores: as watch chooses them, or by ranks for all")
    print("shift baseline scores change at  delay (se)    / known   / same ignorance   of these")
    for shift, before, change in itertools.product((1.0, 2.0), (60, 100, 300, 1000), (0, 50)):
        longest = LONGEST[shift]
        count = max(20, semesters // (10 if before >= 1000 else 1))
        rng = np.random.default_rng([seed, before, change, int(shift)])
        z = rng.standard_normal((before + change + longest, count, PARAMETERS))
        z[before + change :] += shift
        flat = z.reshape(len(z), -1)
        limit = best_limit(shift / 2.0, each)
        known = page_sums(flat[before:], 1e9, shift / 2.0)
        best, _ = first_after(known > limit, change, longest)
        exact = sequential_scores(flat[:before], flat[before:], normal=True)
        fair, _ = first_after(page_sums(exact, before, shift / 2.0) > limit, change, longest)
        for ranks in (False, True):
            found = scored(z, before, ranks_only=ranks)
            mean, error = first_after(found.over, change, longest)
            print(
                f"{shift:5} {before:8} {'ranks ' if ranks else 'chosen'} {change:9}  "
                f"{mean:6.1f} ({error:.1f}) {mean / best:8.3f} {mean / fair:12.3f}  "
                f"{best:12.1f} {fair:6.1f}",
                flush=True,
            )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("what", nargs="?", choices=["all", "alarms", "delays"], default="all")
    parser.add_argument("--semesters", type=int, default=2000)
    parser.add_argument("--kinds", nargs="*", default=KINDS, choices=KINDS)
    parser.add_argument("--baselines", nargs="*", type=int, default=BASELINES)
    parser.add_argument("--seed", type=int, default=40)
    options = parser.parse_args()
    if options.what != "delays":
        alarms(options.semesters, tuple(options.kinds), tuple(options.baselines), options.seed)
    if options.what != "alarms":
        delays(options.semesters // 10, options.seed)
