"""
Measure what trials, comparisons and trends promise.

    python tests/benchmark/trials.py power      claimed against simulated power, 20 settings
    python tests/benchmark/trials.py compare    coverage of the difference, chips nested in runs
    python tests/benchmark/trials.py held       the same with operators held by the model
    python tests/benchmark/trials.py effects    coverage of crossed effects, chips nested in runs
    python tests/benchmark/trials.py semesters  false trends, coverage of the odds by semester

Standard errors are printed beside; draws have seeds of their own.
"""

from __future__ import annotations

import argparse
import itertools
from collections.abc import Callable

import numpy as np
import pandas as pd

from weakstep.interval import Interval
from weakstep.process.load import load_process
from weakstep.semesters.trend import family_trend
from weakstep.trials.bends import combinations_of
from weakstep.trials.designs import aliases, suitable
from weakstep.trials.differences import newcombe_difference
from weakstep.trials.effects import failure_effects
from weakstep.trials.moved import allowed_for
from weakstep.trials.nested import nesting
from weakstep.trials.periods import Periods
from weakstep.trials.power import nested_failures, runs_at_each_level, simulated_power
from weakstep.trials.shares import beta_limits

POWER_SETTINGS = [
    (rates, chips, correlation)
    for rates in [(0.5, 0.1), (0.3, 0.1), (0.25, 0.08), (0.6, 0.3), (0.2, 0.05)]
    for chips, correlation in [(1, 0.0), (2, 0.2), (3, 0.3), (5, 0.1)]
]
A_BLOCK = 2  # runs at each level in a block, both in the claim and in the check
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
    # hardest found: few runs, unequal, and hardly a failure to learn the correlation from
    (20, 8, 0.02, 0.10, 0.6, UNEQUAL),
    (60, 25, 0.02, 0.10, 0.15, UNEQUAL),
    (40, 15, 0.30, 0.02, 0.3, TYPICAL),
    (80, 20, 0.03, 0.10, 0.3, TYPICAL),
]


EFFECT_SETTINGS = [
    # factors, repeats, chips, rate, correlation, effect (log odds ratio)
    (2, 4, 3, 0.2, 0.3, 0.0),
    (2, 4, 3, 0.2, 0.3, 1.5),
    (3, 3, 3, 0.3, 0.2, 1.0),
    (5, 2, 4, 0.2, 0.2, 0.0),
    (5, 2, 4, 0.1, 0.2, 2.0),
    (4, 4, 2, 0.05, 0.0, 2.0),
]
TREND_SETTINGS = [
    # semesters, runs in each, rate, correlation, hands, their spread, slope (log odds per semester)
    (2, 60, 0.17, 0.3, "same", 0.3, 0.0),
    (3, 40, 0.2, 0.2, "same", 0.3, 0.0),
    (3, 60, 0.2, 0.2, "same", 0.3, -0.6),
    (4, 30, 0.1, 0.3, "same", 0.3, 0.0),
    # as many new operators in each semester
    (3, 40, 0.2, 0.2, "4", 0.3, 0.0),
    (3, 40, 0.2, 0.2, "4", 0.6, 0.0),
    (2, 60, 0.2, 0.2, "3", 0.3, 0.0),
    (2, 60, 0.2, 0.2, "3", 0.6, 0.0),
    (2, 60, 0.2, 0.2, "6", 0.6, 0.0),
    (2, 60, 0.25, 0.2, "3", 0.3, -1.2),
    (5, 30, 0.15, 0.2, "3", 0.6, 0.0),
    (5, 50, 0.15, 0.2, "4", 0.3, -0.3),
]


def power() -> None:
    """Print claimed power, and the share of 20 000 other trials that show the difference."""
    print("rates        chips  rho   runs  claimed  simulated  (se 0.3 points)")
    worst = 0.0
    for (rates, chips, correlation), seed in zip(POWER_SETTINGS, itertools.count(900)):
        found = runs_at_each_level(
            rates, chips=chips, correlation=correlation, step=A_BLOCK, a_block=A_BLOCK
        )
        assert found is not None
        runs, claimed = found
        again = simulated_power(
            rates,
            runs,
            chips=chips,
            correlation=correlation,
            blocks=runs // A_BLOCK,
            seed=seed,
            trials=20_000,
        )
        worst = max(worst, abs(claimed - again))
        print(f"{rates!s:12} {chips:5} {correlation:5} {runs:5} {claimed:8.3f} {again:8.3f}")
    print(f"largest difference {100 * worst:.1f} points")


def drawn(
    rng: np.random.Generator, setting: tuple[int, int, float, float, float, tuple[int, ...]]
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Draw failed and tested chips of the runs of a setting, and which of them come after."""
    first, second, rate, later, correlation, sizes = setting
    after = np.arange(first + second) >= first
    chips = rng.choice(sizes, first + second)
    rates = np.where(after, later, rate)
    failed = nested_failures(rng, rates, chips, correlation, rates.shape)
    return failed.astype(int), chips, after


def compare(semesters: int) -> None:
    """Print the share of intervals that hold the true difference."""
    rng = np.random.default_rng(31)

    def interval(failed: np.ndarray, chips: np.ndarray, after: np.ndarray, _: int) -> Interval:
        nested = nesting(failed, chips, after)
        before, since = (
            (failed[group].sum() / effect, chips[group].sum() / effect)
            for group, effect in zip((~after, after), nested.effects, strict=True)
        )
        return newcombe_difference(since, before, freedom=nested.freedom, limits=beta_limits)

    covered(rng, semesters, interval)


def held(semesters: int) -> None:
    """Print the same for the interval of the model, which holds operators (there is one here)."""
    rng = np.random.default_rng(37)

    def interval(
        failed: np.ndarray, chips: np.ndarray, after: np.ndarray, seed: int
    ) -> Interval | None:
        runs = len(after)
        periods = Periods(
            load_process(),
            ("before", "since"),
            after,
            chips,
            {"bond": failed},
            np.full(runs, ""),
            np.zeros(runs, dtype=int),
            pd.DataFrame(index=range(runs)),
        )
        return allowed_for(periods, failed, (), seed=seed)

    covered(rng, semesters, interval)


def covered(
    rng: np.random.Generator,
    semesters: int,
    interval: Callable[[np.ndarray, np.ndarray, np.ndarray, int], Interval | None],
) -> None:
    """Print how often an interval holds the true difference; none at all is no miss."""
    print(f"before after  rates        rho  chips  coverage (se {np.sqrt(0.0475 / semesters):.4f})")
    for setting in COMPARE_SETTINGS:
        first, second, rate, later, correlation, sizes = setting
        held = 0
        for trial in range(semesters):
            found = interval(*drawn(rng, setting), trial)
            held += found is None or found.lower <= later - rate <= found.upper
        print(
            f"{first:6} {second:5}  {rate:.2f} {later:.2f}  {correlation:5}  "
            f"1-{max(sizes):<3} {held / semesters:9.3f}",
            flush=True,
        )


def effects(semesters: int) -> None:
    """Print the share of intervals of single parameters' effects that hold the true odds ratio."""
    rng = np.random.default_rng(41)
    print(f"factors runs chips  rate  rho  effect  coverage (se {np.sqrt(0.0475 / semesters):.4f})")
    for factors, repeats, chips, rate, correlation, size in EFFECT_SETTINGS:
        design = suitable(factors)
        coded = np.tile(design.coded, (repeats, 1))
        groups = aliases(design, factors)[:factors]
        base = np.log(rate / (1.0 - rate))
        held = 0
        for _ in range(semesters):
            odds = base + size / 2.0 * coded[:, 0]
            rates = 1.0 / (1.0 + np.exp(-odds))
            lost = nested_failures(rng, rates, chips, correlation, rates.shape)
            seen = np.full(len(coded), chips)
            nested = nesting(lost.astype(int), seen, combinations_of(coded))
            found = failure_effects(
                coded, lost, seen, groups, design_effect=float(np.mean(nested.effects))
            )[0].estimate
            held += found.lower <= size <= found.upper
        print(
            f"{factors:7} {len(coded):4} {chips:5}  {rate:4} {correlation:4}  {size:6} "
            f"{held / semesters:9.3f}"
        )


def semesters_trend(semesters: int) -> None:
    """
    Print the share of logs that luck alone would call a trend, and that are called one.

    Called are those in which luck is unlikely and the odds exclude 1; beside stands how often the
    odds by semester hold their true value. Operators differ by *spread* logits.
    """
    rng = np.random.default_rng(43)
    print("semesters runs rate rho hands spread  slope  unlucky  called  coverage")
    for count, runs, rate, correlation, hands, spread, slope in TREND_SETTINGS:
        each = 4 if hands == "same" else int(hands)
        place = np.repeat(np.arange(count), runs)
        odds = np.log(rate / (1.0 - rate)) + slope * (place - place.mean())
        unlucky = called = held = 0
        for trial in range(semesters):
            chips = rng.integers(1, 5, len(place))
            who = rng.integers(0, each, len(place)) + (0 if hands == "same" else each * place)
            own = rng.normal(0.0, spread, who.max() + 1)[who]
            rates = 1 / (1 + np.exp(-odds - own))
            failed = nested_failures(rng, rates, chips, correlation, rates.shape).astype(int)
            trend = family_trend(
                "bond", failed, chips, place, who.astype(str), count=count, seed=trial
            )
            found = trend.odds_per_semester
            if found is None:
                continue
            unlucky += trend.luck <= 0.05
            called += trend.luck <= 0.05 and not found.lower <= 1.0 <= found.upper
            held += found.lower <= np.exp(slope) <= found.upper
        print(
            f"{count:9} {runs:4} {rate:4} {correlation:3} {hands:5} {spread:6} {slope:6} "
            f"{unlucky / semesters:8.3f} {called / semesters:7.3f} {held / semesters:9.3f}"
        )


COMMANDS = {"compare": compare, "held": held, "effects": effects, "semesters": semesters_trend}

if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("what", choices=[*COMMANDS, "power"])
    parser.add_argument("--semesters", type=int, default=4000)
    options = parser.parse_args()
    if options.what == "power":
        power()
    else:
        COMMANDS[options.what](options.semesters)
