"""The distribution of the median of a few normal values."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import whole_number
from weakstep.charts.normal import normal_pdf
from weakstep.charts.quadrature import gauss_legendre
from weakstep.charts.zone_chain import USUAL_LINES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_REACH = 9.0  # beyond 9 sigma the normal tail adds less than 1e-18
_DECAY = 40.0  # a density smaller by this power of e adds nothing
_NODES = 96  # Gauss-Legendre nodes over the median, and over half the gap of the middle pair


def _density(places: Floats, n: int) -> Floats:
    """Density of the median of *n* standard normal values."""
    from scipy.special import log_ndtr

    below = (n - 1) // 2  # values below the middle one, or below the middle pair
    log_scale = math.lgamma(n + 1) - 2.0 * math.lgamma(below + 1)
    if n % 2:
        log_tails = log_ndtr(places) + log_ndtr(-places)
        return np.asarray(np.exp(log_scale + below * log_tails) * normal_pdf(places), dtype=float)
    # The density of half the gap falls at least as fast as exp(-1.59 below gap).
    reach = min(_REACH, _DECAY / (1.59 * max(below, 1)))
    nodes, weights = gauss_legendre(_NODES)
    half_gap = reach * (nodes + 1.0) / 2.0
    low, high = places[:, None] - half_gap, places[:, None] + half_gap
    log_tails = log_ndtr(low) + log_ndtr(-high)
    pair = np.exp(log_scale + below * log_tails) * normal_pdf(low) * normal_pdf(high)
    return np.asarray(2.0 * pair @ (weights * reach / 2.0), dtype=float)


def median_sd(n: int) -> float:
    r"""
    Compute the standard deviation of the median of *n* standard normal values.

    By quadrature over the density of the middle value (*n* odd) or over the joint density of the
    middle pair (*n* even). About :math:`\sqrt{\pi / 2n}` for many values.

    Parameters
    ----------
    n : int
        At least 1.

    Returns
    -------
    float
        In sigmas of a single value.

    Raises
    ------
    ValueError
        *n* is not a whole number of at least 1.

    References
    ----------
    ISO 7870-2, Control charts, Part 2: Shewhart control charts (median charts).

    Examples
    --------
    >>> round(median_sd(3), 4), round(median_sd(4), 4)
    (0.6698, 0.5461)
    """
    return _median_sd(whole_number("n", n, 1))


@lru_cache(maxsize=128)
def _median_sd(n: int) -> float:
    """Compute it once for each number of values."""
    nodes, weights = gauss_legendre(_NODES)
    reach = _REACH / math.sqrt(max(1.0, n / 4.0))
    places = reach * (nodes + 1.0) / 2.0
    return math.sqrt(2.0 * float((weights * reach / 2.0) @ (places**2 * _density(places, n))))


@lru_cache(maxsize=128)
def median_zones(n: int, lines: tuple[float, ...] = USUAL_LINES) -> tuple[float, ...]:
    """
    Chance of each zone of a median chart, *lines* in standard deviations of the median.

    As `weakstep.charts.run_lengths.zone_probabilities`, for the median of *n* normal values.

    Examples
    --------
    >>> round(2 * median_zones(2)[0], 5), round(2 * median_zones(3)[0], 5)
    (0.0027, 0.00292)
    """
    sd = median_sd(n)
    nodes, weights = gauss_legendre(_NODES)
    half = _REACH * sd / 2.0
    above = {
        line: half * float(weights @ _density(line * sd + half * (nodes + 1.0), n))
        for line in {abs(line) for line in lines}
    }
    reached = [1.0 - above[line] if line > 0.0 else above[-line] for line in lines]
    return tuple(np.diff(reached, prepend=0.0, append=1.0).tolist())
