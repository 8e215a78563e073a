"""A comparison as data for programs."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from weakstep.interval import Interval
    from weakstep.trials.comparing import Comparison


def comparison_dict(comparison: Comparison) -> dict[str, object]:
    """Return the comparison for programs: schema weakstep.comparison/1, INTERVALs as elsewhere."""
    spread = comparison.spread
    return {
        "schema": "weakstep.comparison/1",
        "periods": list(comparison.names),
        "runs": list(comparison.runs),
        "within_run_correlation": comparison.correlation,
        "changes": [
            {
                "family": change.family,
                "failed": list(change.failed),
                "tested": list(change.tested),
                "before": change.before.to_dict(),
                "after": change.after.to_dict(),
                "difference": change.difference.to_dict(),
                "difference_allowing": change.allowed.to_dict() if change.allowed else None,
                "chance_of_luck": change.luck,
                "still_possible": change.still_possible,
                "good_needed": change.good_needed,
            }
            for change in comparison.changes
        ],
        "column": comparison.column,
        "spread": None
        if spread is None
        else {
            "medians": list(spread.medians),
            "deviations": list(spread.deviations),
            "as_factor": spread.as_factor,
            "ratio": _finite(spread.ratio),
            "inside": list(spread.inside) if spread.inside else None,
        },
        "moved": [
            {"column": one.column, "before": one.before, "after": one.after, "p": one.p}
            for one in comparison.moved
        ],
        "held": list(comparison.held),
        "weeks_differ": comparison.weeks_differ,
        "new_hands": comparison.new_hands,
        "dealt": comparison.dealt,
        "undated": comparison.undated,
    }


def _finite(interval: Interval) -> dict[str, float] | None:
    """Return an interval for programs; None where it has no ends, for which JSON has no word."""
    told = interval.to_dict()
    return told if all(map(math.isfinite, told.values())) else None
