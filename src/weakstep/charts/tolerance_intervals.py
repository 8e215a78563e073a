"""Statistical tolerance intervals: limits that hold a stated share of a population, surely."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from weakstep.charts.checks import chance
from weakstep.charts.row_checks import one_row
from weakstep.charts.tolerance_factors import tolerance_factor
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

_MOST_VALUES = 10_000_000  # no sample size beyond this is looked for


@dataclass(frozen=True)
class ToleranceInterval:
    r"""
    Limits that hold at least a share *coverage* of all values, with a chance *confidence*.

    Attributes
    ----------
    lower, upper : float
        In the unit of the values; infinite on the open side of a one-sided interval.
    coverage, confidence : float
        As asked for.
    factor : float or None
        *k* of :math:`\bar x \pm k s`; None where the limits are values themselves.
    reached : float
        Confidence of just these limits: *confidence* for normal values, at least it otherwise.
    """

    lower: float
    upper: float
    coverage: float
    confidence: float
    factor: float | None
    reached: float


def tolerance_interval(
    values: ArrayLike,
    coverage: float = 0.95,
    confidence: float = 0.95,
    *,
    side: Literal["both", "lower", "upper"] = "both",
) -> ToleranceInterval:
    r"""
    Tolerance interval of normal values: :math:`\bar x \pm k s` with `tolerance_factor`, exactly.

    Parameters
    ----------
    values : array_like, shape (n_values,)
        In one unit; NaN is left out.
    coverage, confidence : float
        Share of all values that the limits hold, and the chance that they do.
    side : {"both", "lower", "upper"}
        Which limits there are.

    Returns
    -------
    ToleranceInterval

    Raises
    ------
    ValueError
        An argument is out of range.
    NotEnoughError
        Fewer than 2 values.

    References
    ----------
    As for `tolerance_factor`.

    Examples
    --------
    >>> found = tolerance_interval([9.0, 10.0, 11.0, 10.0, 10.0], 0.90, 0.95)
    >>> round(found.lower, 2), round(found.upper, 2)
    (6.97, 13.03)
    """
    known = _known(values, side)
    sides: Literal[1, 2] = 2 if side == "both" else 1
    factor = tolerance_factor(len(known), coverage, confidence, sides=sides)
    mean, reach = float(known.mean()), factor * float(known.std(ddof=1))
    return ToleranceInterval(
        lower=-math.inf if side == "upper" else mean - reach,
        upper=math.inf if side == "lower" else mean + reach,
        coverage=coverage,
        confidence=confidence,
        factor=factor,
        reached=confidence,
    )


def distribution_free_interval(
    values: ArrayLike,
    coverage: float = 0.95,
    confidence: float = 0.95,
    *,
    side: Literal["both", "lower", "upper"] = "both",
) -> ToleranceInterval:
    r"""
    Tolerance interval for values of any continuous distribution: from value to value.

    Leaving out *m* of the outermost values holds a share *p* with chance
    :math:`P(B_{n, p} \le n - m)`, *B* binomial (S. S. Wilks 1941); the largest *m* that suffices is
    used, less of it at the lower end where it is odd.

    Parameters
    ----------
    values, coverage, confidence, side
        As for `tolerance_interval`.

    Returns
    -------
    ToleranceInterval

    Raises
    ------
    ValueError
        An argument is out of range.
    NotEnoughError
        Even the outermost values do not suffice; the message tells how many values would.

    References
    ----------
    S. S. Wilks (1941), Determination of sample sizes for setting tolerance limits, Annals of
    Mathematical Statistics 12, 91-96. ISO 16269-6.

    Examples
    --------
    >>> found = distribution_free_interval(range(100), 0.95, 0.95)
    >>> found.lower, found.upper, round(found.reached, 3)
    (0.0, 99.0, 0.963)
    """
    from scipy.special import bdtr

    known = np.sort(_known(values, side))
    count = len(known)
    least = 2 if side == "both" else 1
    chance("coverage", coverage)
    chance("confidence", confidence)
    sure = bdtr(count - np.arange(least, count + 1.0), count, coverage)
    enough = int((sure >= confidence).sum())
    if enough == 0:
        needed = tolerance_sample_size(coverage, confidence, sides=2 if least == 2 else 1)
        msg = f"{count} values are too few for such an interval; it needs {needed}."
        raise NotEnoughError(msg)
    left_out = least + enough - 1
    below = {"both": left_out // 2, "lower": left_out, "upper": 0}[side]
    above = left_out - below
    return ToleranceInterval(
        lower=float(known[below - 1]) if below else -math.inf,
        upper=float(known[count - above]) if above else math.inf,
        coverage=coverage,
        confidence=confidence,
        factor=None,
        reached=float(sure[enough - 1]),
    )


def tolerance_sample_size(
    coverage: float = 0.95, confidence: float = 0.95, *, sides: Literal[1, 2] = 2
) -> int:
    r"""
    Values needed so that the smallest and the largest hold a share *coverage* of all.

    The least *n* with :math:`1 - n p^{n-1} + (n - 1) p^n \ge \gamma`, or for one side, the largest
    value alone, :math:`1 - p^n \ge \gamma`.

    Parameters
    ----------
    coverage, confidence : float
        :math:`p` and :math:`\gamma`.
    sides : {2, 1}

    Returns
    -------
    int

    Raises
    ------
    ValueError
        An argument is out of range, or more than ten million values would be needed.

    References
    ----------
    As for `distribution_free_interval`.

    Examples
    --------
    >>> tolerance_sample_size(0.95, 0.95), tolerance_sample_size(0.95, 0.95, sides=1)
    (93, 59)
    """
    from scipy.special import bdtr

    chance("coverage", coverage)
    chance("confidence", confidence)
    if sides not in (1, 2):
        msg = f"sides must be 1 or 2, got {sides!r}"
        raise ValueError(msg)
    least, most = int(sides), 2 * int(sides)
    while bdtr(most - sides, most, coverage) < confidence:
        least, most = most, 2 * most
        if most > _MOST_VALUES:
            msg = f"more than {_MOST_VALUES} values would be needed for a share of {coverage}"
            raise ValueError(msg)
    while least < most:
        middle = (least + most) // 2
        if bdtr(middle - sides, middle, coverage) < confidence:
            least = middle + 1
        else:
            most = middle
    return most


def _known(values: ArrayLike, side: str) -> NDArray[np.float64]:
    """Return the logged values, once *side* is one that there is."""
    if side not in ("both", "lower", "upper"):
        msg = f"side must be 'both', 'lower' or 'upper', got {side!r}"
        raise ValueError(msg)
    row = one_row(values)
    known = row[~np.isnan(row)]
    if len(known) < 2:
        msg = f"A tolerance interval needs at least 2 values; {len(known)} logged."
        raise NotEnoughError(msg)
    return known
