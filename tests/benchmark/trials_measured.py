"""
Measure what trials with a measured outcome promise, tests for a bend, and crossed parameters.

    python tests/benchmark/trials_measured.py power   claimed power, coverage of the difference
    python tests/benchmark/trials_measured.py bends   how often luck alone bends a straight line
    python tests/benchmark/trials_measured.py crossed  one parameter beside a strong one

Chips are nested in runs and runs in blocks; standard errors are printed beside, draws have seeds.
"""

from __future__ import annotations

import argparse

import numpy as np

from weakstep.interval import Interval
from weakstep.trials.bends import rate_apart
from weakstep.trials.effects import numeric_effects
from weakstep.trials.filled import TrialRuns
from weakstep.trials.means import runs_for_means, scatter_of_means
from weakstep.trials.power import nested_failures, randomisation_p, simulated_mean_power

MEASURED_SETTINGS = [
    # chips of the log's runs, chips of the trial's, correlation, difference (sd of chips), blocks
    (3, 3, 0.4, 1.0, 1),
    (3, 3, 0.4, 1.0, 4),
    (2, 5, 0.2, 0.6, 3),
    (5, 1, 0.5, 1.2, 3),
    (4, 2, 0.0, 0.8, 2),
    (3, 3, 0.7, 1.5, 6),
]
BEND_SETTINGS = [
    # failure rates at three levels on a line, runs at each, chips, correlation
    ((0.5, 0.3, 0.1), 13, 3, 0.3),
    ((0.2, 0.2, 0.2), 13, 3, 0.3),
    ((0.09, 0.05, 0.01), 30, 3, 0.2),
    ((0.3, 0.2, 0.1), 40, 1, 0.0),
    ((0.8, 0.5, 0.2), 6, 5, 0.2),
    ((0.2, 0.2, 0.2), 5, 1, 0.0),
    ((0.9, 0.5, 0.1), 4, 3, 0.9),
]
LOG_RUNS = 100
DAY_SPREAD = 0.5  # standard deviation between blocks of the trial, in those of chips


def drawn(
    rng: np.random.Generator, runs: int, chips: int, correlation: float
) -> tuple[np.ndarray, np.ndarray]:
    """Draw chips of standard deviation 1 nested in runs, shape (runs * chips,), and their run."""
    run = np.repeat(np.arange(runs), chips)
    own = rng.normal(0.0, np.sqrt(correlation), runs)[run]
    return own + rng.normal(0.0, np.sqrt(1.0 - correlation), runs * chips), run


def power(trials: int) -> None:
    """
    Print the power foretold from a log, and the share of trials that show the difference.

    The size comes from the true scatter; the scatter that a log tells stands beside, as the mean of
    its ratio to the true one and the standard deviation of that ratio.
    """
    rng = np.random.default_rng(51)
    print("log trial  rho   diff blocks  runs  claimed  shown  covered  log's scatter / true (sd)")
    for before, chips, correlation, difference, blocks in MEASURED_SETTINGS:
        true = np.sqrt(correlation + (1.0 - correlation) / chips)
        told = [
            scatter_of_means(*drawn(rng, LOG_RUNS, before, correlation), chips)[0] / true
            for _ in range(400)
        ]
        runs = blocks * -(-runs_for_means(difference, true) // blocks)
        claimed = simulated_mean_power(difference, true, runs, blocks=blocks)
        block = np.tile(np.arange(runs) % blocks, 2)
        level = np.repeat([-1.0, 1.0], runs)
        shown = held = 0
        for trial in range(trials):
            values, run = drawn(rng, 2 * runs, chips, correlation)
            mean = np.bincount(run, weights=values) / chips + difference / 2.0 * level
            mean += rng.normal(0.0, DAY_SPREAD, blocks)[block]
            shown += randomisation_p(mean[None, :], level, block, trial)[0] <= 0.05
            only = [(frozenset({1}),)]
            found = numeric_effects(level[:, None], mean, only, block)[0].estimate
            held += found.lower <= difference <= found.upper
        print(
            f"{before:3} {chips:5} {correlation:4} {difference:6} {blocks:6} {runs:5} "
            f"{claimed:8.3f} {shown / trials:6.3f} {held / trials:8.3f} "
            f" {np.mean(told):.3f} ({np.std(told):.3f})",
            flush=True,
        )
    print(f"standard errors: shown {np.sqrt(0.16 / trials):.3f}, covered "
          f"{np.sqrt(0.0475 / trials):.3f}")  # fmt: skip


def holds_0(interval: Interval) -> bool:
    """Whether an interval leaves room for no difference."""
    return interval.lower <= 0.0 <= interval.upper


def bends(trials: int) -> None:
    """Print how often rates on a straight line are said to bend at 5 %."""
    rng = np.random.default_rng(53)
    print(f"rates              runs chips  rho  said to bend (se {np.sqrt(0.0475 / trials):.4f})")
    for rates, runs, chips, correlation in BEND_SETTINGS:
        coded = np.repeat([-1.0, 0.0, 1.0], runs)[:, None]
        block, tested = np.zeros(3 * runs, dtype=np.intp), np.full(3 * runs, chips)
        said = 0
        for _ in range(trials):
            lost = nested_failures(rng, np.repeat(rates, runs), chips, correlation, (3 * runs,))
            done = TrialRuns(coded, block, lost.astype(int), tested, None)
            said += not holds_0(rate_apart(done, coded[:, 0] == 0.0, 0.95))
        print(f"{rates!s:18} {runs:4} {chips:5} {correlation:4} {said / trials:10.3f}", flush=True)


def crossed(trials: int) -> None:
    """
    Print how often one of two crossed parameters is shown, without and with an effect of its own.

    The other has an effect of some logits from level to level, which is taken out or left in. Four
    combinations in each block, three chips a run with a correlation of 0.3.
    """
    rng = np.random.default_rng(57)
    print("blocks other  none: taken out, left in   2 logits: taken out, left in")
    corners = np.array([[a, b] for a in (-1.0, 1.0) for b in (-1.0, 1.0)])
    for blocks in (3, 8):
        coded, block = np.tile(corners, (blocks, 1)), np.repeat(np.arange(blocks), 4)
        tested = np.full(len(coded), 3)
        for other in (0.0, 1.5, 3.0):
            shown = np.zeros((2, 2))
            for own, size in enumerate((0.0, 2.0)):
                odds = -1.0 + coded @ [size / 2.0, other / 2.0]
                rates = 1.0 / (1.0 + np.exp(-odds))
                for trial in range(trials):
                    lost = nested_failures(rng, rates, 3, 0.3, rates.shape).astype(int)
                    done = TrialRuns(coded, block, lost, tested, None).outcome[None, :]
                    shown[own] += [
                        randomisation_p(done, coded[:, 0], block, trial, others)[0] <= 0.05
                        for others in (coded[:, 1:], None)
                    ]
            told = " ".join(f"{share:8.3f}" for share in (shown / trials).ravel())
            print(f"{blocks:6} {other:5}  {told}", flush=True)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("what", choices=["power", "bends", "crossed"])
    parser.add_argument("--trials", type=int, default=4000)
    options = parser.parse_args()
    {"power": power, "bends": bends, "crossed": crossed}[options.what](options.trials)
