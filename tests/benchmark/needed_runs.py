"""
Whether logs of the recommended length show a doubling as often as was foretold.

    python tests/benchmark/needed_runs.py [LOGS [KIND ...]]

For each kind of bench LOGS short logs (110 runs) in which nothing matters say how many runs would
show a parameter whose upper half fails twice as often as its lower half, with a chance of 80 %.
Each is taken at its word: two logs of that length are made of the same bench with the same
operators, a doubling is planted in one parameter of each, and the screen of the review itself is
asked. Printed: the median and middle half of the recommended lengths, the share of long logs in
which the planted parameter is strong, with its standard error over short logs, and the CPU time of
one answer. KIND: words of one bench, as "few parameters".
"""

from __future__ import annotations

import argparse
import time
from types import SimpleNamespace

import numpy as np
import pandas as pd
from scipy.signal import lfilter

from weakstep.failures.candidates import Candidate, gather, pool_small_strata
from weakstep.failures.links import Outcomes
from weakstep.failures.needed import runs_needed
from weakstep.failures.permuting import draw_orders
from weakstep.failures.planting import planted_rate, upper_half
from weakstep.failures.screen import screen
from weakstep.process.model import Parameter

SHORT, RUNS_A_WEEK, MOST_RUNS = 110, 7, 6000
FIRST_SEED = 1000
LONG_LOGS = 2
# parameters, operators, failure rate, spread (logits) of operators, of weeks and of runs
BENCHES = {
    "2 operators, 20 %": (16, 2, 0.20, 0.4, 0.0, 0.3),
    "2 operators, 5 %": (8, 2, 0.05, 0.4, 0.0, 0.3),
    "8 operators, 20 %": (16, 8, 0.20, 0.4, 0.0, 0.3),
    "8 operators, 5 %": (8, 8, 0.05, 0.4, 0.0, 0.3),
    "runs together": (20, 6, 0.17, 0.5, 0.0, 0.6),
    "few parameters": (4, 3, 0.17, 0.5, 0.0, 0.3),
    "drifting": (16, 5, 0.20, 0.4, 0.3, 0.3),
}


def bench(kind: str, runs: int, people: np.ndarray, rng: np.random.Generator):
    """Return values, operators, chips and failure rates of one log; *people* differ by logits."""
    parameters, _, rate, _, weekly, within = BENCHES[kind]
    operator = rng.integers(0, len(people), runs)
    values = rng.normal(size=(runs, parameters))
    if kind == "drifting":
        values[:, ::4] = lfilter([0.3], [1.0, -0.95], values[:, ::4], axis=0)
    values[:, ::2] = np.exp(0.5 * values[:, ::2])
    values[:, 1] = np.round(values[:, 1])
    eta = np.log(rate / (1.0 - rate)) + people[operator] + rng.normal(0.0, within, runs)
    eta += rng.normal(0.0, weekly, runs // RUNS_A_WEEK + 1)[np.arange(runs) // RUNS_A_WEEK]
    return values, operator, rng.integers(2, 4, runs), 1.0 / (1.0 + np.exp(-eta))


def asked(
    values: np.ndarray, operator: np.ndarray, tested: np.ndarray, failed: np.ndarray
) -> tuple[Outcomes, tuple[Candidate, ...], np.ndarray]:
    """Return outcomes, candidates and strata of a log."""
    described = tuple(
        Parameter(f"x{i}", f"x{i}", "step", "reading", "number") for i in range(values.shape[1])
    )
    table = pd.DataFrame(values, columns=[one.name for one in described])
    strata = pool_small_strata(operator.astype(str))
    # What `gather` asks of a process and of a table of runs.
    candidates, _ = gather(
        SimpleNamespace(parameters=described),  # type: ignore[arg-type]
        SimpleNamespace(numbers=table, categories=pd.DataFrame()),  # type: ignore[arg-type]
        strata,
    )
    week = np.arange(len(tested)) // RUNS_A_WEEK
    return Outcomes(tested, {"bond": failed}, operator.astype(str), week), candidates, strata


def recommended(kind: str, people: np.ndarray, rng: np.random.Generator) -> tuple[float, float]:
    """Return the length that a short log of this bench asks for, and the CPU time of the answer."""
    values, operator, tested, rate = bench(kind, SHORT, people, rng)
    outcomes, candidates, _ = asked(values, operator, tested, rng.binomial(tested, rate))
    start = time.process_time()
    needed = runs_needed(outcomes, candidates, np.random.default_rng(0))
    length = MOST_RUNS if needed is None or needed.runs is None else needed.runs.estimate
    return min(length, MOST_RUNS), time.process_time() - start


def shows(kind: str, runs: int, people: np.ndarray, rng: np.random.Generator) -> bool:
    """Return whether the screen calls the planted parameter strong in a log of this length."""
    values, operator, tested, rate = bench(kind, runs, people, rng)
    _, candidates, _ = asked(values, operator, tested, np.zeros(runs, dtype=int))
    uppers = {place: upper_half(one) for place, one in enumerate(candidates)}
    place = int(rng.choice([place for place, upper in uppers.items() if upper is not None]))
    failed = rng.binomial(tested, planted_rate(rate, tested, uppers[place], 2.0))
    outcomes, candidates, strata = asked(values, operator, tested, failed)
    links = screen(outcomes, candidates, draw_orders(strata, 399, rng))["bond"]
    return any(link.factor == place and link.evidence == "strong" for link in links)


def main() -> None:
    """Print one line a bench."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("logs", nargs="?", type=int, default=60)
    parser.add_argument("kinds", nargs="*", help="the words of a bench each")
    asked = parser.parse_args()
    logs = asked.logs
    for kind in asked.kinds or BENCHES:
        answers, shown = [], []
        for seed in range(logs):
            rng = np.random.default_rng([FIRST_SEED + seed, len(kind)])
            people = rng.normal(0.0, BENCHES[kind][3], BENCHES[kind][1])
            answers.append(recommended(kind, people, rng))
            runs = round(answers[-1][0])
            shown.append(np.mean([shows(kind, runs, people, rng) for _ in range(LONG_LOGS)]))
        lengths, times = np.array(answers).T
        few, middle, many = np.quantile(lengths, [0.25, 0.5, 0.75])
        error = np.std(shown, ddof=1) / np.sqrt(logs)
        print(
            f"{kind:18s} asks for {middle:.0f} runs ({few:.0f} to {many:.0f}); strong in "
            f"{np.mean(shown):.3f} of such logs (se {error:.3f}); "
            f"{np.median(times):.2f} s an answer",
            flush=True,
        )


if __name__ == "__main__":
    main()
