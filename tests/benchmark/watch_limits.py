"""
Make the curves that the limits of watching follow, and measure their error.

    python tests/benchmark/watch_limits.py

Draws semesters of known standard normal scores, solves the limits at which any of the five sums
signals as often as asked (of the chance, slow sums take 1.3 parts, fast ones 0.8, the spread 0.2),
fits a quadratic in the logarithms of chance and length, and holds the curves
against other semesters. The printed coefficients are those of `weakstep.watching.limits`.
"""

from __future__ import annotations

import argparse

import numpy as np

from weakstep.watching.limits import SHARES, column_limits, head_start, powers
from weakstep.watching.sums import ALLOWANCES, spread_scores

LENGTHS = (20, 40, 80, 160, 320, 640)
CHANCES = np.geomspace(2e-4, 5e-2, 14)


def highest_sums(runs: int, semesters: int, seed: int) -> np.ndarray:
    """Return the highest slow, fast and spread sums of stable semesters, shape (3, semesters)."""
    rng = np.random.default_rng(seed)
    allowance = np.array(ALLOWANCES)[:, None]
    starts = np.array([head_start(one) for one in ALLOWANCES])[:, None]
    sums, highest = np.repeat(starts, semesters, axis=1), np.zeros((5, semesters))
    for _ in range(runs):
        z = rng.standard_normal(semesters)
        sums += np.stack([z, -z, z, -z, spread_scores(z)]) - allowance
        np.maximum(sums, 0.0, out=sums)
        np.maximum(highest, sums, out=highest)
    return np.stack([highest[:2].max(axis=0), highest[2:4].max(axis=0), highest[4]])


def solved(highest: np.ndarray, chance: float) -> np.ndarray:
    """Return the three limits at which any sum signals in a share *chance* of semesters."""
    ordered = np.sort(highest, axis=1)[:, ::-1]
    low, high = chance / 10.0, chance
    for _ in range(50):
        part = np.sqrt(low * high)
        places = (part * np.array(SHARES) * highest.shape[1]).astype(int)
        limits = ordered[np.arange(3), places]
        any_signal = (highest > limits[:, None]).any(axis=0).mean()
        low, high = (low, part) if any_signal > chance else (part, high)
    return limits


def main(semesters: int) -> None:
    """Print coefficients, and asked against measured chances."""
    rows, found = [], []
    for seed, runs in enumerate(LENGTHS):
        highest = highest_sums(runs, semesters, 700 + seed)
        for chance in CHANCES:
            rows.append(powers(runs, chance))
            found.append(solved(highest, chance))
    weights = np.sqrt(np.tile(CHANCES, len(LENGTHS)))[:, None]
    curves = np.linalg.lstsq(np.array(rows) * weights, np.array(found) * weights, rcond=None)[0]
    for name, curve in zip(("slow", "fast", "spread"), curves.T, strict=True):
        print(f"{name:7}", ", ".join(f"{value:.5f}" for value in curve))
    print("runs  asked %  measured % (fresh semesters, limits as in the package)")
    for seed, runs in enumerate((30, 60, 110, 240, 480)):
        highest = highest_sums(runs, semesters, 800 + seed)
        for chance in (0.0005, 0.002, 0.008, 0.04):
            limits = column_limits(runs, chance)
            over = highest > np.array([limits.slow, limits.fast, limits.spread])[:, None]
            share = over.any(axis=0).mean()
            error = np.sqrt(share * (1.0 - share) / semesters)
            print(f"{runs:4} {100 * chance:8.3f} {100 * share:8.3f} (se {100 * error:.3f})")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--semesters", type=int, default=300_000)
    main(parser.parse_args().semesters)
