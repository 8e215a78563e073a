"""
CPU time and memory of the ranking: 1999 re-orderings and all shares, windows and curves.

    OPENBLAS_NUM_THREADS=1 python tests/benchmark/semesters_speed.py

prints, for 110 runs of 25 parameters and for 500 to 2,000 runs of 60, the CPU seconds of one
ranking in a warm process and the peak of the process's memory so far. CPU time on a busy machine
is up to twice that on a quiet one.
"""

from __future__ import annotations

import resource
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "failures"))
from conftest import make_log

from weakstep.failures.candidates import gather, pool_small_strata
from weakstep.failures.links import Outcomes
from weakstep.failures.null_model import logistic
from weakstep.failures.ranking import rank
from weakstep.runlog.model import RunLog

SIZES = ((110, 25), (110, 25), (500, 60), (1000, 60), (2000, 60))
OPERATORS = 6


def one_log(runs: int, parameters: int) -> RunLog:
    """Draw a log with one cause, every third parameter skewed."""
    rng = np.random.default_rng(runs)
    operator = rng.integers(0, OPERATORS, runs)
    x = (
        rng.normal(size=(runs, parameters))
        + rng.normal(0.0, 0.5, (OPERATORS, parameters))[operator]
    )
    logit = -1.9 + 0.6 * np.maximum(x[:, 3], 0.0) + rng.normal(0.0, 0.5, runs)
    tested = rng.integers(2, 4, runs)
    x[:, ::3] = 40.0 * np.exp(0.3 * x[:, ::3])
    return make_log(
        {f"x{j:02d}": x[:, j] for j in range(parameters)},
        {"bond": rng.binomial(tested, logistic(logit))},
        tested,
        operator=operator.astype(str),
        week=np.sort(rng.integers(0, max(4, runs // 8), runs)),
    )


def main() -> None:
    """Time each size; the first warms the process up."""
    for runs, parameters in SIZES:
        log = one_log(runs, parameters)
        began = time.process_time()
        strata = pool_small_strata(log.runs.operator.astype(str))
        candidates = gather(log.process, log.runs, strata)[0]
        asked = (log.runs.tested, dict(log.runs.failed), log.runs.operator, log.runs.week)
        outcomes = Outcomes(*asked)
        rng = np.random.default_rng(0)
        rank(log.process, log.runs, candidates, outcomes, strata, 1999, rng)
        took = time.process_time() - began
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
        print(f"{runs} runs x {parameters}: {took:.2f} s CPU, peak {peak:.0f} MB", flush=True)


if __name__ == "__main__":
    main()
