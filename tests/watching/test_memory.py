"""The memory of parameters: textbook form, simulation, and what parameters tell of each other."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import linalg

from weakstep.watching.columns import watched_columns
from weakstep.watching.following import follow
from weakstep.watching.memory import MEMORIES, memories, memory_logs


def following(memory: float, values: int, columns: int, seed: int) -> np.ndarray:
    """Return values of variance 1, each of which goes with the one before by *memory*."""
    rows = np.random.default_rng(seed).normal(size=(values, columns))
    for place in range(1, values):
        rows[place] = memory * rows[place - 1] + np.sqrt(1.0 - memory**2) * rows[place]
    return rows


def mean_memory(rows: np.ndarray) -> np.ndarray:
    """Return the mean memory of each column, all judged together."""
    return np.asarray(memories(memory_logs(rows, len(rows))[0].T) @ MEMORIES)


def test_likelihood_by_the_whole_covariance() -> None:
    """The other road: the restricted likelihood by its textbook form, matrices and all."""
    y = following(0.4, 30, 2, seed=15)
    found = memory_logs(y, 28)
    for last in (28, 29, 30):
        ones = np.ones((last, 1))
        for place, phi in enumerate(MEMORIES):
            v = linalg.toeplitz(phi ** np.arange(last)) / (1.0 - phi * phi)
            solved = np.linalg.solve(v, ones)
            inside = (ones.T @ solved)[0, 0]
            for column in range(2):
                part = y[:last, column]
                left = part @ np.linalg.solve(v, part) - (part @ solved)[0] ** 2 / inside
                log = -0.5 * (
                    np.linalg.slogdet(v)[1] + np.log(inside) + (last - 1.0) * np.log(left)
                )
                assert found[last - 28, place, column] == pytest.approx(log, abs=1e-9)


def test_memory_is_shared_among_parameters() -> None:
    """
    Forty parameters at 0.3 tell each other; one at 0.7 among calm ones keeps its own.

    The correlation of 100 values alone has a standard error of 0.1.
    """
    found = mean_memory(following(0.3, 100, 40, seed=12))
    assert found.mean() == pytest.approx(0.3, abs=0.03)
    assert found.std() < 0.05
    calm = following(0.0, 100, 15, seed=13)
    lone = mean_memory(np.hstack([following(0.7, 100, 1, seed=14), calm]))
    assert lone[0] > 0.6
    assert lone[1:].mean() < 0.03


def test_memory_of_a_long_baseline_is_its_correlation() -> None:
    """Values that follow each other at 0.6: 20 000 of them leave nothing open."""
    assert mean_memory(following(0.6, 20_000, 1, seed=16)) == pytest.approx([0.6], abs=1e-6)


def test_a_large_change_is_not_taken_for_memory() -> None:
    """
    A long memory explains values that moved far and stay: yet 5 standard deviations are told.

    Of 100 parameters at least 98 within 10 runs; of 1000 others, 99 in 100 took 7 or fewer.
    """
    values = following(0.0, 80, 100, seed=19)
    values[60:] += 5.0
    columns = watched_columns([(False, row) for row in values[:60].T], 110, 0.05)
    soon = [
        any(one.way == "higher" and one.at < 10 for one in follow(column, row[60:]).passed)
        for column, row in zip(columns, values.T, strict=True)
        if not column.on_log
    ]
    assert np.mean(soon) >= 0.98


@pytest.mark.parametrize("memory", [0.0, 0.3])
def test_false_alarms_with_memory(memory: float) -> None:
    """
    Ten parameters a semester, 60 semesters: signals come as rarely as asked.

    About 0.04 per parameter; the bounds are a half and 1.4 of it, 3 standard errors of 600 columns
    around.
    """
    values = following(memory, 160, 600, seed=17)
    alarms = 0
    for ten in np.split(values.T, 60):
        columns = watched_columns([(False, v[:100]) for v in ten], 60, 0.34)
        for column, row in zip(columns, ten, strict=True):
            coming = np.log(row[100:]) if column.on_log else row[100:]
            alarms += bool(follow(column, coming).passed)
    asked = 600 * (1.0 - 0.66**0.1)
    assert 0.5 * asked - 3 * np.sqrt(0.5 * asked) < alarms < 1.4 * asked + 3 * np.sqrt(1.4 * asked)
