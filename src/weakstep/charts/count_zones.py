"""Chances of the zones of a chart for points that are counts: binomial, Poisson."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import chance, numbers, real, whole_counts
from weakstep.charts.zone_chain import USUAL_LINES

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

MOST_COUNT = 1e9  # expected; beyond, whole numbers are no longer told apart for long
_ROUNDING = 1e-9  # a count on a line is on it, whatever the computer rounds


def binomial_zones(
    tested: ArrayLike,
    share: float,
    now: float | None = None,
    lines: tuple[float, ...] = USUAL_LINES,
) -> Floats:
    """
    Chance of each zone of a p or np chart for a binomial process, point by point.

    Parameters
    ----------
    tested : array_like of int, shape (n_points,)
        Items in each point, at least 1.
    share : float
        Share of failures that the lines of the chart come from, strictly between 0 and 1.
    now : float, optional
        True share of failures; default *share*, a stable process.
    lines : tuple of float
        Between the zones, in sigmas, rising, the centre line twice; default at whole sigmas.

    Returns
    -------
    array, shape (n_points, n_zones)
        As `weakstep.charts.run_lengths.zone_probabilities` (nine zones for the usual lines).

    Raises
    ------
    ValueError
        An argument is out of range.

    Examples
    --------
    >>> binomial_zones([50], 0.2).round(4).tolist()  # 10 lies on the centre line
    [[0.0002, 0.0183, 0.1719, 0.2533, 0.1398, 0.2304, 0.1553, 0.0283, 0.0025]]
    """
    chance("share", share)
    if now is not None:
        real("now", now, least=0.0, most=1.0)
    size = whole_counts("tested", tested)[:, None]
    if not ((size >= 1.0) & (size <= MOST_COUNT)).all():
        msg = f"tested must be from 1 to {MOST_COUNT:g} in every point"
        raise ValueError(msg)
    counts = _at_most(size * share, np.sqrt(size * share * (1.0 - share)), lines)
    return _between(binomial_at_most(counts, size, share if now is None else now))


def poisson_zones(
    mean: ArrayLike, now: ArrayLike | None = None, lines: tuple[float, ...] = USUAL_LINES
) -> Floats:
    """
    Chance of each zone of a c or u chart for a Poisson process, point by point.

    Parameters
    ----------
    mean : array_like, shape (n_points,)
        Count of each point that the lines of the chart come from, above 0.
    now : array_like, shape (n_points,), optional
        True expected count; default *mean*, a stable process.
    lines : tuple of float
        As for `binomial_zones`.

    Returns
    -------
    array, shape (n_points, n_zones)
        As for `binomial_zones`.

    Raises
    ------
    ValueError
        An argument is out of range.

    Examples
    --------
    >>> poisson_zones([16.0]).round(4).tolist()
    [[0.0001, 0.0099, 0.117, 0.3398, 0.0992, 0.3022, 0.1095, 0.0201, 0.0022]]
    """
    from scipy.special import pdtr

    centre = expected_counts("mean", mean)[:, None]
    true = centre if now is None else expected_counts("now", now)[:, None]
    if true.shape != centre.shape:
        msg = f"now must have a mean for each of {len(centre)} points, got {len(true)}"
        raise ValueError(msg)
    counts = _at_most(centre, np.sqrt(centre), lines)
    return _between(np.where(counts < 0.0, 0.0, pdtr(np.maximum(counts, 0.0), true)))


def _at_most(mean: Floats, spread: Floats, lines: tuple[float, ...]) -> Floats:
    """
    Largest count in or below each zone but the last.

    Zones below the centre stop before their line, zones above it include theirs: a point on a line
    is not beyond it. The centre line stands twice among the lines.
    """
    places = mean + spread * np.array(lines)
    first_centre = lines.index(0.0) if 0.0 in lines else -1
    below = [line < 0.0 or place == first_centre for place, line in enumerate(lines)]
    before, with_it = np.ceil(places - _ROUNDING) - 1.0, np.floor(places + _ROUNDING)
    return np.asarray(np.where(below, before, with_it), dtype=float)


def binomial_at_most(count: Floats, size: Floats, share: float) -> Floats:
    r"""
    Chance of at most so many failures: :math:`P(X \le k) = 1 - I_p(k + 1, n - k)`.

    By the incomplete beta function, which keeps its digits for any size; *count* and *size* are
    whole and of shapes that fit each other.
    """
    from scipy.special import betaincc

    inside = np.clip(count, 0.0, size - 1.0)
    known = betaincc(inside + 1.0, size - inside, share)
    return np.where(count < 0.0, 0.0, np.where(count >= size, 1.0, known))


def binomial_more_than(count: Floats, size: Floats, share: float) -> Floats:
    """Chance of more failures than so many, as `binomial_at_most`."""
    from scipy.special import betainc

    inside = np.clip(count, 0.0, size - 1.0)
    known = betainc(inside + 1.0, size - inside, share)
    return np.where(count < 0.0, 1.0, np.where(count >= size, 0.0, known))


def _between(reached: Floats) -> Floats:
    """Chances of the zones, from those of all that lies in or below each but the last."""
    return np.asarray(np.diff(reached, prepend=0.0, append=1.0, axis=1), dtype=float)


def expected_counts(name: str, values: ArrayLike) -> Floats:
    """Return expected counts as one row; raise when they cannot be that."""
    row = numbers(name, values)
    wrong = row[~((row > 0.0) & (row <= MOST_COUNT))]
    if row.ndim != 1 or len(wrong):
        found = f"got shape {row.shape}" if row.ndim != 1 else f"found {wrong[0]:g}"
        msg = f"{name} must be one row of means above 0 and at most {MOST_COUNT:g}, {found}"
        raise ValueError(msg)
    return row
