"""The EWMA chart that finds a stated shift soonest."""

from __future__ import annotations

import math
from dataclasses import dataclass

from weakstep.charts.checks import real
from weakstep.charts.ewma_run_lengths import ewma_run_length
from weakstep.charts.set_limits import ewma_width

_LEAST_WEIGHT = 0.005


@dataclass(frozen=True)
class EwmaDesign:
    r"""
    Weight and width of an EWMA chart with constant limits.

    Attributes
    ----------
    weight, width : float
        :math:`\lambda` and *L*.
    in_control, shifted : float
        Average run lengths of a stable process and after the shift, in points.
    """

    weight: float
    width: float
    in_control: float
    shifted: float


def ewma_design(
    shift: float, *, run_length: float = 370.0, steady_state: bool = False
) -> EwmaDesign:
    r"""
    Find weight and width with the least average run length after a shift.

    Among all pairs :math:`(\lambda, L)` with the same run length of a stable process. The optimum
    is flat: weights up to half as much again cost little. None below 0.005 is looked at: where that
    is the weight found, a smaller one might find the shift a little sooner.

    Parameters
    ----------
    shift : float
        To be found soonest, in sigmas of a single value; from 0.1 to 6.
    run_length : float, default 370
        Of a stable process, in points.
    steady_state : bool, default False
        The shift comes long after the start, rather than at the start.

    Returns
    -------
    EwmaDesign

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    S. V. Crowder (1989), Design of exponentially weighted moving average schemes, Journal of
    Quality Technology 21, 155-162. J. M. Lucas and M. S. Saccucci (1990), Technometrics 32, 1-12.

    Examples
    --------
    >>> found = ewma_design(1.0, run_length=500.0)
    >>> round(found.weight, 2), round(found.width, 2), round(found.shifted, 2)
    (0.13, 2.88, 10.2)
    """
    from scipy.optimize import minimize_scalar

    moved = real("shift", shift, least=0.1, most=6.0)

    def delay(log_weight: float) -> float:
        weight = math.exp(log_weight)
        width = ewma_width(weight, run_length=run_length)
        return ewma_run_length(weight, width, moved, steady_state=steady_state)

    best = minimize_scalar(
        delay, bounds=(math.log(_LEAST_WEIGHT), 0.0), method="bounded", options={"xatol": 1e-3}
    )
    weight = math.exp(float(best.x))
    width = ewma_width(weight, run_length=run_length)
    return EwmaDesign(
        weight=weight,
        width=width,
        in_control=ewma_run_length(weight, width),
        shifted=ewma_run_length(weight, width, moved, steady_state=steady_state),
    )
