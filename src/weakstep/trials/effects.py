"""Effects of a two-level trial: contrasts, their intervals, and half-normal quantiles."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import NotEnoughError
from weakstep.interval import Interval
from weakstep.trials.lenth import lenth_margins

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from weakstep.trials.designs import Word

    Floats = NDArray[np.float64]

LEVEL = 0.95
_MIXED_UP = (
    "Some effects cannot be told apart in the runs that have an outcome so far; fill in the rest "
    "of the sheet, or make those runs."
)


@dataclass(frozen=True)
class Effect:
    """
    One effect of a trial, with everything the design cannot tell from it.

    Attributes
    ----------
    words : tuple of Word
        Products of factors (from 1) that share it; the first names it.
    estimate : Interval
        Mean at the high less mean at the low level, in the outcome's unit; or log odds ratio, high
        against low.
    half_normal : float
        Quantile at which its size is drawn.
    """

    words: tuple[Word, ...]
    estimate: Interval
    half_normal: float


def column_of(coded: Floats, word: Word) -> Floats:
    """Return the product of the factors of a word, shape (n_rows,)."""
    return np.asarray(coded[:, [factor - 1 for factor in sorted(word)]].prod(axis=1))


def contrast(column: ArrayLike, outcome: ArrayLike) -> float:
    r"""
    Effect of a two-level column: mean outcome at +1 less mean at -1.

    Examples
    --------
    >>> contrast([-1, 1, -1, 1], [1.0, 3.0, 2.0, 4.0])
    2.0
    """
    sign, y = np.asarray(column, dtype=float), np.asarray(outcome, dtype=float)
    return float(y[sign > 0].mean() - y[sign < 0].mean())


def half_normal_quantiles(sizes: ArrayLike) -> Floats:
    r"""
    Quantiles for a half-normal plot: :math:`\Phi^{-1}(0.5 + 0.5 (i - 0.5) / n)` by rank of size.

    References
    ----------
    C. Daniel (1959), Use of half-normal plots in interpreting factorial two-level experiments,
    Technometrics 1, 311-341.

    Examples
    --------
    >>> half_normal_quantiles([-3.0, 1.0]).round(3).tolist()
    [1.15, 0.319]
    """
    from scipy.special import ndtri

    size = np.abs(np.asarray(sizes, dtype=float))
    ranks = np.argsort(np.argsort(size, kind="stable")) + 0.5
    return np.asarray(ndtri(0.5 + 0.5 * ranks / len(size)), dtype=float)


def told_apart(
    coded: ArrayLike, groups: Sequence[tuple[Word, ...]], blocks: ArrayLike | None = None
) -> bool:
    """
    Whether the runs tell every group of effects from each other and from the blocks.

    In a whole design they do; in one that was broken off, perhaps not.

    Examples
    --------
    >>> groups = [(frozenset({1}),), (frozenset({2}),)]
    >>> told_apart([[-1, -1], [1, 1], [1, -1]], groups), told_apart([[-1, -1], [1, 1]], groups)
    (True, False)
    """
    columns = _columns(np.asarray(coded, dtype=float), groups, blocks)
    return bool(np.linalg.matrix_rank(columns) == columns.shape[1])


def _columns(coded: Floats, groups: Sequence[tuple[Word, ...]], blocks: ArrayLike | None) -> Floats:
    """Return a column for each group, the means of the blocks, and that of centre runs."""
    kinds = np.zeros(len(coded)) if blocks is None else np.asarray(blocks)
    means = (kinds[:, None] == np.unique(kinds)).astype(float)
    columns = [*(column_of(coded, group[0]) for group in groups), *means.T]
    centre = ~coded.any(axis=1)
    if centre.any() and coded[~centre].all() and not centre.all():
        columns.append(centre.astype(float))  # a bend is no error
    return np.column_stack(columns)


def numeric_effects(
    coded: ArrayLike,
    outcome: ArrayLike,
    groups: Sequence[tuple[Word, ...]],
    blocks: ArrayLike | None = None,
) -> tuple[Effect, ...]:
    r"""
    Estimate the effects on a measured outcome.

    Least squares with one column per group of aliased effects and a mean for each block; the effect
    is twice its coefficient, which equals the contrast when the design is balanced. The error comes
    from the residuals where some are left, else from the effects themselves
    (`weakstep.trials.lenth.lenth_margins`).

    Parameters
    ----------
    coded : array_like, shape (n_runs, n_factors)
        -1 and +1; 0 for centre runs, which have a mean of their own and count for the error only.
    outcome : array_like, shape (n_runs,)
        Run means, in the outcome's unit.
    groups : sequence of tuples of Word
        From `weakstep.trials.designs.aliases`.
    blocks : array_like, shape (n_runs,), optional
        Days or operators; left out, all runs are one block.

    Returns
    -------
    tuple of Effect
        In the order of *groups*; 95 % intervals.

    Raises
    ------
    NotEnoughError
        Two groups, or a group and the blocks, cannot be told apart in these runs.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 5.4.7 and 5.6; D. C. Montgomery, Design and
    Analysis of Experiments, chapter on blocking, for the blocks; Lenth, R. V. (1989), Technometrics
    31, 469-473.

    Examples
    --------
    >>> coded = np.array([[-1.0], [1.0], [-1.0], [1.0]])
    >>> found = numeric_effects(coded, [1.0, 3.0, 1.2, 3.2], [(frozenset({1}),)])
    >>> round(found[0].estimate.estimate, 3)
    2.0
    """
    from scipy.special import stdtrit

    columns, y = _columns(np.asarray(coded, float), groups, blocks), np.asarray(outcome, float)
    # Measured from its first value an outcome that never changes has no effect at all.
    solved, _, rank, _ = np.linalg.lstsq(columns, y - y[0], rcond=None)
    if rank < columns.shape[1]:
        raise NotEnoughError(_MIXED_UP)
    effects = 2.0 * solved[: len(groups)]
    left = len(y) - columns.shape[1]
    if left > 0:
        residual = y - y[0] - columns @ solved
        inverse = np.linalg.inv(columns.T @ columns)
        variances = np.diag(inverse)[: len(groups)] * float(residual @ residual) / left
        reach = float(stdtrit(left, 0.5 + LEVEL / 2.0)) * 2.0 * np.sqrt(variances)
    else:
        reach = np.full(len(effects), lenth_margins(effects, LEVEL).individual)
    return _gathered(groups, effects, effects - reach, effects + reach)


def failure_effects(
    coded: ArrayLike,
    failed: ArrayLike,
    tested: ArrayLike,
    groups: Sequence[tuple[Word, ...]],
    *,
    design_effect: float = 1.0,
) -> tuple[Effect, ...]:
    r"""
    Estimate the effects on failures: log odds ratios, high against low level.

    Firth's penalised logistic regression, in which an effect is twice a coefficient; intervals from
    the profile of the penalised likelihood, which stay right where a level has no failure at all.
    Single parameters are estimated together, every other group beside them on its own: a model of
    all groups at once would hang on each combination in which nothing failed. Counts are divided
    by the design effect of chips within runs.

    Parameters
    ----------
    coded : array_like, shape (n_runs, n_factors)
    failed, tested : array_like, shape (n_runs,)
    groups : sequence of tuples of Word
        Fewer than the runs; from `weakstep.trials.designs.aliases`.
    design_effect : float, default 1

    Returns
    -------
    tuple of Effect

    Raises
    ------
    NotEnoughError
        Two groups cannot be told apart in the runs that were tested.

    References
    ----------
    Firth, D. (1993), Biometrika 80, 27-38; Heinze, G. & Schemper, M. (2002), Statistics in Medicine
    21, 2409-2419.

    Examples
    --------
    >>> found = failure_effects([[-1], [1]], [1, 4], [10, 10], [(frozenset({1}),)])
    >>> round(found[0].estimate.estimate, 3), round(float(np.log(4.5 / 6.5 / (1.5 / 9.5))), 3)
    (1.478, 1.478)
    """
    from weakstep.failures.profile import firth_estimates

    x = np.asarray(coded, dtype=float)
    columns = np.column_stack([np.ones(len(x)), *(column_of(x, group[0]) for group in groups)])
    counts = [np.asarray(count, dtype=float) / design_effect for count in (failed, tested)]
    single = [len(group[0]) == 1 for group in groups]
    together = np.array([True, *single])
    found = np.full((3, len(groups)), np.nan)
    models = [together] + [
        together | (np.arange(len(groups) + 1) == place + 1)
        for place, alone in enumerate(single)
        if not alone
    ]
    for model in models:
        if np.linalg.matrix_rank(columns[:, model]) < model.sum():
            raise NotEnoughError(_MIXED_UP)
        fit = firth_estimates(columns[:, model], *counts, level=LEVEL, clustered=False)
        ends = 2.0 * np.array([fit.coefficients, fit.lower, fit.upper])[:, 1:]
        fresh = np.isnan(found[0]) & model[1:]
        found[:, fresh] = ends[:, fresh[model[1:]]]
    return _gathered(groups, *found)


def _gathered(
    groups: Sequence[tuple[Word, ...]], effects: Floats, lower: Floats, upper: Floats
) -> tuple[Effect, ...]:
    quantiles = half_normal_quantiles(effects)
    return tuple(
        Effect(group, Interval(float(e), float(low), float(high), LEVEL), float(q))
        for group, e, low, high, q in zip(groups, effects, lower, upper, quantiles, strict=True)
    )
