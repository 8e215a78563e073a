"""Whether groups lie at different levels: against scipy and by its error."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import kruskal

from weakstep.charts.levels import levels_differ


@pytest.mark.parametrize("digits", [0, 6])
def test_same_as_scipy(digits: int) -> None:
    """Three groups, with many ties and with none; a missing value is left out."""
    rng = np.random.default_rng(digits)
    values = np.round(rng.normal(0.0, 2.0, size=60), digits)
    groups = rng.choice(["a", "b", "c"], size=60)
    values[7] = np.nan
    known = ~np.isnan(values)
    parts = [values[known & (groups == name)] for name in "abc"]
    assert levels_differ(values, groups) == pytest.approx(kruskal(*parts).pvalue, rel=1e-10)


def test_nothing_to_compare() -> None:
    """One group, equal values or none at all cannot differ."""
    assert levels_differ([1.0, 2.0], ["a", "a"]) == 1.0
    assert levels_differ([1.0, 1.0], ["a", "b"]) == 1.0
    assert levels_differ([np.nan], ["a"]) == 1.0
    mixed = levels_differ([1.0, 2.0, 7.0, 8.0], np.array([1, 1, "b", None], dtype=object))
    assert mixed == levels_differ([1.0, 2.0, 7.0, 8.0], ["1", "1", "b", "None"])
    with pytest.raises(ValueError, match="groups must name each of the 2 values"):
        levels_differ([1.0, 2.0], ["a"])


def test_error_of_the_first_kind() -> None:
    """Groups of one level differ at 5 % in 5 % of 2000 draws, within 3 standard errors."""
    rng = np.random.default_rng(5)
    groups = np.repeat(["a", "b", "c"], 15)
    found = np.mean([levels_differ(rng.normal(size=45), groups) < 0.05 for _ in range(2000)])
    assert found == pytest.approx(0.05, abs=3 * np.sqrt(0.05 * 0.95 / 2000))
