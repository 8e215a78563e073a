"""Measured outcomes, such as burst pressure or time to failure, ranked like failures are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import NotEnoughError
from weakstep.failures.candidates import gather, pool_small_strata
from weakstep.failures.measured_screen import MeasuredScreen
from weakstep.failures.model import MeasuredLink, MeasuredOutcome
from weakstep.failures.permuting import draw_orders

if TYPE_CHECKING:
    from weakstep.process.model import Process
    from weakstep.runlog.model import RunLog

FEWEST_MEASURED = 15
CONDITION = "test_"
COUNTS = ("chips_made", "chips_failed")
FEWEST_AT_LIMIT = 2


def measured_outcomes(
    log: RunLog, *, seed: int, permutations: int = 1999
) -> tuple[MeasuredOutcome, ...]:
    r"""
    Rank every parameter against each measured outcome, each under a family-wise budget of its own.

    A chip of value t scores :math:`\delta - \hat\Lambda(t)`, with :math:`\hat\Lambda` the
    Nelson-Aalen cumulative hazard over all chips and delta 1 where the value was reached by
    failing, 0 where the chip held to it or failed elsewhere (censored): high scores are early
    failures. Scores summed over the chips of a run take the place of the residuals of the failure
    screen; runs change places within operators, and the calendar gates are asked of what is
    claimed.

    Parameters
    ----------
    log : RunLog
        Its chips carry number columns of role outcome. Columns that begin with "test_" are
        conditions: where a chip held and has no measured value, it is censored at the one of the
        same unit. A cell such as "> 300" is censored there.
    seed : int
    permutations : int, default 1999

    Returns
    -------
    tuple of MeasuredOutcome
        Those with at least 15 failures and 15 runs.

    References
    ----------
    Kalbfleisch, J. D. & Prentice, R. L. (2002), The Statistical Analysis of Failure Time Data, 2nd
    edition, section 7.2 (scores of the log-rank test).
    """
    found = []
    for name in _measures(log):
        values, reached = _values(log, name)
        known = ~np.isnan(values)
        known &= _run_places(log) >= 0
        runs = len(np.unique(_run_places(log)[known]))
        differ = len(np.unique(values[reached & known & (values > 0)]))
        if min(int(reached[known].sum()), runs) >= FEWEST_MEASURED and differ > 1:
            found.append(_ranked(log, name, values, reached & known, known, seed, permutations))
    return tuple(found)


def _run_places(log: RunLog) -> np.ndarray:
    """Return the row of the run table that each chip belongs to, -1 for none."""
    place = {str(name): i for i, name in enumerate(log.runs.run_id)}
    return np.array([place.get(str(name), -1) for name in log.chips["run"]], dtype=int)


def _measures(log: RunLog) -> list[str]:
    if "run" not in log.chips.columns:
        return []
    return [
        one.name
        for one in log.process.parameters
        if one.role == "outcome"
        and one.kind == "number"
        and one.name in log.chips.columns
        and not one.name.startswith(CONDITION)
        and one.name not in COUNTS
    ]


def _values(log: RunLog, name: str) -> tuple[np.ndarray, np.ndarray]:
    """Return each chip's value (NaN where it says nothing) and whether failing reached it."""
    process, chips = log.process, log.chips
    values = chips[name].to_numpy(dtype=float).copy()
    families = np.array([_family(process, mode) for mode in chips["mode"]])
    measured = ~np.isnan(values)
    broke = measured & (families != "")
    kinds, counts = np.unique(families[broke], return_counts=True)
    main = kinds[np.argmax(counts)] if len(kinds) else ""
    top = np.nanmax(values) if measured.any() else np.nan
    at_limit = (values == top) & ((values == top).sum() >= FEWEST_AT_LIMIT) & (families == "")
    reached = measured & ~at_limit & ((families == "") | (families == main))
    held_to = log.bounds_of(name, "above")
    bounded = ~measured & ~np.isnan(held_to)
    values[bounded] = held_to[bounded]  # "> 300": it held to that, at least
    limit = _condition(process, list(chips.columns), name)
    if limit is not None:
        held = ~measured & ~bounded & (families == "") & (chips["made"] > 0).to_numpy()
        values[held] = chips[limit].to_numpy(dtype=float)[held]
    return values, reached


def _family(process: Process, mode: object) -> str:
    return process.mode(str(mode)).family if mode else ""


def _condition(process: Process, columns: list[str], name: str) -> str | None:
    unit = process.parameter(name).unit
    for one in process.parameters:
        if one.name.startswith(CONDITION) and one.unit == unit and one.name in columns:
            return one.name
    return None


def hazard_scores(values: np.ndarray, reached: np.ndarray) -> np.ndarray:
    """
    Return the log-rank score of each chip: 1 or 0 for failed or held, less its cumulative hazard.

    Parameters
    ----------
    values : array, shape (n_chips,)
        No NaN.
    reached : array of bool, shape (n_chips,)
        Whether the chip failed there.

    Returns
    -------
    array, shape (n_chips,)
        They sum to 0.

    Examples
    --------
    >>> hazard_scores(np.array([1.0, 2.0, 3.0]), np.array([True, True, False])).round(3)
    array([ 0.667,  0.167, -0.833])
    """
    times, place = np.unique(values, return_inverse=True)
    failures = np.bincount(place, weights=reached, minlength=len(times))
    at_risk = len(values) - np.concatenate([[0], np.cumsum(np.bincount(place))[:-1]])
    return np.asarray(reached - np.cumsum(failures / at_risk)[place])


def _ranked(
    log: RunLog,
    name: str,
    values: np.ndarray,
    reached: np.ndarray,
    known: np.ndarray,
    seed: int,
    permutations: int,
) -> MeasuredOutcome:
    run = _run_places(log)[known]
    scores = np.bincount(run, weights=hazard_scores(values[known], reached[known]),
                         minlength=len(log.runs))  # fmt: skip
    kept = np.bincount(run, minlength=len(log.runs)) > 0
    table = log.runs.only(kept)
    strata = pool_small_strata(table.operator.astype(str))
    candidates, _ = gather(log.process, table, strata)
    links: tuple[MeasuredLink, ...] = ()
    if candidates:
        rng = np.random.default_rng([seed, 7])
        orders = draw_orders(strata, permutations, rng)
        links = MeasuredScreen(candidates, scores[kept], table.week, orders).run()
    shape, scale = weibull(values[known], reached[known])
    return MeasuredOutcome(
        name,
        int(reached[known].sum()),
        int((known & ~reached).sum()),
        median_held(values[known], reached[known]),
        shape,
        scale,
        links,
    )


def median_held(values: np.ndarray, reached: np.ndarray) -> float | None:
    """Return the smallest value at which the Kaplan-Meier curve is at or below one half."""
    from scipy.stats import CensoredData, ecdf

    curve = ecdf(CensoredData(uncensored=values[reached], right=values[~reached])).sf
    below = np.flatnonzero(curve.probabilities <= 0.5 + 1e-12)
    return float(curve.quantiles[below[0]]) if len(below) else None


def weibull(values: np.ndarray, reached: np.ndarray) -> tuple[float, float]:
    r"""
    Return shape and scale of the Weibull distribution most likely for values with censoring.

    The shape solves :math:`\sum t^k \log t / \sum t^k - 1/k = \overline{\log t}_{failed}`.

    Parameters
    ----------
    values : array, shape (n_chips,)
        Positive; chips at 0 count as the smallest positive value.
    reached : array of bool, shape (n_chips,)

    Returns
    -------
    shape, scale : float

    Raises
    ------
    NotEnoughError
        Fewer than 2 different values at which chips failed.

    References
    ----------
    Kalbfleisch & Prentice (2002), section 3.4.
    """
    from scipy.optimize import brentq

    positive = values[values > 0]
    if len(np.unique(values[reached & (values > 0)])) < 2:
        message = "A Weibull fit needs failures at two different values or more; log more of them."
        raise NotEnoughError(message)
    logs = np.log(np.maximum(values, positive.min()))
    relative = logs - logs.max()

    def slope(shape: float) -> float:
        weights = np.exp(shape * relative)
        return float((weights @ logs) / weights.sum() - 1.0 / shape - logs[reached].mean())

    shape = float(brentq(slope, 1e-3, 1e3, xtol=1e-12, rtol=1e-12))
    total = float(np.exp(shape * relative).sum())
    scale = float(np.exp(logs.max()) * (total / reached.sum()) ** (1.0 / shape))
    return shape, scale
