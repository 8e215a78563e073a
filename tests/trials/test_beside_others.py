"""Chance of luck of one parameter beside others: a strong one must not hide it, nor invent it."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from weakstep.trials.designs import from_generators, suitable
from weakstep.trials.power import nested_failures, randomisation_p

CORNERS = np.array([[a, b] for a in (-1.0, 1.0) for b in (-1.0, 1.0)])


def shown(own: float, other: float, trials: int, seed: int) -> np.ndarray:
    """Return how often the first of two parameters is shown: others taken out, and left in."""
    rng = np.random.default_rng(seed)
    coded, block = np.tile(CORNERS, (8, 1)), np.repeat(np.arange(8), 4)
    rates = 1.0 / (1.0 + np.exp(1.0 - coded @ [own / 2.0, other / 2.0]))
    count = np.zeros(2)
    for trial in range(trials):
        failed = nested_failures(rng, rates, 3, 0.3, rates.shape)[None, :]
        count += [
            randomisation_p(failed, coded[:, 0], block, trial, others)[0] <= 0.05
            for others in (coded[:, 1:], None)
        ]
    return count / trials


@pytest.mark.parametrize("other", [0.0, 3.0])
def test_nothing_is_shown_too_often(other: float) -> None:
    """600 trials without an effect of its own: at most 5 % (3 standard errors)."""
    assert shown(0.0, other, 600, 70)[0] <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 600)


@pytest.mark.parametrize("other", [0.0, 3.0])
@pytest.mark.parametrize(("parameters", "generators"), [(3, ""), (5, ""), (7, ""), (11, "PB12")])
def test_many_parameters_in_few_runs(parameters: int, generators: str, other: float) -> None:
    """
    Up to 11 parameters in 12 runs, one or two of them strong: at most 5 % of 1000 trials.

    The dealings are the same for all trials, so that what they allow, too, has an error: 3 standard
    errors of both.
    """
    design = from_generators(parameters, generators) if generators else suitable(parameters, 8)
    y = np.random.default_rng(73).normal(size=(1000, len(design.coded)))
    y += other * (design.coded[:, 1] + design.coded[:, -1])
    block = np.zeros(len(design.coded), dtype=np.intp)
    p = randomisation_p(y, design.coded[:, 0], block, 74, design.coded[:, 1:])
    assert (p <= 0.05).mean() <= 0.05 + 3 * np.sqrt(2 * 0.05 * 0.95 / 1000)


def test_a_strong_parameter_does_not_hide_another() -> None:
    """300 trials, 2 logits beside 3: seen at least 10 points more often than with them left in."""
    taken_out, left_in = shown(2.0, 3.0, 300, 71)
    assert taken_out >= left_in + 0.10


def test_luck_is_that_of_least_squares_on_every_dealing() -> None:
    """
    The other road: t of least squares on all parameters, for each of 70 ways to deal 4 of 8 runs.

    4 standard errors of 999 dealings.
    """
    coded = suitable(3, 8).coded
    y = np.random.default_rng(72).normal(size=8) + coded @ [0.6, 3.0, -2.0]

    def t(levels: np.ndarray) -> float:
        columns = np.column_stack([levels, coded[:, 1:], np.ones(8)])
        if np.linalg.matrix_rank(columns) < 4:
            return 0.0
        solved, (left,), *_ = np.linalg.lstsq(columns, y, rcond=None)
        return abs(float(solved[0])) / np.sqrt(left * np.linalg.inv(columns.T @ columns)[0, 0])

    ways = [np.where(np.isin(range(8), high), 1.0, -1.0) for high in combinations(range(8), 4)]
    exact = np.mean([t(way) >= t(coded[:, 0]) - 1e-9 for way in ways])
    assert 0.1 < exact < 0.9
    found = randomisation_p(y[None, :], coded[:, 0], np.zeros(8, dtype=np.intp), 0, coded[:, 1:])[0]
    assert found == pytest.approx(exact, abs=4 * np.sqrt(exact * (1 - exact) / 999))


def test_neither_blocks_nor_others_move_the_luck() -> None:
    """Any difference between blocks and any effect of the other parameter leave p as it was."""
    rng = np.random.default_rng(75)
    coded, block = np.tile(CORNERS, (3, 1)), np.repeat([1, 2, 3], 4)
    measured = rng.normal(size=(1, 12))
    moved = measured + 5.0 * coded[:, 1] + 7.0 * block
    p = [randomisation_p(y, coded[:, 0], block, 1, coded[:, 1:])[0] for y in (measured, moved)]
    assert p[0] == p[1]
