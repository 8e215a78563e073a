"""Moving-average charts: chances by multivariate normal integrals, cells and simulation."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from weakstep.charts import (
    moving_average,
    moving_average_law,
    moving_average_run_length,
    moving_average_width,
)

DATA = Path(__file__).parents[1] / "reference" / "data" / "montgomery_cusum_ewma_30.csv"


def by_normal_integral(span: int, width: float, shift: float, n_points: int) -> tuple[float, float]:
    """
    Chance that so many averages, which are jointly normal, all stay within their limits.

    Scipy's integrals over random lattices: the mean of twelve, and its standard error.
    """
    rows = np.array(
        [[(i - span < k <= i) / min(i + 1, span) for k in range(n_points)] for i in range(n_points)]
    )
    error = np.sqrt(np.diag(rows @ rows.T))
    found = [
        multivariate_normal.cdf(
            width * error, rows.sum(axis=1) * shift, rows @ rows.T, lower_limit=-width * error,
            maxpts=20_000, abseps=1e-9, releps=1e-9, rng=np.random.default_rng([151, seed]),
        )
        for seed in range(12)
    ]  # fmt: skip
    return float(np.mean(found)), float(np.std(found, ddof=1) / np.sqrt(12))


@pytest.mark.parametrize("span", [2, 3, 4, 5])
@pytest.mark.parametrize(("width", "shift"), [(3.0, 0.0), (2.0, 0.0), (2.5, 1.2)])
def test_first_points_by_normal_integrals(span: int, width: float, shift: float) -> None:
    """
    Chances of no signal by points 1 to 7 agree with scipy's integrals.

    Within 4 of their standard errors, and 2e-7 for our nodes (2e-6 for the fewer ones of a span of
    5).
    """
    law = moving_average_law(span, width, shift)
    for points in (1, 2, span + 1, 7):
        exact, error = by_normal_integral(span, width, shift, points)
        assert error < 1e-4
        ours = 2e-6 if span == 5 else 2e-7
        assert law.survival(points) == pytest.approx(exact, abs=4 * error + ours)


@pytest.mark.parametrize("shift", [0.0, 1.5])
def test_averages_of_two_by_cells(shift: float) -> None:
    """Cells of the last value instead of nodes, 1500 of them: four digits."""
    edges = np.linspace(shift - 7.0, shift + 7.0, 1501)
    middles = (edges[1:] + edges[:-1]) / 2
    reach = 2.8 * np.sqrt(2)
    kept = np.clip(edges, -reach - middles[:, None], reach - middles[:, None])
    moves = np.diff(norm.cdf(kept - shift), axis=1)
    lengths = np.linalg.solve(np.eye(1500) - moves, np.ones(1500))
    first = np.diff(norm.cdf(np.clip(edges, -2.8, 2.8) - shift))
    exact = float(1.0 + first @ lengths)
    assert moving_average_run_length(2, 2.8, shift) == pytest.approx(exact, rel=1e-4)


@pytest.mark.parametrize(("span", "width", "shift"), [(3, 2.0, 0.0), (4, 2.4, 0.8), (5, 2.2, 0.5)])
def test_run_lengths_by_simulation(span: int, width: float, shift: float) -> None:
    """Mean and chance left after 40 points of 20000 charts, within 3.5 standard errors."""
    rng = np.random.default_rng(152)
    values = rng.normal(shift, size=(20_000, 700))
    sums = np.concatenate([np.zeros((20_000, 1)), np.cumsum(values, axis=1)], axis=1)
    held = np.minimum(np.arange(1, 701), span)
    totals = sums[:, 1:] - sums[:, np.arange(1, 701) - held]
    beyond = np.abs(totals) > width * np.sqrt(held)
    assert beyond.any(axis=1).all()
    lengths = 1 + beyond.argmax(axis=1)
    law = moving_average_law(span, width, shift)
    assert lengths.mean() == pytest.approx(law.average, abs=3.5 * law.sd / np.sqrt(20_000))
    left = law.survival(40)
    assert (lengths > 40).mean() == pytest.approx(left, abs=3.5 * np.sqrt(left * (1 - left) / 2e4))


def test_widths_for_what_is_asked() -> None:
    """Solved for a run length and for a chance, and back."""
    width = moving_average_width(3, run_length=500.0)
    assert moving_average_run_length(3, width) == pytest.approx(500.0, rel=1e-5)
    width = moving_average_width(4, family_wise=0.05, n_points=60, n_charts=3)
    left = moving_average_law(4, width).survival(60)
    assert left**3 == pytest.approx(0.95, rel=1e-6)
    with pytest.raises(ValueError, match="a width of 5 signals sooner"):
        moving_average_width(2, run_length=1e8)
    with pytest.raises(ValueError, match=r"a width of 0\.1 signals later"):
        moving_average_width(2, run_length=1.001)


def test_published_example() -> None:
    """
    D. C. Montgomery, Introduction to Statistical Quality Control, moving averages of five.

    Target 10, sigma 1: averages 9.45, 8.72, 8.91, 9.5975 of the first points, limits 11.34 and
    8.66 once there are five values; from memory.
    """
    with DATA.open(encoding="utf-8") as rows:
        values = [float(row["x"]) for row in csv.DictReader(rows)]
    chart = moving_average(values, target=10.0, sigma=1.0, span=5)
    assert chart.values[:4] == pytest.approx([9.45, 8.72, 8.91, 9.5975], abs=1e-9)
    assert chart.limits.upper[4:] == pytest.approx(11.34, abs=5e-3)
    assert chart.limits.lower[4:] == pytest.approx(8.66, abs=5e-3)
    assert chart.values[20] == pytest.approx(np.mean(values[16:21]))


def test_gaps_and_units() -> None:
    """A gap is passed over, another unit changes no signal, a point on a limit is within."""
    values = np.array([1.0, np.nan, 2.0, 3.0, -4.0, -5.0])
    chart = moving_average(values, target=0.0, sigma=1.0, span=2, width=2.0)
    assert chart.values == pytest.approx([1.0, np.nan, 1.5, 2.5, -0.5, -4.5], nan_ok=True)
    assert chart.limits.upper[[0, 2]] == pytest.approx([2.0, 2.0 / np.sqrt(2)])
    assert [signal.at for signal in chart.signals] == [2, 3, 5]
    moved = moving_average(10 + 3 * values, target=10.0, sigma=3.0, span=2, width=2.0)
    assert moved.values == pytest.approx(10 + 3 * chart.values, nan_ok=True)
    assert moved.signals == chart.signals
    exact, error = by_normal_integral(2, 2.0, 0.0, 5)
    assert chart.false_alarm == pytest.approx(1 - exact, abs=4 * error)
    assert moving_average([2.0, 2.0], target=0.0, sigma=1.0, span=2, width=2.0).signals[0].at == 1
    with pytest.raises(ValueError, match="take ewma for a longer memory"):
        moving_average(values, target=0.0, sigma=1.0, span=6)
    with pytest.raises(ValueError, match=r"width must be from 0\.1 to 5"):
        moving_average_law(3, 9.0)
