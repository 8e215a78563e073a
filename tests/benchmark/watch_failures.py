"""
Measure the failure charts of watch: chances against those asked, and delays of detection.

    python tests/benchmark/watch_failures.py            all of it
    python tests/benchmark/watch_failures.py alone      one chip a run: exact, nothing drawn
    python tests/benchmark/watch_failures.py chances    runs of 1 to 4 chips that fail together
    python tests/benchmark/watch_failures.py overlap    both sums of a chart together, simulated
    python tests/benchmark/watch_failures.py delays     runs until a change is told

Asked is what one of three charts may take of 5 %. For a true rate and correlation a sum's chance is
exact; it is averaged over baselines. Few baselines that show too few failures carry most of that
average, so that simulated semesters behind a few hundred baselines nearly always show less than it:
here such baselines are drawn more often, and weighed down by how much more often.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable

import numpy as np
from scipy.stats import binom

from weakstep.trials.power import nested_failures
from weakstep.watching.failing import FailureSum, failure_chance, failure_sums
from weakstep.watching.limits import FOR_FAILURES, share_of
from weakstep.watching.within_run import counts_law, open_rates

ASKED = share_of(0.05, FOR_FAILURES, 3)
RATES = (0.01, 0.03, 0.05, 0.1, 0.3)
SIZES = np.arange(1, 5)
# Baselines are drawn at the true rate and correlation, and at these parts of them.
DRAWN_AT = ((1.0, 1.0), (0.75, 0.6), (0.55, 0.4), (0.4, 0.4))
LONGEST = 300  # runs; a delay counts at most as this


def chances_of(
    charted: Iterable[FailureSum], rate: float, sizes: np.ndarray, correlation: float, runs: int
) -> np.ndarray:
    """Exact chance of each sum within so many runs."""
    one, together = np.array([rate]), np.array([correlation])
    return np.array([failure_chance(one, sizes, together, c, runs)[0] for c in charted])


def alone(lengths: Iterable[int]) -> None:
    """Print the chance over that asked, both sums added: the exact mean over all baselines."""
    print(
        "One chip a run, semesters as long as the baseline; chance / asked, both sums added, exact"
    )
    print("  a correlation is not seen: limits are for none")
    print("baseline  " + "".join(f"  rate {rate:<5}" for rate in RATES))
    for runs in lengths:
        seen = range(int(binom.ppf(1.0 - 1e-7, runs, max(RATES))) + 1)
        found = np.zeros(len(RATES))
        for failed in seen:
            counts = (np.arange(runs) < failed).astype(int)
            ones = np.ones(runs, dtype=int)
            charted = failure_sums(counts, ones, runs=runs, chance=ASKED)
            for place, rate in enumerate(RATES):
                exact = chances_of(charted, rate, ones, 0.0, runs).sum()
                found[place] += binom.pmf(failed, runs, rate) * exact
        print(f"{runs:8}  " + "".join(f"  {one:10.2f}" for one in found / ASKED), flush=True)


def drawn(rng: np.random.Generator, chips: np.ndarray, rate: float, together: float) -> np.ndarray:
    """Return failed chips of each run."""
    failed = np.zeros(len(chips), dtype=int)
    for size in SIZES:
        some = chips == size
        failed[some] = nested_failures(rng, rate, int(size), together, (int(some.sum()),))
    return failed


def log_likelihood(
    failed: np.ndarray, chips: np.ndarray, rates: np.ndarray, together: np.ndarray
) -> np.ndarray:
    """Of the counts at each rate and correlation."""
    logs = np.zeros(len(rates))
    for size in SIZES:
        counts = np.bincount(failed[chips == size], minlength=size + 1)
        logs += np.log(np.maximum(counts_law(rates, int(size), together), 1e-300)) @ counts
    return logs


def chances(
    lengths: Iterable[int], correlations: Iterable[float | None], count: int, seed: int
) -> None:
    """Print the mean chance over that asked, by rate and correlation, with standard errors."""
    print(
        "Runs of 1 to 4 chips, semesters as long as the baseline; chance / asked (standard error)"
    )
    print("baseline correlation" + "".join(f"   rate {rate:<7}" for rate in RATES))
    for runs in lengths:
        for correlation in correlations:
            cells = []
            for rate in RATES:
                rng = np.random.default_rng(
                    [
                        seed,
                        runs,
                        int(1000 * rate),
                        int(100 * (1.0 if correlation is None else correlation)),
                    ]
                )
                found = np.empty(count)
                for draw in range(count):
                    true = correlation
                    while true is None or true > 0.6:  # its law beforehand
                        true = rng.exponential(0.2)
                    chips = rng.choice(SIZES, runs)
                    rates, together = np.array(DRAWN_AT).T * np.array([[rate], [true]])
                    at = draw % len(DRAWN_AT)
                    failed = drawn(rng, chips, rates[at], together[at])
                    logs = log_likelihood(failed, chips, rates, together)
                    weight = len(DRAWN_AT) / np.exp(logs - logs[0]).sum()
                    charted = failure_sums(failed, chips, runs=runs, chance=ASKED)
                    found[draw] = weight * chances_of(charted, rate, SIZES, true, runs).sum()
                found /= ASKED
                cells.append(f"  {found.mean():6.2f} ({found.std() / np.sqrt(count):4.2f})")
            name = "its law" if correlation is None else f"{correlation:.1f}"
            print(f"{runs:8} {name:>11}" + "".join(cells), flush=True)


def first_signals(
    rng: np.random.Generator,
    charted: tuple[FailureSum, ...],
    rates: np.ndarray,
    together: np.ndarray,
    runs: int,
) -> np.ndarray:
    """Run at which each sum signals first, from 0, or *runs*; shape (n_sums, n_semesters)."""
    found = np.full((len(charted), len(rates)), runs)
    sums = np.zeros(found.shape)
    strength = (1.0 - together) / np.maximum(together, 1e-9)
    for run in range(runs):
        chips = rng.choice(SIZES, len(rates))
        own = np.where(together > 0.0, rng.beta(rates * strength, (1.0 - rates) * strength), rates)
        bad = rng.binomial(chips, own)
        for place, one in enumerate(charted):
            steps = one.for_failed * bad - one.for_good * (chips - bad)
            sums[place] = np.maximum(0.0, sums[place] + steps)
            found[place] = np.where(sums[place] > one.limit, np.minimum(found[place], run), runs)
    return found


def overlap(lengths: Iterable[int], seed: int) -> None:
    """Print how far the chance that either sum signals is below both chances added."""
    print("Chance that either sum signals / both chances added, for what a baseline leaves open")
    for runs in lengths:
        for rate in (0.03, 0.1, 0.3):
            rng = np.random.default_rng([seed, runs, int(1000 * rate)])
            chips = rng.choice(SIZES, runs)
            failed = drawn(rng, chips, rate, 0.2)
            charted = failure_sums(failed, chips, runs=runs, chance=0.02)
            left_open = open_rates(failed, chips)
            at = rng.choice(len(left_open.rates), 100_000, p=left_open.weights)
            first = first_signals(
                rng, charted, left_open.rates[at], left_open.correlations[at], runs
            )
            each, either = (first < runs).mean(axis=1), (first < runs).any(axis=0).mean()
            print(f"{runs:8} rate {rate:<5} {either / each.sum():.3f}", flush=True)


def delays(lengths: Iterable[int], baselines: int, seed: int) -> None:
    """Print mean runs until a change of the odds at the first new run is told, correlation 0.2."""
    print(f"Mean runs to detection, at most {LONGEST}; odds times 2, 3, 5; 90 % of chips fail")
    for runs in lengths:
        for rate in (0.03, 0.1, 0.2):
            rng = np.random.default_rng([seed, runs, int(1000 * rate)])
            worse = [odds * rate / (1.0 - rate + odds * rate) for odds in (2, 3, 5)] + [0.9]
            found = np.empty((baselines, len(worse)))
            for one in range(baselines):
                chips = rng.choice(SIZES, runs)
                charted = failure_sums(drawn(rng, chips, rate, 0.2), chips, runs=runs, chance=ASKED)
                for place, now in enumerate(worse):
                    first = first_signals(
                        rng, charted, np.full(200, now), np.full(200, 0.2), LONGEST
                    )
                    found[one, place] = np.minimum(first.min(axis=0) + 1, LONGEST).mean()
            error = found.std(axis=0) / np.sqrt(baselines)
            cells = "".join(
                f"{m:8.1f} ({e:.1f})" for m, e in zip(found.mean(axis=0), error, strict=True)
            )
            print(f"{runs:8} rate {rate:<5}{cells}", flush=True)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    kinds = ["all", "alone", "chances", "overlap", "delays"]
    parser.add_argument("what", nargs="?", choices=kinds, default="all")
    parser.add_argument("--baselines", type=int, default=200, help="drawn a cell")
    parser.add_argument("--lengths", nargs="*", type=int, default=(60, 100, 300))
    parser.add_argument("--seed", type=int, default=70)
    options = parser.parse_args()
    if options.what in ("all", "alone"):
        alone(options.lengths)
    if options.what in ("all", "chances"):
        laws = (None, 0.0, 0.1, 0.2, 0.4)
        chances(options.lengths, laws, options.baselines, options.seed)
    if options.what in ("all", "overlap"):
        overlap(options.lengths, options.seed)
    if options.what in ("all", "delays"):
        delays(options.lengths, max(10, options.baselines // 5), options.seed)
