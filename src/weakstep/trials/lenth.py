"""Margins of error of a trial in which nothing was repeated, from its own small effects."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


@dataclass(frozen=True)
class Margins:
    """
    What effects of chance alone stay within, in the unit of the effects.

    Attributes
    ----------
    error : float
        Pseudo standard error of an effect.
    freedom : float
        Its degrees of freedom: a third of the effects, at least 1.
    individual : float
        Margin for one effect that was named beforehand.
    simultaneous : float
        Margin for the largest of all of them.
    level : float
    """

    error: float
    freedom: float
    individual: float
    simultaneous: float
    level: float


def pseudo_error(effects: ArrayLike) -> float:
    r"""
    Compute Lenth's pseudo standard error of effects, for trials in which nothing was repeated.

    With :math:`s_0 = 1.5 \, \mathrm{median} |c_j|`, it is 1.5 times the median of the
    :math:`|c_j|` below :math:`2.5 s_0`: right while few effects are real.

    Raises
    ------
    ValueError
        No effect.

    References
    ----------
    R. V. Lenth (1989), Quick and easy analysis of unreplicated factorials, Technometrics 31,
    469-473.

    Examples
    --------
    >>> pseudo_error([1.0, -1.0, 1.0, 20.0])
    1.5
    """
    sizes = np.abs(np.asarray(effects, dtype=float))
    if not len(sizes):
        msg = "Found no effect; expected one or more, without the mean."
        raise ValueError(msg)
    start = 1.5 * float(np.median(sizes))
    return 1.5 * float(np.median(sizes[sizes < 2.5 * start])) if start > 0.0 else 0.0


def lenth_margins(effects: ArrayLike, level: float = 0.95) -> Margins:
    r"""
    Compute Lenth's margins of error from the effects of a trial in which nothing was repeated.

    With *m* effects and the pseudo standard error *s*, the margin of one effect is
    :math:`t_{(1 + level) / 2, \; m/3} \, s`, and that of all effects together
    :math:`t_{\gamma, \; m/3} \, s` with :math:`\gamma = (1 + level^{1/m}) / 2`.

    Parameters
    ----------
    effects : array_like, shape (m,)
        In one unit; the mean is none of them.
    level : float, default 0.95

    Returns
    -------
    Margins

    Raises
    ------
    ValueError
        No effect.

    References
    ----------
    As for `pseudo_error`.

    Examples
    --------
    >>> found = lenth_margins([1.0, -1.0, 1.0, 20.0, 0.5, 0.7, -0.2])
    >>> round(found.individual, 2), round(found.simultaneous, 2)
    (4.8, 11.49)
    """
    from scipy.special import stdtrit

    sizes = np.abs(np.asarray(effects, dtype=float))
    error, freedom = pseudo_error(sizes), max(1.0, len(sizes) / 3.0)
    together = (1.0 + level ** (1.0 / len(sizes))) / 2.0
    return Margins(
        error,
        freedom,
        float(stdtrit(freedom, 0.5 + level / 2.0)) * error,
        float(stdtrit(freedom, together)) * error,
        level,
    )
