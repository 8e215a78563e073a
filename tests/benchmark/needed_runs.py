"""
Whether logs of the recommended length show a doubling as often as was foretold.

    python tests/benchmark/needed_runs.py [LOGS]

For each kind of bench a short log (110 runs) in which nothing matters says how many runs would
show a parameter whose upper half fails twice as often as its lower half, with a chance of 80 %.
Then logs of that length from the same bench are made, a doubling is planted in one parameter of
each, and the screen of the review itself is asked. Printed: the median and middle half of the
recommended lengths, the share of long logs in which the planted parameter is strong, with its
standard error, and the CPU time of one answer.
"""

from __future__ import annotations

import sys
import time
from types import SimpleNamespace

import numpy as np
import pandas as pd

from weakstep.failures.candidates import Candidate, gather, pool_small_strata
from weakstep.failures.links import Outcomes
from weakstep.failures.needed import runs_needed
from weakstep.failures.permuting import draw_orders
from weakstep.failures.planting import planted_rate, upper_half
from weakstep.failures.screen import screen
from weakstep.process.model import Parameter

SHORT, RUNS_A_WEEK, MOST_RUNS = 110, 7, 2500
# parameters, operators, logit of the rate, spread of operators and of runs
BENCHES = {
    "plain": (20, 1, -1.6, 0.0, 0.0),
    "operators": (20, 6, -1.6, 0.5, 0.0),
    "runs together": (20, 6, -1.6, 0.5, 0.6),
    "few parameters": (4, 3, -1.6, 0.5, 0.3),
    "rare failures": (12, 6, -2.6, 0.5, 0.3),
}


def bench(kind: str, runs: int, rng: np.random.Generator):
    """Return values, operators, chips and failure rates of one log."""
    parameters, people, logit, between, within = BENCHES[kind]
    operator = rng.integers(0, people, runs)
    values = rng.normal(size=(runs, parameters))
    values[:, ::2] = np.exp(0.5 * values[:, ::2])
    values[:, 1] = np.round(values[:, 1])
    eta = logit + rng.normal(0.0, between, people)[operator] + rng.normal(0.0, within, runs)
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


def recommended(kind: str, seed: int) -> tuple[float, float]:
    """Return the length that a short log of this bench asks for, and the CPU time of the answer."""
    rng = np.random.default_rng([seed, 1])
    values, operator, tested, rate = bench(kind, SHORT, rng)
    outcomes, candidates, _ = asked(values, operator, tested, rng.binomial(tested, rate))
    start = time.process_time()
    needed = runs_needed(outcomes, candidates, np.random.default_rng(0))
    length = MOST_RUNS if needed is None or needed.runs is None else needed.runs.estimate
    return length, time.process_time() - start


def shows(kind: str, runs: int, seed: int) -> bool:
    """Return whether the screen calls the planted parameter strong in a log of this length."""
    rng = np.random.default_rng([seed, 2])
    values, operator, tested, rate = bench(kind, runs, rng)
    _, candidates, _ = asked(values, operator, tested, np.zeros(runs, dtype=int))
    place = int(rng.integers(len(candidates)))
    upper = upper_half(candidates[place])
    if upper is None:
        upper = np.zeros(runs)
    failed = rng.binomial(tested, planted_rate(rate, tested, upper, 2.0))
    outcomes, candidates, strata = asked(values, operator, tested, failed)
    links = screen(outcomes, candidates, draw_orders(strata, 399, rng))["bond"]
    return any(link.factor == place and link.evidence == "strong" for link in links)


def main() -> None:
    """Print one line a bench."""
    logs = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    for kind in BENCHES:
        answers = np.array([recommended(kind, seed) for seed in range(15)])
        few, length, many = np.quantile(answers[:, 0], [0.25, 0.5, 0.75])
        runs = round(min(length, MOST_RUNS))
        shown = float(np.mean([shows(kind, runs, seed) for seed in range(logs)]))
        error = np.sqrt(shown * (1.0 - shown) / logs)
        print(
            f"{kind:15s} asks for {runs} runs ({few:.0f} to {many:.0f}); strong in {shown:.3f} of "
            f"such logs (se {error:.3f}); {np.median(answers[:, 1]):.2f} s an answer",
            flush=True,
        )


if __name__ == "__main__":
    main()
