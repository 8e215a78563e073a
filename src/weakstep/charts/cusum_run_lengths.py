r"""
Run lengths of CUSUM charts, by integral equations, for one side and for both together.

Where a sum stands after a point, *y*, is a state; average run lengths solve
:math:`A(s) = 1 + A(0) F(k - s) + \int A(y) f(y + k - s) dy` (E. S. Page 1954, Continuous inspection
schemes, Biometrika 41, 100-115), here at Gauss-Legendre nodes. All lengths are in sigmas.

Both sides together are exact as well. When both sums are above 0 they lose 2 *k* together at every
point, so when one of them signals the other stands at 0 and begins anew. With :math:`a_s, b_s` the
chances that the upward and the downward sum alone, started at *s*, first signal at each point, the
chances :math:`g^\pm` that both run and one side signals first are therefore

.. math::
    g^+(n) = a_s(n) - \sum_{m < n} g^-(m) a_0(n - m), \quad
    g^-(n) = b_s(n) - \sum_{m < n} g^+(m) b_0(n - m),

whose means are the relation :math:`1/A = 1/A^+ + 1/A^-` of K. W. Kemp (1961, The average run length
of the cumulative sum chart when a V-mask is used, Journal of the Royal Statistical Society B 23,
149-153), and with a head start that of Lucas and Crosier (1982).
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.chain import Chain
from weakstep.charts.normal import normal_cdf, normal_pdf
from weakstep.charts.run_length_laws import RunLengthLaw, law_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_NODES = 96  # enough for eight digits of the average run lengths in the published tables


@lru_cache(maxsize=64)
def _chain(allowance: float, decision: float) -> Chain:
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    places = np.append(0.0, decision * (nodes + 1.0) / 2.0)

    def step(states: Floats, shift: float) -> Floats:
        need = allowance - shift - states[:, None]
        density = normal_pdf(places + need)
        density[:, 0] = normal_cdf(need[:, 0])
        return density

    return Chain(places, np.append(1.0, decision * weights / 2.0), step)


def cusum_law(
    allowance: float,
    decision: float,
    shift: float = 0.0,
    *,
    head_start: float = 0.0,
    two_sided: bool = True,
    steady_state: bool = False,
) -> RunLengthLaw:
    r"""
    Distribution of the run length of a tabular CUSUM of normal values.

    Parameters
    ----------
    allowance, decision : float
        *k* and *h*, in sigmas.
    shift : float, default 0
        Of the mean, in sigmas.
    head_start : float, default 0
        Where the sums start, in sigmas; for two sides at most *h* / 2 + *k*.
    two_sided : bool, default True
        False: upward sums only.
    steady_state : bool, default False
        The shift comes long after the start, without a signal before on any side in use.

    Returns
    -------
    RunLengthLaw
        Average, standard deviation, quantiles and survival, in points.

    Raises
    ------
    ValueError
        An argument is out of range.

    References
    ----------
    J. M. Lucas and R. B. Crosier (1982), Fast initial response for CUSUM quality-control schemes,
    Technometrics 24, 199-205.

    Examples
    --------
    >>> law = cusum_law(0.5, 5.0)
    >>> round(law.average, 2), law.quantile(0.5), round(law.survival(100), 4)
    (465.44, 325, 0.8148)
    """
    check_cusum(allowance, decision, head_start, two_sided=two_sided)
    if head_start and steady_state:
        msg = "a chart that has run for long has no head start: leave head_start out"
        raise ValueError(msg)
    chain = _chain(allowance, decision)
    if not two_sided:
        return chain.steady_law(shift) if steady_state else chain.law(head_start, shift)
    if steady_state:
        start = _settled_between(chain)
        up, down = (_first_signals(chain.survivals(start, way), True) for way in (shift, -shift))
        average = _joined_average(
            [float(start @ chain.run_lengths(way)) for way in (shift, -shift)],
            [float(chain.run_lengths(way)[0]) for way in (shift, -shift)],
        )
    else:
        up, down = (
            _first_signals(chain.survivals_from(head_start, way), False) for way in (shift, -shift)
        )
        average = cusum_run_length(allowance, decision, shift, head_start=head_start)
    anew = [_first_signals(chain.survivals_from(0.0, way), False) for way in (shift, -shift)]
    return law_of(_either_side((up, down), (anew[0], anew[1])), average)


def _first_signals(survivals: Iterator[float], before: bool) -> Iterator[float]:
    """Chances of the first signal at points 1, 2, ...; *before*: survivals begin at point 0."""
    last = next(survivals) if before else 1.0
    for value in survivals:
        yield last - value
        last = value


Pair = tuple[Iterator[float], Iterator[float]]


def _either_side(first: Pair, anew: Pair) -> Iterator[float]:
    """
    Chances of no signal on either side by points 1, 2, ...

    *first* are the chances of a first signal of each side alone, *anew* the same from 0.
    """
    size = 64
    won, fresh = np.zeros((2, size)), np.zeros((2, size))
    left, point = 1.0, 0
    while True:
        if point == size:
            won, fresh = (np.hstack([old, np.zeros_like(old)]) for old in (won, fresh))
            size *= 2
        fresh[:, point] = next(anew[0]), next(anew[1])
        backwards = fresh[:, :point][:, ::-1]
        alone = np.array([next(first[0]), next(first[1])])
        won[:, point] = alone - np.einsum("sm,sm->s", won[::-1, :point], backwards)
        left -= float(won[:, point].sum())
        point += 1
        yield left


def _settled_between(chain: Chain) -> Floats:
    r"""
    Law of one sum of a stable two-sided chart that has long been without a signal on either side.

    With :math:`\varphi(z)` the generating function of the run length of one side, that of both is
    :math:`2 \varphi / (1 + \varphi)`; its nearest pole :math:`z_0`, where :math:`\varphi = -1`, is
    1 over the chance of going on. The law of one sum is :math:`e_0 (I - z_0 Q)^{-1}`, scaled to 1.
    """
    from scipy.optimize import brentq

    moves = chain.moves(0.0)
    one = np.eye(len(moves))

    def law(z: float) -> Floats:
        return np.linalg.solve(one - z * moves.T, one[0]).astype(np.float64)

    def excess(z: float) -> float:  # phi + 1, phi being 1 - (1 - z) x (sum of z^n S_n)
        return 2.0 - (1.0 - z) * float(law(z).sum())

    one_side = 1.0 / float(np.abs(np.linalg.eigvals(moves)).max())
    least, most = one_side + 1e-6 * (one_side - 1.0), 1.0 + 2.5 * (one_side - 1.0)
    while excess(most) < 0.0:
        most += one_side - 1.0
    found = law(float(brentq(excess, least, most, xtol=1e-14)))
    return np.asarray(found / found.sum(), dtype=float)


def _joined_average(first: list[float], anew: list[float]) -> float:
    """Average run length of both sides, from those of each alone at the start and from 0."""
    # Divided by the larger of the two, so that a very long one does not run over.
    long, short = (0, 1) if anew[0] >= anew[1] else (1, 0)
    share = anew[short] / anew[long]
    return (first[long] * share + first[short] - anew[short]) / (1.0 + share)


def cusum_run_length(
    allowance: float,
    decision: float,
    shift: float = 0.0,
    *,
    head_start: float = 0.0,
    two_sided: bool = True,
    steady_state: bool = False,
) -> float:
    r"""
    Average run length of a tabular CUSUM of normal values: the average of `cusum_law`.

    Two sides join as :math:`1/A = 1/A^+ + 1/A^-`; with a head start *s*, as
    :math:`A = [A^+_s A^-_0 + A^-_s A^+_0 - A^+_0 A^-_0] / (A^+_0 + A^-_0)` (Lucas and Crosier
    1982).

    Parameters
    ----------
    allowance, decision, shift, head_start, two_sided, steady_state
        As for `cusum_law`.

    Returns
    -------
    float
        In points.

    Examples
    --------
    >>> round(cusum_run_length(0.5, 4.0), 2), round(cusum_run_length(0.5, 5.0, 1.0), 2)
    (167.68, 10.38)
    """
    check_cusum(allowance, decision, head_start, two_sided=two_sided)
    if steady_state:
        law = cusum_law(allowance, decision, shift, two_sided=two_sided, steady_state=True)
        return law.average
    chain = _chain(allowance, decision)
    if not two_sided:
        return chain.run_length_from(head_start, shift)
    return _joined_average(
        [chain.run_length_from(head_start, way) for way in (shift, -shift)],
        [chain.run_length_from(0.0, way) for way in (shift, -shift)],
    )


def cusum_survival(
    n_points: int,
    allowance: float,
    decision: float,
    shift: float = 0.0,
    *,
    head_start: float = 0.0,
    two_sided: bool = False,
) -> Floats:
    """
    Chance that a CUSUM has not signalled by each point; shape (n_points,).

    Parameters
    ----------
    n_points : int
    allowance, decision, shift, head_start : float
        As for `cusum_law`.
    two_sided : bool, default False
        False: upward sums only; True: on neither side, exactly.

    Examples
    --------
    >>> float(cusum_survival(1, 0.5, 2.5)[0].round(6))
    0.99865
    >>> float(cusum_survival(1, 0.5, 2.5, two_sided=True)[0].round(6))
    0.9973
    """
    check_cusum(allowance, decision, head_start, two_sided=two_sided)
    chain = _chain(allowance, decision)
    if not two_sided:
        return chain.survival(n_points, head_start, shift)
    first, anew = (
        tuple(_first_signals(chain.survivals_from(s, way), False) for way in (shift, -shift))
        for s in (head_start, 0.0)
    )
    either = _either_side((first[0], first[1]), (anew[0], anew[1]))
    return np.array([next(either) for _ in range(n_points)])


def check_cusum(
    allowance: float, decision: float, head_start: float, *, two_sided: bool = False
) -> None:
    """Raise ValueError when the numbers do not make a CUSUM whose run lengths are known."""
    if not (allowance >= 0.0 and decision > 0.0 and 0.0 <= head_start < decision):
        msg = (
            "allowance must not be negative, decision above 0 and head_start from 0 to below "
            f"decision, got {allowance}, {decision} and {head_start}"
        )
        raise ValueError(msg)
    if two_sided and head_start > decision / 2.0 + allowance:
        msg = (
            "with two sides head_start must be at most decision / 2 + allowance "
            f"({decision / 2.0 + allowance:g}), got {head_start:g}"
        )
        raise ValueError(msg)
