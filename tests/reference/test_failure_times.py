"""
Times to failure against published examples (data and results from memory, as widely reprinted).

- Freireich, E. J. et al. (1963), Blood 21, 699-716: weeks of remission of 42 children with acute
  leukaemia, 21 under 6-mercaptopurine and 21 under placebo; Kaplan-Meier medians 23 and 8 weeks and
  the log-rank test (9 observed against 19.25 expected; 21 against 10.75; chi-square 16.79) as in
  Gehan (1965), Cox & Oakes (1984) and Collett (2015), Modelling Survival Data.
- Klein, J. P. & Moeschberger, M. L. (2003), Survival Analysis, 2nd edition, tables 4.1A and 4.2:
  product-limit and Nelson-Aalen estimates of the treated children.
- Lieblein, J. & Zelen, M. (1956), J. Res. Nat. Bur. Stand. 57, 273-316: endurance of 23 ball
  bearings, millions of revolutions; Weibull shape 2.10, scale 81.9 by maximum likelihood (Lawless,
  J. F. 2003, Statistical Models and Methods for Lifetime Data; Meeker & Escobar 1998).
"""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.duration.survfunc import survdiff

from weakstep.failures.measured import hazard_scores, median_held, weibull

TREATED = np.array(
    [6, 6, 6, 7, 10, 13, 16, 22, 23, 6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35], dtype=float
)
RELAPSED = np.arange(21) < 9
PLACEBO = np.array(
    [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23], dtype=float
)
BEARINGS = np.array(
    [
        *(17.88, 28.92, 33.00, 41.52, 42.12, 45.60, 48.48, 51.84, 51.96, 54.12, 55.56, 67.80),
        *(68.64, 68.64, 68.88, 84.12, 93.12, 98.64, 105.12, 105.84, 127.92, 128.04, 173.40),
    ]
)


def test_medians_of_the_leukaemia_trial():
    """Twelve of the treated children were censored."""
    assert median_held(TREATED, RELAPSED) == 23.0
    assert median_held(PLACEBO, np.ones(21, dtype=bool)) == 8.0


NELSON_AALEN = {
    6: 0.1428,
    7: 0.2017,
    10: 0.2683,
    13: 0.3517,
    16: 0.4426,
    22: 0.5854,
    23: 0.7521,
}


def test_cumulative_hazard_of_the_treated_children():
    """A score is 1 for a relapse, 0 for a censored child, less the cumulative hazard so far."""
    hazard = RELAPSED - hazard_scores(TREATED, RELAPSED)
    for weeks, printed in NELSON_AALEN.items():
        found = hazard[(weeks == TREATED) & RELAPSED]
        np.testing.assert_allclose(found, printed, atol=1e-4)
    # The child censored at 35 weeks has seen no more than the last relapse.
    assert hazard[-1] == pytest.approx(0.7521, abs=1e-4)


PRODUCT_LIMIT = {6: 0.857, 7: 0.807, 10: 0.753, 13: 0.690, 16: 0.627, 22: 0.538, 23: 0.448}


@pytest.mark.parametrize("weeks", PRODUCT_LIMIT)
def test_median_is_where_the_printed_curve_crosses_a_half(weeks):
    """Of the children left at each relapse: their curve is the printed one over its last value."""
    left = weeks <= TREATED
    before = min((share for week, share in PRODUCT_LIMIT.items() if week < weeks), default=1.0)
    crossed = (week for week, share in PRODUCT_LIMIT.items() if share <= before / 2.0)
    assert median_held(TREATED[left], RELAPSED[left]) == next(crossed, None)


def test_scores_add_up_to_the_published_log_rank_test():
    """Observed less expected: 9 - 19.25 under treatment, 21 - 10.75 under placebo."""
    values = np.concatenate([TREATED, PLACEBO])
    reached = np.concatenate([RELAPSED, np.ones(21, dtype=bool)])
    scores = hazard_scores(values, reached)
    assert scores[:21].sum() == pytest.approx(9 - 19.25, abs=0.005)
    assert scores[21:].sum() == pytest.approx(21 - 10.75, abs=0.005)


def test_published_chi_square_from_a_second_road():
    """By statsmodels 16.79; permuting our scores gives a variance within 15 % of its own."""
    values = np.concatenate([TREATED, PLACEBO])
    reached = np.concatenate([RELAPSED, np.ones(21, dtype=bool)])
    group = np.repeat([0, 1], 21)
    chi2, _ = survdiff(values, reached.astype(int), group)
    assert chi2 == pytest.approx(16.79, abs=0.005)
    scores = hazard_scores(values, reached)
    variance = 21 * 21 / (42 * 41) * float((scores**2).sum())
    assert scores[:21].sum() ** 2 / variance == pytest.approx(chi2, rel=0.15)


def test_weibull_of_the_ball_bearings():
    """As printed: shape 2.10, scale 81.9."""
    shape, scale = weibull(BEARINGS, np.ones(23, dtype=bool))
    assert shape == pytest.approx(2.10, abs=0.005)
    assert scale == pytest.approx(81.9, abs=0.05)


def test_exponential_lives_of_the_placebo_group():
    """With shape 1 the scale is total time over failures; 182 weeks / 21 (Cox & Oakes 1984)."""
    shape, scale = weibull(PLACEBO, np.ones(21, dtype=bool))
    assert PLACEBO.sum() / 21 == pytest.approx(182 / 21)
    # The Weibull equations at their solution: scale^shape is the mean of t^shape.
    assert scale**shape == pytest.approx((PLACEBO**shape).mean(), rel=1e-9)
