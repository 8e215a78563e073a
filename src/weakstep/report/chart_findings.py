"""Charts and tolerances of a Review -> the parts of findings.json that hold them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from weakstep.report.numbers import interval, number

if TYPE_CHECKING:
    from weakstep.charts.tolerance import Tolerance
    from weakstep.reviewing import Review


def charts_found(review: Review) -> list[dict[str, Any]]:
    """Return for each charted parameter its limits, sigma with degrees of freedom, and notes."""
    found = []
    for column, (chart, _) in review.charts.items():
        limits, own = chart.limits, review.own_limits.get(column)
        varies = np.ptp(limits.upper[np.isfinite(limits.upper)]) > 0.0
        found.append(
            {
                "column": column,
                "centre": number(limits.centre),
                "lower": None if varies else number(float(limits.lower[0])),
                "upper": None if varies else number(float(limits.upper[0])),
                "sigma": number(limits.sigma),
                "sigma_from": limits.sigma_from,
                "degrees_of_freedom": number(limits.degrees_of_freedom),
                "signals": len(chart.signals),
                "false_alarm": number(chart.false_alarm),
                "level_differs_by": None if own is None else own.by,
                "notes": list(chart.notes),
            }
        )
    return found


def tolerances_found(review: Review) -> list[dict[str, Any]]:
    """Return for each parameter with a tolerance how it keeps it."""
    return [_tolerance(review, column, one) for column, one in review.tolerances.items()]


def _tolerance(review: Review, column: str, found: Tolerance) -> dict[str, Any]:
    return {
        "column": column,
        "lower": number(found.lower),
        "upper": number(found.upper),
        "unit": review.log.process.parameter(column).unit,
        "values": found.n_values,
        "outside": found.outside,
        "outside_expected": number(found.outside_expected),
        "method": found.method,
        "cp": interval(found.cp),
        "cpk": interval(found.cpk),
        "pp": interval(found.pp),
        "ppk": interval(found.ppk),
        "refused": found.refused,
    }
