"""What a trial can see: power and size by carrying the trial out on paper."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.enough import ALPHA, POWER, chips_per_arm
from weakstep.trials.proportions import inflation

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SIMULATED = 8000  # trials behind a claimed power: standard error below 0.5 points
_TO_SEARCH = 1000
_TOGETHER = 1000  # trials judged by one set of re-orderings, whose own luck they share: 0.7 points
_REORDERINGS = 999
MOST_RUNS = 400  # at a level; beyond it nobody carries a trial out


def nested_failures(
    rng: np.random.Generator,
    rate: float | Floats,
    chips: int | NDArray[np.int_],
    correlation: float,
    shape: tuple[int, ...],
) -> Floats:
    """
    Draw failures of *chips* chips a run that fail together: a beta-binomial law.

    Each run has a rate of its own, whose variance is *correlation* times p (1 - p) around *rate*,
    one for all runs or one for each; so with *chips*.
    """
    if correlation <= 0.0 or not np.all((rate > 0.0) & (rate < 1.0)):
        return np.asarray(rng.binomial(chips, rate, shape), dtype=float)
    strength = (1.0 - correlation) / correlation
    own = rng.beta(rate * strength, (1.0 - rate) * strength, shape)
    return np.asarray(rng.binomial(chips, own), dtype=float)


def randomisation_p(
    counts: Floats,
    scores: Floats,
    blocks: NDArray[np.intp],
    seed: int,
    others: Floats | None = None,
) -> Floats:
    r"""
    Two-sided p of trials by their own randomisation: levels dealt again within blocks.

    The statistic is :math:`\sum_i s_i y_i` over runs; levels that could have been dealt as well
    give its law, whatever the outcome's distribution. Beside other parameters it is
    :math:`s'My / \sqrt{s'Ms}`, *M* taking out their effects and the means of blocks, which orders
    dealings as the *t* of least squares on all of them. Left in, others would scatter the outcomes
    of levels dealt again, though not of those as they were dealt, which are balanced over them: a
    strong parameter would hide a weaker one. Taken out of the outcome alone they would show
    nothing as something. They stay in where no more runs are left for error than there are others.

    Parameters
    ----------
    counts : array, shape (n_trials, n_runs)
        Outcome of each run (failures, a failure rate, a mean).
    scores : array, shape (n_runs,)
        Coded level of each run.
    blocks : array of int, shape (n_runs,)
    seed : int
        Of 999 re-orderings.
    others : array, shape (n_runs, n_others), optional
        Coded levels of the other parameters.

    Returns
    -------
    array, shape (n_trials,)

    References
    ----------
    Edgington, E. S. & Onghena, P. (2007), Randomization Tests, 4th edition, chapter 3. Draper, N.
    R. & Stoneman, D. M. (1966), Testing for the inclusion of variables in linear regression by a
    randomisation technique, Technometrics 8, 695-699 (one parameter beside others; from memory).

    Examples
    --------
    >>> y = np.array([[0.0, 1, 0, 2, 0, 1, 0, 3, 0, 2, 0, 1]])
    >>> level, block = np.tile([-1.0, 1.0], 6), np.zeros(12, dtype=int)
    >>> bool(randomisation_p(y, level, block, seed=0)[0] < 0.01)
    True
    """
    rng = np.random.default_rng(seed)
    dealt = np.tile(scores, (_REORDERINGS, 1))
    for block in np.unique(blocks):
        inside = blocks == block
        dealt[:, inside] = rng.permuted(dealt[:, inside], axis=1)
    means = (blocks[:, None] == np.unique(blocks)).astype(float)
    taken_out = means
    if others is not None:
        beside = np.column_stack([means, others])
        if len(scores) - beside.shape[1] - 1 > others.shape[1]:
            taken_out = beside
    left = _left_over(counts, taken_out)
    told = _unit_rows(_left_over(np.vstack([scores, dealt]), taken_out))
    sizes = np.abs(left @ told.T)
    beyond = sizes[:, 1:] >= sizes[:, :1] - 1e-9
    return np.asarray((beyond.sum(axis=1) + 1.0) / (_REORDERINGS + 1.0))


def _left_over(rows: Floats, columns: Floats) -> Floats:
    """Residuals of each row after least squares on columns that may repeat each other."""
    base, sizes, _ = np.linalg.svd(columns, full_matrices=False)
    base = base[:, sizes > 1e-9 * sizes[0]]
    return np.asarray(rows - (rows @ base) @ base.T)


def _unit_rows(rows: Floats) -> Floats:
    """Rows of length 1; nothing where nothing is left."""
    length = np.linalg.norm(rows, axis=1, keepdims=True)
    return np.asarray(np.where(length > 1e-6, rows / np.maximum(length, 1e-6), 0.0))


def simulated_power(
    rates: tuple[float, float],
    runs: int,
    *,
    chips: int = 1,
    correlation: float = 0.0,
    blocks: int = 1,
    alpha: float = ALPHA,
    seed: int = 0,
    trials: int = SIMULATED,
) -> float:
    """
    Chance that a two-level trial shows a difference, by carrying it out many times on paper.

    The same test is used as in the analysis of the finished trial (`randomisation_p`), so the
    claim holds for small trials and nested chips, where formulas are only approximate.

    Parameters
    ----------
    rates : tuple of two floats
        Failure rates at the two levels.
    runs : int
        At each level.
    chips : int
        A run.
    correlation : float
        Of chips within a run.
    blocks : int
        Days or operators, each with as many runs at either level; runs are spread evenly over
        them.
    alpha : float
    seed, trials : int

    Returns
    -------
    float

    Examples
    --------
    >>> 0.75 < simulated_power((0.5, 0.1), 24, trials=2000) < 0.85
    True
    """
    rng = np.random.default_rng(seed)
    counts = np.column_stack(
        [nested_failures(rng, rate, chips, correlation, (trials, runs)) for rate in rates]
    )
    return _shown(counts, blocks, alpha, rng)


def simulated_mean_power(
    difference: float,
    deviation: float,
    runs: int,
    *,
    blocks: int = 1,
    alpha: float = ALPHA,
    seed: int = 0,
    trials: int = SIMULATED,
) -> float:
    """
    Chance that a two-level trial shows a difference of means, by carrying it out on paper.

    By the test of the finished trial (`randomisation_p`) on normal run means. Few runs, above all
    few a block, can be dealt in few ways only, so that nothing is unlikely enough: three at each
    level show nothing at 5 %, whatever the difference, though a t test would.

    Parameters
    ----------
    difference, deviation : float
        Of run means, in one unit; deviation between runs at one level, above 0.
    runs : int
        At each level.
    blocks, alpha, seed, trials
        As for `simulated_power`.

    Returns
    -------
    float

    Examples
    --------
    >>> [simulated_mean_power(10.0, 1.0, runs, trials=1000) for runs in (3, 4)]
    [0.0, 1.0]
    """
    rng = np.random.default_rng(seed)
    means = rng.normal(0.0, deviation, (trials, 2 * runs))
    means[:, runs:] += difference
    return _shown(means, blocks, alpha, rng)


def _shown(outcomes: Floats, blocks: int, alpha: float, rng: np.random.Generator) -> float:
    """Share of trials that show a difference; the first half of their runs is at the low level."""
    runs = outcomes.shape[1] // 2
    scores = np.repeat([-1.0, 1.0], runs)
    places = np.tile(np.arange(runs) * blocks // runs, 2)
    parts = np.split(outcomes, range(_TOGETHER, len(outcomes), _TOGETHER))
    seeds = rng.integers(2**32, size=len(parts))
    p = [
        randomisation_p(part, scores, places, int(one))
        for part, one in zip(parts, seeds, strict=True)
    ]
    return float((np.concatenate(p) <= alpha).mean())


def runs_at_each_level(
    rates: tuple[float, float],
    *,
    chips: int,
    correlation: float,
    step: int = 1,
    a_block: int | None = None,
    power: float = POWER,
    alpha: float = ALPHA,
    seed: int = 0,
    trials: int = SIMULATED,
) -> tuple[int, float] | None:
    """
    Find the smallest trial with the power asked, and that power.

    Starts from the formula for two proportions times the design effect and corrects it by
    `simulated_power`.

    Parameters
    ----------
    rates, chips, correlation, power, alpha, seed
        As for `simulated_power`.
    step : int
        Runs at each level that belong together; the answer is a multiple of it.
    a_block : int, optional
        Runs at each level that fit into a block, at least *step*; default all of them.
    trials : int
        Behind the power that is returned.

    Returns
    -------
    tuple of (int, float) or None
        None when more than 400 runs at a level would be needed.
    """
    wanted = chips_per_arm(*rates, power, alpha) * inflation(chips, correlation) / chips
    repeats = max(1, math.ceil(wanted / step))
    if repeats * step > MOST_RUNS:
        return None

    def claimed(repeats: int, trials: int) -> float:
        return simulated_power(
            rates,
            repeats * step,
            chips=chips,
            correlation=correlation,
            blocks=math.ceil(repeats * step / (a_block or repeats * step)),
            alpha=alpha,
            seed=seed,
            trials=trials,
        )

    while repeats > 1 and claimed(repeats - 1, _TO_SEARCH) >= power:
        repeats -= 1
    while (now := claimed(repeats, trials)) < power:
        repeats += 1
        if repeats * step > MOST_RUNS:
            return None
    return repeats * step, now
