"""Control-chart constants: arguments and closed forms."""

from __future__ import annotations

import math

import pytest

from weakstep.charts.factors import constants


def test_pairs_have_closed_forms() -> None:
    """For two values d2 = 2/sqrt(pi) and d3 = sqrt(2 - 4/pi); for three d2 = 3/sqrt(pi)."""
    pair = constants(2)
    assert pair.d2 == pytest.approx(2 / math.sqrt(math.pi), abs=1e-12)
    assert pair.d3 == pytest.approx(math.sqrt(2 - 4 / math.pi), abs=1e-11)
    assert pair.c4 == pytest.approx(math.sqrt(2 / math.pi), abs=1e-15)
    assert constants(3).d2 == pytest.approx(3 / math.sqrt(math.pi), abs=1e-12)


def test_large_subgroups_stay_accurate() -> None:
    """At n = 1000 the mean range is 6.48287 sigma (Tippett 1925 prints 6.48287), c4 about 1."""
    large = constants(1000)
    assert large.d2 == pytest.approx(6.48287, abs=6e-6)
    assert large.c4 == pytest.approx(1 - 1 / (4 * 1000), abs=1e-6)


@pytest.mark.parametrize("n", [1, 0, -3])
def test_one_value_has_no_range(n: int) -> None:
    """A subgroup of fewer than two values is refused with the number found."""
    with pytest.raises(
        ValueError, match=f"subgroup, must be a whole number of at least 2, got {n}"
    ):
        constants(n)
