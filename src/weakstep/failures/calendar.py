"""Allowing for time: weeks as blocks, and curves that failures may follow for unlogged reasons."""

from __future__ import annotations

import numpy as np

from weakstep.failures.null_model import SLOPE_SD, Background, NullFit, fit_null

FEWEST_WEEKS = 3
RUNS_PER_BLOCK = 8
FEWEST_BLOCKS = 4
CURVES = 2
EIGHTHS = np.arange(1, 8) / 8.0
SIXTEENTHS = np.arange(1, 16) / 16.0


def weeks_or_blocks(week: np.ndarray) -> np.ndarray:
    """
    Return the block of time of each run: its week, or neighbouring runs when dates are lacking.

    Parameters
    ----------
    week : array of int, shape (n_runs,)
        Weeks since the first run.

    Returns
    -------
    array of int, shape (n_runs,)
        The weeks when there are at least 3; otherwise blocks of about 8 runs in order, at least 4.
    """
    if len(np.unique(week)) >= FEWEST_WEEKS:
        return np.unique(week, return_inverse=True)[1]
    blocks = max(FEWEST_BLOCKS, len(week) // RUNS_PER_BLOCK)
    return np.asarray(np.arange(len(week)) * blocks // max(len(week), 1))


def curves(runs: int) -> np.ndarray:
    """
    Return 23 calendar curves over the order of the runs, shape (n_runs, 23).

    A line, a parabola, hinges that start at 1/4 to 7/8 of the log, and steps at every sixteenth:
    a jump that no step comes near is taken for the work of a parameter that drifted.
    """
    time = np.linspace(0.0, 1.0, runs)
    hinges = np.maximum(time[:, None] - EIGHTHS[None, 1:], 0.0)
    steps = (time[:, None] >= SIXTEENTHS[None, :]).astype(float)
    columns = np.column_stack([time, (time - 0.5) ** 2, hinges, steps])
    columns = columns - columns.mean(axis=0)
    sd = columns.std(axis=0)
    return np.asarray(columns[:, sd > 0] / sd[sd > 0])


def background_with_best_curves(
    background: Background, failed: np.ndarray, tested: np.ndarray
) -> Background:
    """
    Add the two calendar curves that failures follow most closely to the null model.

    The second is chosen beside the first: one plain curve leaves too much of a change of three
    logits to be taken for the work of a parameter that drifted.

    Parameters
    ----------
    background : Background
    failed, tested : array of int, shape (n_runs,)
        In time order.

    Returns
    -------
    Background
    """
    columns = curves(len(failed))
    for _ in range(CURVES):
        fit: NullFit = fit_null(background, failed, tested)
        projected = fit.project(columns)
        length = np.sqrt((projected**2).sum(axis=0))
        z = np.abs(fit.residuals @ projected) / np.maximum(length, 1e-12)
        best = int(np.argmax(z))
        background = background.with_columns(columns[:, best], SLOPE_SD)
        columns = np.delete(columns, best, axis=1)
    return background


def curves_needed(background: Background, failed: np.ndarray, tested: np.ndarray) -> np.ndarray:
    """
    Return the two curves that failures follow most closely, if they follow any.

    Without them a change in time that nothing logged explains would be put down to whatever
    drifted, and the share of any other factor would be taken of a failure rate that never was.

    Parameters
    ----------
    background : Background
        Holding every factor that explains failures beyond the calendar.
    failed, tested : array, shape (n_runs,)
        In time order; divided by the overdispersion between runs.

    Returns
    -------
    array, shape (n_runs, 2) or (n_runs, 0)
        None unless their Laplace evidence beats that of no curve by more than the number of pairs
        that there were to choose from.
    """
    allowed = background_with_best_curves(background, failed, tested)
    gain = fit_null(allowed, failed, tested).log_evidence
    gain -= fit_null(background, failed, tested).log_evidence
    count = curves(len(failed)).shape[1]
    chosen = allowed.columns[:, background.columns.shape[1] :]
    return chosen if gain > np.log(count * (count - 1) / 2.0) else chosen[:, :0]
