"""Periods in which more failed than a stable line shows are told at the top of the page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from weakstep.report.figures.failures import worse_periods
from weakstep.reviewing import Review

Spoken = Callable[[str], str]


@pytest.mark.parametrize(
    ("labels", "bad", "said"),
    [
        (("2026-03-02", "2026-03-09", "2026-03-16"), (), ""),
        (
            ("2026-03-02", "2026-03-09", "2026-03-16"),
            (1,),
            "More failed in the week of 9 March 2026 than a stable line shows: "
            "ask what was different then.",
        ),
        (("runs 1–10", "runs 11–20", "runs 21–30"), (0, 2), "in runs 1–10 and runs 21–30 than"),
        (
            tuple(f"runs {10 * i + 1}–{10 * i + 10}" for i in range(5)),
            range(5),
            "runs 21–30 and 2 more periods than a stable line shows",
        ),
    ],
)
def test_periods_in_which_more_failed_are_named_at_the_top(
    review: Review, labels: tuple[str, ...], bad: Sequence[int], said: str, spoken: Spoken
) -> None:
    """Above the upper limit only; few failures are no reason to worry."""
    known = review.failure_chart
    assert known is not None
    size = len(labels)
    level, low, high = (np.full(size, one) for one in (0.2, 0.05, 0.4))
    level[0] = 0.0
    level[list(bad)] = 0.5
    limits = replace(known.chart.limits, lower=low, upper=high)
    chart = replace(known.chart, values=level, limits=limits)
    found = spoken(worse_periods(replace(known, labels=labels, chart=chart)))
    assert said in found
    assert bool(found) == bool(len(bad))
