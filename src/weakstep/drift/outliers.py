"""Isolated values far out, held against the parameter's own tail."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

_LEAST_TAIL, _MOST_TAIL = 5, 20  # values that describe the tail
_TAIL_SHARE = 0.15


def farthest_out(values: NDArray[np.float64]) -> tuple[int, float]:
    r"""
    Place of the value farthest from the median, and the chance of one as far from its own tail.

    With distances :math:`d_1 \ge d_2 \ge \dots` from the median and a tail that falls off as a
    power, :math:`\log(d_1 / d_2)` and :math:`i \log(d_i / d_{i+1})` are independent exponentials
    of one mean, so :math:`F = \log(d_1/d_2) / \overline{i \log(d_i/d_{i+1})}`, the mean taken over
    *i* = 2 ... *k*, has the F distribution with 2 and 2(*k* - 1) degrees of freedom. Lighter tails
    make *F* smaller: the test errs on the side of silence, and heavy tails do not set it off.

    Parameters
    ----------
    values : array, shape (n_values,)
        On a scale where the two tails are comparable; no NaN.

    Returns
    -------
    place : int
    p : float
        1 when the tail holds too few different values to judge.

    References
    ----------
    A. Renyi (1953), On the theory of order statistics, Acta Mathematica Hungarica 4, 191-231, for
    the spacings; B. M. Hill (1975), A simple general approach to inference about the tail of a
    distribution, Annals of Statistics 3, 1163-1174.

    Examples
    --------
    >>> place, p = farthest_out(np.r_[np.linspace(59, 61, 60), 600.0])
    >>> place, p < 1e-6
    (60, True)
    """
    distance = np.abs(values - np.median(values))
    place = int(distance.argmax())
    tail = int(np.clip(_TAIL_SHARE * len(values), _LEAST_TAIL, _MOST_TAIL))
    far = np.sort(distance)[::-1][: tail + 1]
    if len(far) <= tail or far[-1] <= 0.0 or len(np.unique(far[1:])) < _LEAST_TAIL:
        return place, 1.0
    mean_spacing = float(np.log(far[1:-1] / far[-1]).sum() + np.log(far[1] / far[-1])) / (tail - 1)
    ratio = float(np.log(far[0] / far[1])) / mean_spacing
    return place, float((1.0 + ratio / (tail - 1)) ** -(tail - 1))
