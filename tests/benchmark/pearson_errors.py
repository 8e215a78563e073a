"""
How far Ppk by a fitted Pearson curve lies from the true one.

    python tests/benchmark/pearson_errors.py 2000

The number is that of samples of each distribution and size; seed 17.
"""

from __future__ import annotations

import sys

import numpy as np
from scipy import stats

from weakstep.charts import pearson_performance, percentile_indices

CASES = {
    "normal": (stats.norm(), -4.0, 4.0),
    "gamma of shape 4": (stats.gamma(4.0), 0.3, 14.0),
    "beta 2, 3": (stats.beta(2.0, 3.0), -0.1, 1.1),
    "lognormal 0.4": (stats.lognorm(0.4), 0.2, 5.0),
}


def main() -> None:
    """Print by how much of the true index it is off: on average (standard error), and 90 %."""
    samples = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    for name, (law, lower, upper) in CASES.items():
        low, middle, high = law.ppf([0.00135, 0.5, 0.99865])
        true = percentile_indices((low, middle, high), lower=lower, upper=upper).ppk
        for size in (50, 100, 200):
            rng = np.random.default_rng([17, size])
            found = np.array(
                [
                    pearson_performance(
                        law.rvs(size, random_state=rng), lower=lower, upper=upper
                    ).indices.ppk
                    for _ in range(samples)
                ]
            )
            off = found / true - 1.0
            ends = np.quantile(off, [0.05, 0.95])
            print(
                f"{name:17s} n {size:3d}: true {true:.3f}, off by {off.mean():+.1%} on average "
                f"({off.std() / np.sqrt(samples):.1%}), 9 of 10 by {ends[0]:+.0%} to {ends[1]:+.0%}"
            )


if __name__ == "__main__":
    main()
