"""Tails that normal scores pull in: a hint that the spread of a parameter changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.drift.describe import pulled_in

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

# A spread of 1 that becomes 1.5 or 2 halfway leaves an excess kurtosis of 0.4 or 1.1 over the whole
# log, seen with a standard error of sqrt(24 / n). Changes that can be found at all leave about one
# standard error or more.
_EXPECTED = 0.8  # standard errors of excess where the spread changed
_LEAST, _MOST = -1.8, 2.7  # bounds of the leaning, as tails have other causes too
_SD_OF_MAD = 1.4826  # standard deviations of a normal distribution in a median absolute deviation
_LIKE_NORMAL = 3  # parameters without heavy tails that are thought to stand beside those judged


def tails_pulled_in(values: Floats, scores: Floats, strata: NDArray[np.intp]) -> float:
    r"""
    By how much the kurtosis of the values exceeds that of their normal scores.

    :math:`\frac1n \sum_i (z_i^4 - s_i^4)`, with *s* the scores and *z* the values, those far out
    pulled in, standardised within each stratum. Re-ordering the values does not change it.

    Parameters
    ----------
    values : array, shape (n_values,)
        On the scale of the description; no NaN.
    scores : array, shape (n_values,)
        Mean 0 and variance 1 within each stratum.
    strata : array of int, shape (n_values,)

    Returns
    -------
    float
        No unit; about 0 for normal values, and where ties leave the scores no freedom.

    Examples
    --------
    >>> scores = np.array([-1.0, -1.0, 1.0, 1.0])
    >>> tails_pulled_in(np.array([3.0, 3.0, 7.0, 7.0]), scores, np.zeros(4, dtype=int))
    0.0
    """
    fourth = np.zeros(len(values))
    for code in np.unique(strata):
        inside = strata == code
        off = pulled_in(values[inside])
        off = off - off.mean()
        largest = np.abs(off).max()
        if largest > 0.0:
            off /= largest  # so that squares cannot run over
            fourth[inside] = (off * off / np.mean(off * off)) ** 2
    return float(np.mean(fourth - scores**4))


def toward_spread(tails: Floats, counts: Floats) -> Floats:
    r"""
    How much likelier a change of spread is beforehand than usual, by the tails.

    With :math:`e = \sqrt{24 / n}` the standard error of a kurtosis, the excess *t* less the median
    of all parameters is taken as normal about :math:`\mu = 0.8 e` where the spread changed and
    about 0 where not, with standard deviation :math:`\sigma = \max(e, d)`, *d* the scatter of all
    parameters (from their median absolute deviation): :math:`\mu (t - \tilde t) / \sigma^2 - \mu^2
    / (2 \sigma^2)`, from -1.8 to 2.7. Three parameters without heavy tails are counted with those
    of the log. Where tails are heavy or differ anyhow, they tell little. The leaning depends on
    what the values are, not on their order, so a test by re-ordering stays exact.

    Parameters
    ----------
    tails : array, shape (n_parameters,)
        From `tails_pulled_in`.
    counts : array, shape (n_parameters,)
        Values of each.

    Returns
    -------
    array, shape (n_parameters,)
        Logarithms.

    Examples
    --------
    >>> toward_spread(np.array([0.0, 0.8, 9.0]), np.full(3, 150.0)).round(1).tolist()
    [-0.3, 1.3, 2.7]
    """
    every = np.append(tails, np.zeros(_LIKE_NORMAL))
    usual = np.median(every)
    differ = _SD_OF_MAD * np.median(np.abs(every - usual))
    error = np.sqrt(24.0 / np.maximum(counts, 1.0))
    shift, variance = _EXPECTED * error, np.maximum(error, differ) ** 2
    leaning: Floats = np.clip(shift * (tails - usual - shift / 2.0) / variance, _LEAST, _MOST)
    return leaning
