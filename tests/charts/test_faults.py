"""Charts of faults: equal and unequal areas, refusals."""

from __future__ import annotations

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
