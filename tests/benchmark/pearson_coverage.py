"""
How often intervals of Ppk by a fitted Pearson curve hold the true one.

    python tests/benchmark/pearson_coverage.py 400

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
    """Print the share covered and the mean estimate, with standard errors."""
    samples = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    for name, (law, lower, upper) in CASES.items():
        low, middle, high = law.ppf([0.00135, 0.5, 0.99865])
        true = percentile_indices((low, middle, high), lower=lower, upper=upper).ppk
        for size in (50, 100, 200):
            rng = np.random.default_rng([17, size])
            held, found = [], []
            for _ in range(samples):
                ppk = pearson_performance(
                    law.rvs(size, random_state=rng), lower=lower, upper=upper, resamples=199
                ).ppk
                held.append(ppk.lower <= true <= ppk.upper)
                found.append(ppk.estimate)
            share = np.mean(held)
            error = np.sqrt(share * (1 - share) / samples)
            print(
                f"{name:17s} n {size:3d}: true {true:.3f}, mean {np.mean(found):.3f} "
                f"({np.std(found) / np.sqrt(samples):.3f}), covered {share:.3f} ({error:.3f})"
            )


if __name__ == "__main__":
    main()
