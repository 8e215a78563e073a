"""Charts of faults: equal and unequal areas, refusals."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.charts.faults import c_chart, u_chart
from weakstep.errors import NotEnoughError


def test_u_chart_of_equal_areas_is_a_c_chart() -> None:
    """Faults per unit area with area 1 everywhere are faults."""
    faults = [3, 9, 4, 18]
    assert u_chart(faults, [1, 1, 1, 1]).limits.upper == pytest.approx(c_chart(faults).limits.upper)
    assert u_chart(faults, [2, 2, 2, 2]).limits.centre == pytest.approx(8.5 / 2)


def test_no_fault_at_all_shows_no_signal() -> None:
    """A log without faults gives limits without width and a note."""
    chart = c_chart([0, 0, 0])
    assert chart.signals == ()
    assert "No fault was found" in chart.notes[0]


def test_impossible_faults_are_refused() -> None:
    """Faults are whole, areas finite, and both of one length."""
    with pytest.raises(ValueError, match="whole counts"):
        c_chart([0.5])
    with pytest.raises(ValueError, match="rows of one length"):
        u_chart([1, 2], [1.0])


def test_nothing_looked_at_is_told() -> None:
    """Without any area there is no chart, and a point without area is a gap."""
    with pytest.raises(NotEnoughError, match="looked at"):
        u_chart([0], [0.0])
    assert u_chart([1, 0, 3], [1.0, 0.0, 1.0]).limits.centre == 2.0


def test_overdispersed_faults_are_told_and_allowed_for() -> None:
    """Rates that differ from point to point: told; with the factor fewer points signal."""
    rng = np.random.default_rng(8)
    faults = rng.poisson(20.0 * rng.gamma(4.0, 0.25, size=60))
    plain, wide = (
        u_chart(faults, np.full(60, 2.0), allow_overdispersion=allow) for allow in (False, True)
    )
    assert any("signals come too often" in note for note in plain.notes)
    assert any("widened" in note for note in wide.notes)
    assert wide.limits.upper[0] > plain.limits.upper[0]
    assert len(wide.signals) < len(plain.signals)
    calm = u_chart(rng.poisson(20.0, size=60), np.full(60, 2.0), allow_overdispersion=True)
    assert calm.notes == ()
    assert calm.limits.sigma_from == "Poisson"
