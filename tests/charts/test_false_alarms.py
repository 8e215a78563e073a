"""Chances of false signals against simulation with fixed seeds, within 3 standard errors."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.charts.attributes import p_chart
from weakstep.charts.count_zones import binomial_zones, poisson_zones
from weakstep.charts.false_alarms import (
    false_alarm,
    moving_range_false_alarm,
)
from weakstep.charts.faults import c_chart
from weakstep.charts.patterns import NELSON, WESTERN_ELECTRIC, completions
from weakstep.charts.run_lengths import average_run_length, survival

CHARTS = 8000
ZONED = tuple(name for name in NELSON if name not in ("six_steady", "fourteen_alternating"))


def three_errors(share: float, count: int = CHARTS) -> float:
    """Three standard errors of a share."""
    return 3 * float(np.sqrt(share * (1 - share) / count))


@pytest.mark.parametrize("n_points", [9, 40, 150])
@pytest.mark.parametrize(
    "names",
    [
        ("beyond_limit",),
        ("beyond_limit", "nine_one_side"),
        ("two_of_three", "four_of_five"),
        ("fifteen_close", "eight_far"),
        WESTERN_ELECTRIC,
        ZONED,
        NELSON,
        ("beyond_limit", "six_steady"),
    ],
)
def test_false_alarm_matches_simulation(n_points: int, names: tuple[str, ...]) -> None:
    """The exact chain and 8000 simulated stable charts agree."""
    z = np.random.default_rng(n_points).normal(size=(CHARTS, n_points))
    simulated = np.mean(np.any([found.any(axis=1) for found in completions(z, names).values()], 0))
    exact = false_alarm(n_points, names)
    assert simulated == pytest.approx(exact, abs=three_errors(exact))


@pytest.mark.parametrize("n_values", [3, 20, 100])
def test_moving_range_false_alarm_matches_simulation(n_values: int) -> None:
    """The integral equation and 8000 simulated charts agree."""
    ranges = np.abs(np.diff(np.random.default_rng(n_values).normal(size=(CHARTS, n_values))))
    exact = moving_range_false_alarm(n_values)
    simulated = float((ranges.max(axis=1) > 3.6858863639).mean())
    assert simulated == pytest.approx(exact, abs=three_errors(exact))


def test_shifted_process_signals_as_simulated() -> None:
    """Survival with the zones of a process shifted by one sigma agrees with simulation."""
    from weakstep.charts.run_lengths import zone_probabilities

    z = 1.0 + np.random.default_rng(3).normal(size=(CHARTS, 15))
    found = completions(z, WESTERN_ELECTRIC).values()
    exact = 1 - survival(15, WESTERN_ELECTRIC, zone_probabilities(1.0))[-1]
    simulated = np.mean(np.any([hits.any(axis=1) for hits in found], axis=0))
    assert simulated == pytest.approx(exact, abs=three_errors(exact))


def test_average_run_length_is_the_sum_of_survival() -> None:
    """The average equals one plus the chance to survive each further point, by another road."""
    tail = survival(4000, WESTERN_ELECTRIC)
    assert average_run_length(WESTERN_ELECTRIC) == pytest.approx(1 + tail.sum(), rel=1e-9)


def test_zones_of_counts_add_up_and_match_the_distribution() -> None:
    """Zone chances of counts sum to 1 and agree with adding up the distribution itself."""
    from scipy.stats import binom, norm, poisson

    edges = [-3.0, -2.0, -1.0, 0.0]
    for size, share in ((25, 0.2), (7, 0.5), (60, 0.01)):
        counts = np.arange(size + 1)
        z = (counts - size * share) / np.sqrt(size * share * (1 - share))
        zones = binomial_zones(np.array([size]), share)[0]
        assert zones.sum() == pytest.approx(1.0)
        assert zones[0] == pytest.approx(binom.pmf(counts[z < -3 - 1e-9], size, share).sum())
        assert zones[-1] == pytest.approx(binom.pmf(counts[z > 3 + 1e-9], size, share).sum())
        for place, edge in enumerate(edges):
            below = binom.pmf(counts[z < edge - 1e-9], size, share).sum()
            assert zones[: place + 1].sum() == pytest.approx(below)
    # Of a million items and more nothing is left of the lattice: nearly the normal zones.
    many = binomial_zones(np.array([10**6, 10**9]), 0.2)
    assert many[:, -1] == pytest.approx(norm.sf(3.0), rel=5e-3)
    assert many[1, [0, -1]] == pytest.approx(norm.sf(3.0), rel=3e-4)
    assert binomial_zones(np.array([10**6]), 1e-6)[0, :4].sum() == pytest.approx(
        binom.cdf(0, 10**6, 1e-6), rel=1e-9
    )
    zones = poisson_zones(np.array([16.0]))[0]
    assert zones[-1] == pytest.approx(poisson.sf(28, 16))
    assert zones[4] == pytest.approx(poisson.pmf(16, 16))


def test_p_chart_false_alarm_matches_simulation() -> None:
    """For points of unequal size, with the true share as the centre, over 4000 charts."""
    size = np.array([12, 30, 8, 45, 20, 25, 60, 18, 22, 35, 15, 28])
    failed = np.random.default_rng(5).binomial(size, 0.15, size=(4000, len(size)))
    z = (failed / size - 0.15) / np.sqrt(0.15 * 0.85 / size)
    found = completions(z).values()
    simulated = np.mean(np.any([hits.any(axis=1) for hits in found], axis=0))
    exact = 1 - survival(len(size), zones=binomial_zones(size, 0.15))[-1]
    assert simulated == pytest.approx(exact, abs=three_errors(exact, 4000))
    exact_share = [round(0.15 * 100)] * 4
    assert p_chart(exact_share, [100] * 4).false_alarm == pytest.approx(
        1 - survival(4, zones=binomial_zones(np.full(4, 100), 0.15))[-1]
    )


def test_count_chart_states_its_chance() -> None:
    """One Poisson point beyond either limit of 16 faults: known tails."""
    from scipy.stats import poisson

    chart = c_chart([16])
    assert chart.false_alarm == pytest.approx(poisson.sf(28, 16) + poisson.cdf(3, 16))


def test_no_points_no_alarm() -> None:
    """An empty chart cannot signal, nor one value make a moving range."""
    assert false_alarm(0) == 0.0
    assert moving_range_false_alarm(1) == 0.0
