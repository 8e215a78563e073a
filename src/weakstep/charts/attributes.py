"""Charts of failures: share or number of failed items per point."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.factors import constants
from weakstep.charts.false_alarms import binomial_zones, false_alarm
from weakstep.charts.frozen import frozen
from weakstep.charts.model import Chart, Limits
from weakstep.charts.patterns import DEFAULT_PATTERNS, find_signals
from weakstep.charts.run_lengths import survival
from weakstep.charts.single_values import moving_range_freedom
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from weakstep.charts.model import Signal

    Floats = NDArray[np.float64]

_WIDTH = 3.0  # sigmas from the centre line to a limit
_FEWEST_FOR_SPREAD = 8  # points before overdispersion is judged
_ONE_SIDED_5_PERCENT = 1.6449


def p_chart(failed: ArrayLike, tested: ArrayLike, *, allow_overdispersion: bool = False) -> Chart:
    r"""
    Chart of the share of failures, for points of equal or unequal size.

    With :math:`\bar p = \sum d_i / \sum n_i` limits lie at
    :math:`\bar p \pm 3 \sqrt{\bar p (1 - \bar p) / n_i}`, cut at 0 and 1. Shares that scatter from
    point to point more than a binomial process would are told in a note: Laney's factor
    :math:`\sigma_z = \overline{MR}(z) / d_2` is held against its one-sided 5 % bound.

    Parameters
    ----------
    failed, tested : array_like of int, shape (n_points,)
        Items that failed and items with a known outcome; a point with none is a gap (NaN).
    allow_overdispersion : bool, default False
        Widen the limits by Laney's factor where it passes its bound; otherwise they stay binomial.

    Returns
    -------
    Chart
        Values and limits as shares; `limits.sigma` is that of a point of mean size.

    Raises
    ------
    ValueError
        Counts are not whole, negative, or more failed than were tested.
    NotEnoughError
        No item was tested at all.

    References
    ----------
    ISO 7870-2, Control charts, Part 2: Shewhart control charts. D. B. Laney (2002), Improved
    control charts for attributes, Quality Engineering 14, 531-537.

    Examples
    --------
    >>> chart = p_chart([2, 1, 3, 2], [20, 20, 30, 10])
    >>> chart.limits.centre, chart.limits.upper.round(3).tolist()
    (0.1, [0.301, 0.301, 0.264, 0.385])
    """
    bad, size = _counts(failed, tested)
    return _share_chart(bad, size, "p", allow_overdispersion=allow_overdispersion)


def np_chart(failed: ArrayLike, size: int) -> Chart:
    r"""
    Chart of the number of failures in points of one size: limits of `p_chart` times the size.

    Parameters
    ----------
    failed : array_like of int, shape (n_points,)
        Items that failed.
    size : int
        Items tested in every point.

    Returns
    -------
    Chart
        Values and limits as numbers of items.

    Raises
    ------
    ValueError
        Counts are not whole, negative, or above *size*.

    References
    ----------
    ISO 7870-2, Control charts, Part 2: Shewhart control charts.

    Examples
    --------
    >>> round(float(np_chart([2, 1, 3, 2], 20).limits.upper[0]), 3)
    6.025
    """
    bad, sizes = _counts(failed, np.full(np.shape(failed), size))
    return _share_chart(bad, sizes, "np", allow_overdispersion=False)


def _counts(failed: ArrayLike, tested: ArrayLike) -> tuple[Floats, Floats]:
    bad, size = np.asarray(failed, dtype=float), np.asarray(tested, dtype=float)
    if bad.ndim != 1 or bad.shape != size.shape:
        msg = f"failed and tested must be rows of one length, got {bad.shape} and {size.shape}"
        raise ValueError(msg)
    if not (are_counts(bad) and are_counts(size)) or (bad > size).any():
        msg = "failed and tested must be whole counts with failed at most tested"
        raise ValueError(msg)
    return bad, size


def are_counts(counts: Floats) -> bool:
    """Whether all are whole, finite and not negative."""
    return bool((np.isfinite(counts) & (counts >= 0) & (counts == np.floor(counts))).all())


def _share_chart(bad: Floats, size: Floats, kind: str, *, allow_overdispersion: bool) -> Chart:
    if size.sum() == 0:
        msg = "A chart of failures needs at least one item with a known outcome; there is none."
        raise NotEnoughError(msg)
    share = float(bad.sum() / size.sum())
    used = size > 0
    with_size = np.where(used, size, np.nan)
    sigma = np.sqrt(share * (1.0 - share) / with_size)
    off = bad / with_size - share
    scatter = laney_factor(off[used], sigma[used])
    factor = scatter if allow_overdispersion else 1.0
    scale = size if kind == "np" else np.ones(size.shape)
    limit = _WIDTH * factor * sigma
    return Chart(
        kind=kind,
        values=frozen(bad / with_size * scale),
        limits=Limits(
            centre=share * float(scale[0]),
            lower=frozen(np.maximum(share - limit, 0.0) * scale),
            upper=frozen(np.minimum(share + limit, 1.0) * scale),
            sigma=math.sqrt(share * (1.0 - share) / float(size[used].mean()))
            * factor
            * float(scale[0]),
            sigma_from="binomial" + (", times Laney's sigma of z" if factor > 1.0 else ""),
            degrees_of_freedom=math.inf,
        ),
        signals=signals_off_centre(off, np.where(used, sigma, 0.0) * factor),
        false_alarm=_share_false_alarm(size[used], share, factor),
        notes=_share_notes(share, scatter, widened=factor > 1.0, gaps=not used.all()),
    )


def _share_notes(share: float, scatter: float, *, widened: bool, gaps: bool) -> tuple[str, ...]:
    notes = []
    if share in (0.0, 1.0):
        what = "failed" if share else "passed"
        notes.append(f"Every item {what}, so there is no variation to chart.")
    if scatter > 1.0:
        done = "limits were widened by that factor" if widened else "signals come too often"
        notes.append(
            f"Shares scatter {scatter:.2f} times as much from point to point as chance allows "
            f"(items made together fail together), so {done}."
        )
    if gaps:
        notes.append("Points without a tested item are left empty and passed over.")
    return tuple(notes)


def laney_factor(off: Floats, sigma: Floats) -> float:
    """
    Laney's sigma of z where it is larger than chance allows, else 1.

    Parameters
    ----------
    off, sigma : array, shape (n_points,)
        Distance of each point from the centre, and its standard deviation by the counting model.

    Examples
    --------
    >>> laney_factor(np.tile([3.0, -3.0], 10), np.ones(20)) > 5
    True
    >>> laney_factor(np.tile([0.5, -0.5], 10), np.ones(20))
    1.0
    """
    count = len(off)
    if count < _FEWEST_FOR_SPREAD or not sigma.any():
        return 1.0
    factor = float(np.abs(np.diff(off / sigma)).mean() / constants(2).d2)
    spread = 1.0 / math.sqrt(2.0 * moving_range_freedom(count))
    return factor if factor > 1.0 + _ONE_SIDED_5_PERCENT * spread else 1.0


def _share_false_alarm(size: Floats, share: float, factor: float) -> float:
    if share in (0.0, 1.0):
        return 0.0
    if factor > 1.0:  # the widened limits take the shares as normal
        return false_alarm(len(size), DEFAULT_PATTERNS)
    zones = binomial_zones(size.astype(np.int64), share)
    return float(1.0 - survival(len(size), DEFAULT_PATTERNS, zones)[-1])


def signals_off_centre(off: Floats, sigma: Floats) -> tuple[Signal, ...]:
    """Signals of points off the centre; none where there is no variation."""
    z = np.divide(off, sigma, out=np.full(off.shape, np.nan), where=sigma > 0.0)
    return find_signals(z, DEFAULT_PATTERNS)
