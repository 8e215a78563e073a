"""Charts of failures: share or number of failed items per point."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.checks import chance, whole_counts, whole_number
from weakstep.charts.count_zones import binomial_zones
from weakstep.charts.frozen import frozen
from weakstep.charts.laney import Widen, laney_factor, widening
from weakstep.charts.looks import Look
from weakstep.charts.model import Chart, Limits
from weakstep.charts.pattern_shapes import SequencePattern
from weakstep.charts.patterns import DEFAULT_PATTERNS
from weakstep.charts.run_lengths import survival
from weakstep.charts.zone_chain import USUAL_WIDTH
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from weakstep.charts.model import Signal
    from weakstep.charts.pattern_shapes import Pattern

    Floats = NDArray[np.float64]


def p_chart(
    failed: ArrayLike,
    tested: ArrayLike,
    *,
    share: float | None = None,
    allow_overdispersion: bool = False,
    patterns: Sequence[str | Pattern] = DEFAULT_PATTERNS,
    width: float = USUAL_WIDTH,
) -> Chart:
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
    share : float, optional
        Known share of failures; default :math:`\bar p`.
    allow_overdispersion : bool, default False
        Widen the limits by Laney's factor where it passes its bound; otherwise they stay binomial.
        `laney_p_chart` uses the factor whatever it is.
    patterns : sequence of str or pattern
        Looked for on the chart; no patterns of steps, as counts may be equal.
    width : float, default 3
        Sigmas to the limits; other lines of the patterns move with it, as in `pattern_width`.

    Returns
    -------
    Chart
        Values and limits as shares; `limits.sigma` is that of a point of mean size.

    Raises
    ------
    ValueError
        Counts are not whole, negative, or more failed than were tested, or *share* is not between
        0 and 1.
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
    bad, size = counts(failed, tested)
    widen: Widen = "beyond chance" if allow_overdispersion else "never"
    return share_chart(bad, size, "p", share, widen, Look.of(patterns, width))


def np_chart(
    failed: ArrayLike,
    size: int,
    *,
    share: float | None = None,
    patterns: Sequence[str | Pattern] = DEFAULT_PATTERNS,
    width: float = USUAL_WIDTH,
) -> Chart:
    r"""
    Chart of the number of failures in points of one size: limits of `p_chart` times the size.

    Parameters
    ----------
    failed : array_like of int, shape (n_points,)
        Items that failed.
    size : int
        Items tested in every point.
    share : float, optional
        Known share of failures; default :math:`\bar p`.
    patterns : sequence of str or pattern
        Looked for on the chart; no patterns of steps, as counts may be equal.
    width : float, default 3
        Sigmas to the limits; other lines of the patterns move with it, as in `pattern_width`.

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
    whole_number("size", size, 1)
    bad = whole_counts("failed", failed)
    bad, sizes = counts(bad, np.full(bad.shape, float(size)))
    return share_chart(bad, sizes, "np", share, "never", Look.of(patterns, width))


def counts(failed: ArrayLike, tested: ArrayLike) -> tuple[Floats, Floats]:
    """Return items that failed and items tested as two rows; raise when they cannot be counts."""
    bad, size = whole_counts("failed", failed), whole_counts("tested", tested)
    if bad.shape != size.shape:
        msg = f"failed and tested must be rows of one length, got {len(bad)} and {len(size)}"
        raise ValueError(msg)
    wrong = np.flatnonzero(bad > size)
    if len(wrong):
        point = wrong[0]
        msg = (
            "failed must be whole counts of at most tested, found "
            f"{bad[point]:g} of {size[point]:g} at point {point + 1}"
        )
        raise ValueError(msg)
    return bad, size


def share_chart(
    bad: Floats,
    size: Floats,
    kind: str,
    known: float | None,
    widen: Widen,
    look: Look,
) -> Chart:
    """Chart of shares, with limits widened by Laney's factor never, beyond chance, or always."""
    if size.sum() == 0:
        msg = "A chart of failures needs at least one item with a known outcome; there is none."
        raise NotEnoughError(msg)
    share = float(bad.sum() / size.sum()) if known is None else chance("share", known)
    used = size > 0
    with_size = np.where(used, size, np.nan)
    sigma = np.sqrt(share * (1.0 - share) / with_size)
    off = bad / with_size - share
    scatter = laney_factor(off[used], sigma[used])
    factor = widening(widen, scatter, off[used], sigma[used])
    scale = size if kind == "np" else np.ones(size.shape)
    limit = look.width * factor * sigma
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
            sigma_from="binomial"
            + (", share of failures given" if known is not None else "")
            + (", times Laney's sigma of z" if factor != 1.0 else ""),
            degrees_of_freedom=math.inf,
        ),
        signals=signals_off_centre(off, np.where(used, sigma, 0.0) * factor, look),
        false_alarm=_share_false_alarm(size[used], share, factor, look),
        notes=_share_notes(bad, size, scatter, factor) if widen != "always" else (),
    )


def _share_notes(bad: Floats, size: Floats, scatter: float, factor: float) -> tuple[str, ...]:
    notes = []
    if bad.sum() in (0.0, size.sum()):
        what = "failed" if bad.any() else "passed"
        notes.append(f"Every item {what}, so there is no variation to chart.")
    if scatter > 1.0:
        done = "limits were widened by that factor" if factor > 1.0 else "signals come too often"
        notes.append(
            f"Shares scatter {scatter:.2f} times as much from point to point as chance allows "
            f"(items made together fail together), so {done}."
        )
    if not (size > 0).all():
        notes.append("Points without a tested item are left empty and passed over.")
    return tuple(notes)


def _share_false_alarm(size: Floats, share: float, factor: float, look: Look) -> float:
    check_zone_patterns(look)
    if share in (0.0, 1.0):
        return 0.0
    if factor != 1.0:  # limits by Laney's factor take the shares as normal
        return look.false_alarm(len(size))
    zones = binomial_zones(size, share, lines=look.lines)
    return float(1.0 - survival(len(size), look.patterns, zones)[-1])


def signals_off_centre(off: Floats, sigma: Floats, look: Look) -> tuple[Signal, ...]:
    """Signals of points off the centre; none where there is no variation."""
    z = np.divide(off, sigma, out=np.full(off.shape, np.nan), where=sigma > 0.0)
    return look.signals(z)


def check_zone_patterns(look: Look) -> None:
    """Raise ValueError where patterns of steps are asked for on a chart of counts."""
    steps = [one.name for one in look.patterns if isinstance(one, SequencePattern)]
    if steps:
        msg = f"counts may be equal, so no patterns of steps are looked for: leave out {steps[0]}"
        raise ValueError(msg)
