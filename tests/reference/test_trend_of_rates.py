"""
Trend of failure rates over ordered groups, against published examples and a reference library.

P. Armitage and G. Berry, Statistical Methods in Medical Research (from memory; data of Holmes and
Williams 1954): carriers of Streptococcus pyogenes by size of the tonsils, 19 of 516, 29 of 589, 24
of 293; chi-square for trend 7.19 on 1 degree of freedom, for any difference 7.88 on 2. The two
printed values are recomputed here from their formulas before ours are compared with them.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import chi2
from statsmodels.genmod.families import Binomial
from statsmodels.genmod.generalized_linear_model import GLM
from statsmodels.stats.contingency_tables import Table

from weakstep.semesters.trend import odds_per_semester
from weakstep.trials.luck import chance_groups_differ, chance_of_luck

CARRIERS, SEEN = np.array([19, 29, 24]), np.array([516, 589, 293])
REORDERINGS = 4999


def people() -> tuple[np.ndarray, np.ndarray]:
    """Return carrier or not, and size of the tonsils, one entry a person."""
    carrier = np.concatenate(
        [np.repeat([1, 0], [k, n - k]) for k, n in zip(CARRIERS, SEEN, strict=True)]
    )
    return carrier, np.repeat([0, 1, 2], SEEN)


def bound(p: float, draws: int) -> float:
    """Three standard errors of a p-value by re-ordering."""
    return 3.0 * float(np.sqrt(p * (1.0 - p) / draws)) + 1.0 / draws


def test_the_printed_values_follow_from_their_formulas() -> None:
    """7.19 and 7.88, to the digits printed, by the library's and the textbook's formula."""
    table = Table(np.column_stack([CARRIERS, SEEN - CARRIERS]))
    trend = table.test_ordinal_association()
    assert trend.zscore**2 == pytest.approx(7.19, abs=0.01)
    rate = CARRIERS.sum() / SEEN.sum()
    any_difference = ((CARRIERS - SEEN * rate) ** 2 / SEEN).sum() / (rate * (1.0 - rate))
    assert any_difference == pytest.approx(7.88, abs=0.006)


def test_luck_of_the_trend_as_printed() -> None:
    """Runs of one chip: dealing them again gives the tail of chi-square 7.19 within its error."""
    carrier, size = people()
    nobody, printed = np.full(len(carrier), ""), float(chi2.sf(7.19, 1))
    tested = np.ones(len(carrier), dtype=int)
    p = chance_of_luck(carrier, tested, size, nobody, seed=1, reorderings=REORDERINGS)
    assert p == pytest.approx(printed, abs=bound(printed, REORDERINGS) + 0.0005)


def test_luck_of_any_difference_as_printed() -> None:
    """The same for 7.88 on 2 degrees of freedom."""
    carrier, size = people()
    nobody, printed = np.full(len(carrier), ""), float(chi2.sf(7.88, 2))
    tested = np.ones(len(carrier), dtype=int)
    p = chance_groups_differ(carrier, tested, size, nobody, seed=2, reorderings=REORDERINGS)
    assert p == pytest.approx(printed, abs=bound(printed, REORDERINGS) + 0.0005)


def test_odds_by_another_road() -> None:
    """A binomial GLM of the library gives the same slope; our weak prior moves it by < 1 %."""
    carrier, size = people()
    tested = np.ones(len(carrier), dtype=int)
    found = odds_per_semester(carrier, tested, size, np.full(len(carrier), ""))
    fit = GLM(carrier, np.column_stack([np.ones(len(size)), size]), family=Binomial()).fit()
    assert found is not None
    assert np.log(found.estimate) == pytest.approx(fit.params[1], rel=0.01)
    assert np.log(found.lower) == pytest.approx(fit.conf_int()[1][0], rel=0.05)
    assert np.log(found.upper) == pytest.approx(fit.conf_int()[1][1], rel=0.02)
