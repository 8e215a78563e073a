"""
Make the curve that the limits of watching follow, and measure its error.

    python tests/benchmark/watch_limits.py

Draws semesters of known standard normal scores, sorts the highest evidence of each, fits a
quadratic in the logarithms of chance and length, and holds the curve against other semesters. The
printed coefficients are those of `weakstep.watching.limits`.
"""

from __future__ import annotations

import argparse

import numpy as np

from weakstep.watching.evidence import evidence_of, evidence_steps
from weakstep.watching.limits import AT_THE_SEAM, evidence_limit, powers

LENGTHS = (20, 40, 80, 160, 320, 640)
CHANCES = np.geomspace(2e-4, 5e-2, 14)


def highest(runs: int, semesters: int, seed: int) -> np.ndarray:
    """Return the highest evidence of each stable semester, sorted downwards."""
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(0, semesters, 50_000):
        sums, most = np.full((1, 50_000), AT_THE_SEAM - 1.0), np.zeros(50_000)
        for _ in range(runs):
            sums = (1.0 + sums) * evidence_steps(rng.standard_normal(50_000))
            np.maximum(most, evidence_of(sums), out=most)
        found.append(most)
    return np.sort(np.concatenate(found))[::-1]


def main(semesters: int) -> None:
    """Print coefficients, and asked against measured chances."""
    rows, logs = [], []
    for seed, runs in enumerate(LENGTHS):
        ordered = highest(runs, semesters, 700 + seed)
        rows += [powers(runs, chance) for chance in CHANCES]
        logs += [np.log(ordered[int(chance * len(ordered))]) for chance in CHANCES]
    weights = np.sqrt(np.tile(CHANCES, len(LENGTHS)))
    curve = np.linalg.lstsq(np.array(rows) * weights[:, None], np.array(logs) * weights)[0]
    print("curve  ", ", ".join(f"{value:.5f}" for value in curve))
    print("runs  asked %  measured % (fresh semesters, limits as in the package)")
    for seed, runs in enumerate((30, 60, 110, 240, 480)):
        ordered = highest(runs, semesters, 800 + seed)
        for chance in (0.0005, 0.002, 0.008, 0.04):
            share = (ordered > evidence_limit(runs, chance)).mean()
            error = np.sqrt(share * (1.0 - share) / len(ordered))
            print(f"{runs:4} {100 * chance:8.3f} {100 * share:8.3f} (se {100 * error:.3f})")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--semesters", type=int, default=1_000_000)
    main(parser.parse_args().semesters)
