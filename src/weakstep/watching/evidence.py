"""The evidence that a parameter moved: likelihood ratios of every start of every change."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.watching.limits import AT_THE_SEAM, SHIFTS, WEIGHTS
from weakstep.watching.scores import score_law

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

# Mean and sd of sqrt |z| for a standard normal z.
ROOT_MEAN, ROOT_SD = 0.822179, 0.349151
_SPREAD_COST = 0.494401  # ln E exp of the spread score of a standard normal z
WAYS = ("higher", "lower", "more spread")
_TILTS = tuple(sign * shift for shift in SHIFTS for sign in (1.0, -1.0))
_SHARES = np.append(np.repeat(WEIGHTS[:-1], 2) / 2.0, WEIGHTS[-1])  # of the tilts and the spread
_MOST = 200.0  # log of a likelihood ratio that is far beyond any limit


def spread_scores(scores: ArrayLike) -> Floats:
    r"""
    Turn scores into ones that rise when the spread does: :math:`(\sqrt{|z|} - 0.822) / 0.349`.

    Nearly standard normal while z is; their mean rises by 1 when the spread doubles.

    References
    ----------
    D. M. Hawkins (1981), A CUSUM for a scale parameter, Journal of Quality Technology 13, 228-231.

    Examples
    --------
    >>> spread_scores([0.0, 1.0]).round(2).tolist()
    [-2.35, 0.51]
    """
    return np.asarray((np.sqrt(np.abs(np.asarray(scores, dtype=float))) - ROOT_MEAN) / ROOT_SD)


def tilt_costs(known: ArrayLike, *, normal: bool) -> Floats:
    r"""
    Return what a score must bring before it speaks for a change.

    With :math:`\kappa = \ln E e^{\delta z}` the ratio :math:`e^{\delta z - \kappa}` has mean 1
    while nothing changes, whatever the law of scores: normal, cut, bounded by ranks or tied. For
    normal ones it is :math:`\delta^2 / 2`.

    Parameters
    ----------
    known : array_like, shape (n_known, ...)
        Values of the baseline.
    normal : bool
        Whether they are scored by mean and standard deviation, else by ranks.

    Returns
    -------
    array, shape (5, ...)
        Of shifts by 1, -1, 2 and -2 standard deviations, and of the spread scores' 1.

    References
    ----------
    D. Siegmund (1985), Sequential Analysis, Springer, chapter 2.

    Examples
    --------
    >>> tilt_costs(np.arange(1000.0), normal=True).round(1).tolist()
    [0.5, 0.5, 2.0, 2.0, 0.5]
    """
    law, chances = score_law(known, normal=normal)
    means = [np.tensordot(chances, np.exp(tilt * law), 1) for tilt in _TILTS]
    means.append(np.tensordot(chances, np.exp(spread_scores(law)), 1))
    return np.asarray(np.log(np.stack(means)))


def evidence(scores: Floats, known: int, costs: Floats) -> Floats:
    r"""
    Weigh up every change that may have begun: the sum of likelihood ratios over starts and sizes.

    A score holds its value against all before it. When the level moves by :math:`\delta` after
    :math:`m` values, those that follow are taken in, too, so that the *j*-th score rises only by
    :math:`\delta c_j`, :math:`c_j = m / \sqrt{(j - 1) j}`, *j* counted from the baseline's first
    value. The log likelihood ratio of that start is :math:`\delta \sum c_j u_j - \sum K(c_j)` with
    :math:`K(c) = c^2 \delta^2 / 2 - c^3 (\delta^2 / 2 - \kappa)`, which is :math:`\kappa` for
    :math:`c = 1` (`tilt_costs`) and that of normal scores for small *c*. The ratios of all starts
    are added up, that of the first one 10 times: much changes between the last run of a baseline
    and the first new one, or at a service. Shifts by 1 and 2 standard deviations, either way, and
    a spread that doubles weigh as `weakstep.watching.limits` says.

    While nothing changes, the mean of the sum after *n* runs is the number of starts, the first one
    counting as 10: *n* + 9.

    Parameters
    ----------
    scores : array, shape (n_runs, ...)
        Of `weakstep.watching.scores.sequential_scores`; no NaN.
    known : int
        Values before the first of them.
    costs : array, shape (5, ...)
        Of `tilt_costs`.

    Returns
    -------
    array, shape (n_runs, 3, ...)
        Parts of the sum that speak for a higher level, a lower one, and more spread.

    References
    ----------
    A. N. Shiryaev (1963), On optimum methods in quickest detection problems, Theory of Probability
    and Its Applications 8, 22-46. S. W. Roberts (1966), A comparison of some control chart
    procedures, Technometrics 8, 411-430. M. Pollak and D. Siegmund (1991), Sequential detection of
    a change in a normal mean when the initial value is unknown, Annals of Statistics 19, 394-416
    (all from memory).

    Examples
    --------
    >>> sums = evidence(np.array([2.0, 2.0]), 10**9, np.array([0.5, 0.5, 2.0, 2.0, 0.49]))
    >>> sums.round(2).tolist()
    [[26.71, 0.19, 3.34], [170.71, 0.03, 11.48]]
    """
    runs, rest = len(scores), scores.shape[1:]
    single = tuple(1 for _ in rest)
    found = np.zeros((runs, len(WAYS), *rest))
    shifted = np.zeros(scores.shape)
    squares, cubes = np.zeros((runs, *single)), np.zeros((runs, *single))
    before = known + np.arange(runs, dtype=float)
    wider = np.exp(spread_scores(scores) - costs[-1])
    spread = np.full(rest, AT_THE_SEAM - 1.0)
    for run in range(runs):
        upto = slice(run + 1)
        c = (before[upto] / np.sqrt((known + run) * (known + run + 1.0))).reshape(-1, *single)
        shifted[upto] += c * scores[run]
        squares[upto] += c * c
        cubes[upto] += c**3
        for place, tilt in enumerate(_TILTS):
            least = tilt * tilt / 2.0
            cost = least * squares[upto] - (least - costs[place]) * cubes[upto]
            ratios = np.exp(np.minimum(tilt * shifted[upto] - cost, _MOST))
            starts = ratios.sum(axis=0) + (AT_THE_SEAM - 1.0) * ratios[0]
            found[run, place % 2] += _SHARES[place] * starts
        spread = np.minimum((1.0 + spread) * wider[run], np.exp(_MOST))
        found[run, 2] = _SHARES[-1] * spread
    return found


def evidence_steps(scores: Floats) -> Floats:
    r"""
    Likelihood ratios of single normal scores: of shifts by 1, -1, 2, -2 and of more spread.

    With nothing learned from them, the sum of every change grows by
    :math:`R_t = (1 + R_{t-1}) \Lambda_t`.

    Parameters
    ----------
    scores : array, shape (...)

    Returns
    -------
    array, shape (5, ...)

    Examples
    --------
    >>> evidence_steps(np.array([2.0])).round(2)[:, 0].tolist()
    [4.48, 0.08, 7.39, 0.0, 3.32]
    """
    tilts = np.array(_TILTS).reshape(-1, *(1 for _ in scores.shape))
    shifts = np.exp(tilts * scores - tilts**2 / 2.0)
    return np.concatenate([shifts, np.exp(spread_scores(scores) - _SPREAD_COST)[None]])


def evidence_of(sums: Floats) -> Floats:
    """
    Weigh the sums of every change together, as `evidence` does.

    Parameters
    ----------
    sums : array, shape (5, ...)

    Returns
    -------
    array, shape (...)

    Examples
    --------
    >>> float(evidence_of(np.ones(5)).round(9))
    1.0
    """
    return np.asarray(np.tensordot(_SHARES, sums, 1))


def start_of(scores: Floats, known: int, way: str) -> int:
    """
    Return where the change most likely began that a signal at the last score tells of.

    Parameters
    ----------
    scores : array, shape (n_runs,)
        Up to the run of the signal.
    known : int
        Values before the first of them.
    way : str

    Examples
    --------
    >>> start_of(np.array([-1.0, 0.2, 2.0, 2.0]), 100, "higher")
    2
    """
    if way == "more spread":
        walk = np.cumsum(spread_scores(scores) - 0.5)
        return int(np.argmin(np.concatenate([[0.0], walk[:-1]])))
    last = known + np.arange(len(scores), dtype=float)
    rows = np.triu(last[:, None] / np.sqrt(last * (last + 1.0)))  # starts x runs
    shifted = rows @ scores * (1.0 if way == "higher" else -1.0)
    weights = (rows**2).sum(axis=1)
    gains = np.stack([shift * shifted - shift**2 / 2.0 * weights for shift in SHIFTS])
    return int(np.argmax(gains.max(axis=0)))
