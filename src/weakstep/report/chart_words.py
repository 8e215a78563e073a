"""What a parameter's block says of its limits, its fitness for a chart and its tolerance."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.report.words import agree, count, level, percent, plain

if TYPE_CHECKING:
    from weakstep.charting import OwnLimits
    from weakstep.charts.model import Chart
    from weakstep.charts.tolerance import Tolerance
    from weakstep.interval import Interval
    from weakstep.report.names import Names
    from weakstep.reviewing import Review

MOST_GROUPS = 8


def tolerance_line(names: Names, column: str, found: Tolerance | None) -> str:
    """Return how a parameter keeps its tolerance, in one line; "" without one."""
    if found is None:
        return ""
    outside = (
        f"Tolerance {_range(names, column, found)}: {found.outside} of "
        f"{count(found.n_values, 'run')} {agree(found.outside, 'lies', 'lie')} outside"
    )
    if found.refused is not None or found.ppk is None or found.outside_expected is None:
        return f"{outside}. {found.refused or ''}".strip()
    return f"{outside}, {percent(found.outside_expected)} expected; {_index('Ppk', found.ppk)}."


def chart_details(names: Names, review: Review, column: str) -> tuple[str, ...]:
    """Return what stands behind the limits: sigma, fitness, stages or strata, all indices."""
    pair = review.charts.get(column)
    if pair is None or _wears(review, column):
        return ()
    own, tolerance = review.own_limits.get(column), review.tolerances.get(column)
    return tuple(
        filter(
            None,
            (
                sigma_words(names, column, pair[0]),
                own_words(names, column, own) if own is not None else "",
                _indices(tolerance) if tolerance is not None else "",
                *dict.fromkeys(pair[0].notes),
            ),
        )
    )


def _wears(review: Review, column: str) -> bool:
    return any(d.column == column and d.form == "cycle" for d in review.drifts.drifts)


def sigma_words(names: Names, column: str, chart: Chart) -> str:
    """Return sigma, where it comes from and its degrees of freedom."""
    limits = chart.limits
    logs = "logarithm" in limits.sigma_from
    sigma = plain(limits.sigma) if logs else names.spread(column, limits.sigma)
    freedom = (
        "known exactly"
        if np.isinf(limits.degrees_of_freedom)
        else f"{plain(limits.degrees_of_freedom, 0)} degrees of freedom"
    )
    return f"Sigma {sigma} from {limits.sigma_from}, {freedom}."


def own_words(names: Names, column: str, own: OwnLimits) -> str:
    """Return why there are limits for each stage or stratum, and what they are."""
    limits = own.chart.limits
    shown = [
        f"{name} {names.bare(column, float(limits.lower[place]))} to "
        f"{names.value(column, float(limits.upper[place]))}"
        for name, place in list(zip(own.names, own.first, strict=True))[:MOST_GROUPS]
    ]
    more = len(own.names) - len(shown)
    rest = f"; {more} more" if more > 0 else ""
    apart, together = len(own.chart.signals), own.signals_together
    counts = f"({count(apart, 'signal')}; {together} with one set of limits for all)"
    if own.by == "service":
        return (
            f"The level differs between services, so each stage has its own limits {counts}: "
            f"{', '.join(shown)}{rest}."
        )
    return (
        f"The level differs by {names.label(own.by)}; limits for each would be {counts}: "
        f"{', '.join(shown)}{rest}."
    )


def _range(names: Names, column: str, found: Tolerance) -> str:
    if found.lower is None and found.upper is not None:
        return f"at most {names.value(column, found.upper)}"
    if found.upper is None and found.lower is not None:
        return f"at least {names.value(column, found.lower)}"
    return f"{names.bare(column, found.lower or 0.0)} to {names.value(column, found.upper or 0.0)}"


def _index(symbol: str, found: Interval) -> str:
    return f"{symbol} {found.estimate:.2f} ({level(found)}: {found.lower:.2f} to {found.upper:.2f})"


def _indices(found: Tolerance) -> str:
    pairs = (("Cp", found.cp), ("Cpk", found.cpk), ("Pp", found.pp), ("Ppk", found.ppk))
    said = [_index(symbol, one) for symbol, one in pairs if one is not None]
    if not said:
        return ""
    how = (
        "values taken as normal"
        if found.method == "normal"
        else f"by percentiles (ISO 22514-2), values taken as normal on the scale of {found.method}"
    )
    return (
        f"Against the tolerance: {', '.join(said)}; {how}. Cp and Cpk look at the spread between "
        "neighbours, Pp and Ppk at that of all runs."
    )
