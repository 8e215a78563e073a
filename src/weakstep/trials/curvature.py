"""Whether an outcome bends between the levels of a trial: runs at the middle against the rest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import NotEnoughError
from weakstep.interval import Interval

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


@dataclass(frozen=True)
class Bend:
    """
    The mean at the middle less the mean of the other runs.

    Attributes
    ----------
    size : Interval
        In the outcome's unit.
    f : float
        The test for curvature: on 1 and `freedom` degrees of freedom.
    freedom : int
        Of the error between runs with the same settings.
    p : float
        NaN, as `f`, where no two runs differ.
    """

    size: Interval
    f: float
    freedom: int
    p: float


def bend(
    coded: ArrayLike, outcome: ArrayLike, *, factor: int | None = None, level: float = 0.95
) -> Bend:
    r"""
    Test for curvature: centre runs of a two-level trial, or the middle one of three levels.

    On a straight line the middle has the mean of the levels. With :math:`n_C` runs at the middle
    and :math:`n_F` others, as many of them at the low as at the high level,

    .. math:: F = \frac{n_F n_C (\bar y_F - \bar y_C)^2}{(n_F + n_C) \, s^2},

    where :math:`s^2` is pooled over runs with the same settings (pure error).

    Parameters
    ----------
    coded : array_like, shape (n_runs, n_factors)
        -1 and +1, every combination as often; 0 for the middle.
    outcome : array_like, shape (n_runs,)
        One value a run.
    factor : int, optional
        Place of the factor of three levels whose bend is asked for; left out, runs at the middle
        of every factor are set against the rest.
    level : float, default 0.95

    Returns
    -------
    Bend

    Raises
    ------
    NotEnoughError
        No run at the middle, no other run, or nothing was repeated.

    References
    ----------
    D. C. Montgomery, Design and Analysis of Experiments, section "The addition of center points to
    the 2^k design"; NIST/SEMATECH e-Handbook of Statistical Methods, 5.3.3.6.

    Examples
    --------
    >>> coded = [[-1.0], [1.0], [0.0], [0.0], [0.0]]
    >>> found = bend(coded, [1.0, 3.0, 2.9, 3.0, 3.1])
    >>> round(found.size.estimate, 3), round(found.f, 1), found.freedom
    (1.0, 120.0, 2)
    """
    from scipy.special import fdtrc, stdtrit

    x, y = np.asarray(coded, dtype=float), np.asarray(outcome, dtype=float)
    centre = ~x.any(axis=1) if factor is None else x[:, factor] == 0.0
    middle, others = int(centre.sum()), int((~centre).sum())
    settings, place = np.unique(x, axis=0, return_inverse=True)
    freedom = len(y) - len(settings)
    if middle == 0 or others == 0 or freedom < 1:
        msg = (
            f"Found {middle} runs at the middle and {others} elsewhere, {freedom} of them repeats; "
            "a bend needs both kinds and at least one repeat."
        )
        raise NotEnoughError(msg)
    place = place.reshape(-1)
    means = np.bincount(place, weights=y) / np.bincount(place)
    variance = float(((y - means[place]) ** 2).sum()) / freedom
    apart = float(y[centre].mean() - y[~centre].mean())
    error = float(np.sqrt(variance * (1.0 / middle + 1.0 / others)))
    reach = error * float(stdtrit(freedom, 0.5 + level / 2.0))
    f = (apart / error) ** 2 if error > 0.0 else float("inf" if apart else "nan")
    size = Interval(apart, apart - reach, apart + reach, level)
    return Bend(size, f, freedom, float(fdtrc(1, freedom, f)))
