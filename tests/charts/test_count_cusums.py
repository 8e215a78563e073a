"""CUSUM charts of counts: run lengths by simulation and in cases that can be reckoned by hand."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.charts import count_cusum, count_cusum_law, count_cusum_run_length

NAN = float("nan")
CHARTS = 20_000


@pytest.mark.parametrize(
    ("mean", "reference", "decision", "start", "tested", "upward"),
    [
        (1.0, 2.0, 3.0, 0.0, None, True),
        (2.6, 2.4, 4.7, 2.0, None, True),
        (2.0, 3.5, 6.0, 0.0, None, False),
        (3.0, 2.5, 5.0, 2.5, 20, True),
        (0.2, 0.125, 2.0, 0.0, 1, True),
    ],
)
def test_run_lengths_by_simulation(
    mean: float, reference: float, decision: float, start: float, tested: int | None, upward: bool
) -> None:
    """Average and standard deviation of 20000 charts, within 3.5 standard errors."""
    rng = np.random.default_rng(91)
    sums, alive, lengths = np.full(CHARTS, start), np.ones(CHARTS, dtype=bool), np.zeros(CHARTS)
    way = 1.0 if upward else -1.0
    while alive.any():
        lengths += alive
        counts = (
            rng.poisson(mean, CHARTS)
            if tested is None
            else rng.binomial(tested, mean / tested, CHARTS)
        )
        sums = np.maximum(0.0, sums + way * (counts - reference))
        alive &= sums < decision - 1e-9
    law = count_cusum_law(mean, reference, decision, head_start=start, tested=tested, upward=upward)
    assert lengths.mean() == pytest.approx(law.average, abs=3.5 * law.sd / np.sqrt(CHARTS))
    fourth = ((lengths - lengths.mean()) ** 4).mean() / lengths.var() ** 2
    error = 3.5 * np.sqrt((fourth - 1) / (4 * CHARTS))
    assert lengths.std() == pytest.approx(law.sd, rel=error)


def test_cases_by_hand() -> None:
    """Where the first fault signals, run lengths are geometric; one more needed doubles them."""
    assert count_cusum_run_length(0.01, 1 / 40, 39 / 40, tested=1) == pytest.approx(100.0)
    assert count_cusum_run_length(0.5, 0.5, 0.5) == pytest.approx(1 / (1 - np.exp(-0.5)))
    # Downwards with k = 1 and h = 1, a point without a fault signals.
    assert count_cusum_run_length(0.5, 1.0, 1.0, upward=False) == pytest.approx(np.exp(0.5))
    # Single items with k = 1/2 and h = 1: sums 0 and 1/2. From 1/2 a failure signals and a good
    # item leads back to 0, so it takes two failures in a row: (1 + p) / p^2 items.
    assert count_cusum_run_length(0.2, 0.5, 1.0, tested=1) == pytest.approx(1.2 / 0.2**2)


def test_law_agrees_with_its_average() -> None:
    """The chances point by point add up to the solution of the linear system."""
    law = count_cusum_law(4.0, 5.0, 10.0, head_start=5.0)
    tail = law.left[-1] * law.going_on / (1 - law.going_on)
    assert law.left.sum() + tail == pytest.approx(law.average, rel=1e-9)
    assert law.average < count_cusum_run_length(4.0, 5.0, 10.0)


def test_chart_with_a_gap() -> None:
    """Sums go on across a gap; a sum that reaches the limit signals; the chance is exact."""
    chart = count_cusum([3, NAN, 4, 0, 9], mean=2.0, reference=2.5, decision=2.0)
    assert chart.values[[0, 2, 3, 4]].tolist() == [0.5, 2.0, 0.0, 6.5]
    assert np.isnan(chart.values[1])
    assert [signal.at for signal in chart.signals] == [2, 4]
    assert chart.false_alarm == pytest.approx(1 - count_cusum_law(2.0, 2.5, 2.0).survival(4))
    low = count_cusum([0, 0, 5], mean=2.0, reference=1.5, decision=3.0, upward=False)
    assert low.values.tolist() == [1.5, 3.0, 0.0]
    assert [signal.at for signal in low.signals] == [1]


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: count_cusum_run_length(1.0, np.pi, 4.0), "reference must be a fraction"),
        (lambda: count_cusum_run_length(1.0, 2.0, 3.0, head_start=3.0), "head_start must be below"),
        (lambda: count_cusum_run_length(1.0, 0.999, 9.0), "decision must be at most 4"),
        (lambda: count_cusum_run_length(5.0, 1.0, 3.0, tested=4), "mean must be at most tested"),
        (lambda: count_cusum([5], mean=1.0, reference=2.0, decision=3.0, tested=4), "found 5"),
        (lambda: count_cusum([-1], mean=1.0, reference=2.0, decision=3.0), "none negative"),
    ],
)
def test_refusals(call, words: str) -> None:  # type: ignore[no-untyped-def]
    """One sentence names the argument."""
    with pytest.raises(ValueError, match=words):
        call()
