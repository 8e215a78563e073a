"""MEWMA run lengths after a shift: against simulation, refinement and limiting cases."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import gammaln, logsumexp

from weakstep.charts import mewma_run_lengths
from weakstep.charts.ewma_run_lengths import ewma_run_length
from weakstep.charts.mewma import mewma_chart
from weakstep.charts.mewma_limits import mewma_limit
from weakstep.charts.mewma_run_lengths import mewma_law, mewma_run_length, mewma_survival
from weakstep.charts.multivariate import Baseline
from weakstep.charts.multivariate_limits import t2_limit, t2_run_length
from weakstep.charts.noncentral import length_density

CHARTS = 4000


@pytest.mark.parametrize(
    ("variables", "weight", "limit", "shift"),
    [(2, 0.1, 8.64, 1.0), (3, 0.3, 12.0, 1.5), (5, 0.2, 14.0, 0.8)],
)
def test_shift_in_any_direction_by_simulation(
    variables: int, weight: float, limit: float, shift: float
) -> None:
    """Mean and median of 4000 charts shifted in a random direction, within 3 standard errors."""
    rng = np.random.default_rng(variables)
    way = rng.normal(size=variables)
    mean = shift * way / np.linalg.norm(way)
    state, lengths = np.zeros((CHARTS, variables)), np.zeros(CHARTS)
    reach = limit * weight / (2 - weight)
    for point in range(1, 400):
        state = weight * rng.normal(mean, size=state.shape) + (1 - weight) * state
        beyond = ((state**2).sum(axis=1) > reach) & (lengths == 0)
        lengths[beyond] = point
    law = mewma_law(limit, variables, weight, shift)
    assert (lengths > 0).all()
    assert lengths.mean() == pytest.approx(law.average, abs=3 * law.sd / np.sqrt(CHARTS))
    share = (lengths <= law.quantile(0.5)).mean()
    exact = 1 - law.survival(law.quantile(0.5))
    assert share == pytest.approx(exact, abs=3 * 0.5 / np.sqrt(CHARTS))


def test_steady_state_by_simulation() -> None:
    """A shift of 1 after 60 stable points without a signal, within 3 standard errors."""
    rng = np.random.default_rng(12)
    state = np.zeros((8000, 2))
    for _ in range(60):
        state = 0.1 * rng.normal(size=state.shape) + 0.9 * state
        state = state[(state**2).sum(axis=1) <= 8.64 * 0.1 / 1.9]
    lengths = np.zeros(len(state))
    for point in range(1, 300):
        state = 0.1 * (rng.normal([0.6, 0.8], size=state.shape)) + 0.9 * state
        lengths[((state**2).sum(axis=1) > 8.64 * 0.1 / 1.9) & (lengths == 0)] = point
    law = mewma_law(8.64, 2, 0.1, 1.0, steady_state=True)
    assert lengths.mean() == pytest.approx(law.average, abs=3 * law.sd / np.sqrt(len(lengths)))


def test_more_nodes_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Eight nodes more each way move run lengths by less than 1e-8, for small weights too."""
    cells = [(7.35, 2, 0.05, 0.5), (14.85, 4, 0.8, 2.0), (22.67, 10, 0.1, 3.0)]
    usual = [mewma_run_length(*cell) for cell in cells]
    monkeypatch.setattr(mewma_run_lengths, "_EXTRA_NODES", 8)
    mewma_run_lengths._plane_chain.cache_clear()
    assert [mewma_run_length(*cell) for cell in cells] == pytest.approx(usual, rel=1e-8)
    mewma_run_lengths._plane_chain.cache_clear()


def test_plane_and_length_agree_in_control() -> None:
    """A shift of nearly nothing has the run length of none, by the other chain."""
    for limit, variables, weight in ((8.64, 2, 0.1), (13.87, 4, 0.2)):
        without = mewma_run_length(limit, variables, weight)
        assert mewma_run_length(limit, variables, weight, 1e-9) == pytest.approx(without, rel=1e-8)


def test_limiting_cases() -> None:
    """Weight 1 is Hotelling's chart, one variable the EWMA."""
    assert mewma_run_length(10.597, 2, 1.0, 1.5) == pytest.approx(t2_run_length(10.597, 2, 1.5))
    assert mewma_run_length(2.814**2, 1, 0.1, 0.7) == pytest.approx(
        ewma_run_length(0.1, 2.814, 0.7)
    )
    with pytest.raises(ValueError, match="distance must be from 0 to 100"):
        mewma_run_length(8.0, 2, 0.1, -1.0)


@pytest.mark.parametrize("constant", [True, False])
def test_false_alarm_of_a_chart_by_simulation(constant: bool) -> None:
    """The chance on the chart is that of 3000 stable logs of 40 points."""
    points = np.random.default_rng(2).normal(size=(3000, 40, 2))
    known = Baseline(np.zeros(2), np.eye(2), 0)
    chart = mewma_chart(points[0], known, limit=8.64, constant_limits=constant).chart
    state, signalled = np.zeros((3000, 2)), np.zeros(3000, dtype=bool)
    for point in range(40):
        state = 0.1 * points[:, point] + 0.9 * state
        growth = 1.0 if constant else 1 - 0.9 ** (2 * point + 2)
        signalled |= (state**2).sum(axis=1) > 8.64 * 0.1 / 1.9 * growth
    exact = chart.false_alarm
    assert exact == 1 - mewma_survival(40, 8.64, 2, 0.1, constant_limits=constant)[-1]
    assert signalled.mean() == pytest.approx(exact, abs=3 * np.sqrt(exact * (1 - exact) / 3000))


def test_limit_for_a_chance_of_alarm() -> None:
    """Three charts of 40 points keep 6 % together; with weight 1 it is chi-squared's own limit."""
    limit = mewma_limit(3, 0.2, family_wise=0.06, n_points=40, n_charts=3)
    left = mewma_survival(40, limit, 3, 0.2)[-1]
    assert left**3 == pytest.approx(0.94, rel=1e-6)
    alone = mewma_limit(2, 1.0, family_wise=0.05, n_points=50)
    point = 1 - 0.95 ** (1 / 50)
    assert alone == pytest.approx(t2_limit(2, false_alarm=point), rel=1e-6)


@pytest.mark.parametrize("variables", [2, 5, 61, 63, 370, 500])
def test_density_of_the_length_by_a_mixture(variables: int) -> None:
    """A noncentral chi-squared is a Poisson mixture of central ones; 60 changes the road taken."""
    weight, before, after = 0.3, np.array([0.0, 0.3, 2.0, 8.0]), np.array([0.6, 1.8, 4.5, 6.0, 7.5])
    found = length_density(before, after, variables, weight)
    square = (after / weight) ** 2
    k = np.arange(4000.0)
    for row, centre in zip(found, (0.7 * before / weight) ** 2 / 2, strict=True):
        share = np.where(k > 0, -np.inf, 0.0) if centre == 0 else k * np.log(centre) - centre
        share = share - gammaln(k + 1)
        half = variables / 2 + k
        central = (half - 1) * np.log(square[:, None] / 2) - square[:, None] / 2 - gammaln(half)
        logs = logsumexp(share + central, axis=1) + np.log(after / weight**2)
        kept = logs > -700.0  # the rest is 0 as a number
        assert kept.sum() >= 2
        assert np.log(row[kept]) == pytest.approx(logs[kept], rel=1e-9, abs=2e-9)


def test_many_variables_by_simulation() -> None:
    """Of 370 variables a chart still has a run length, within 3 standard errors of 1000 charts."""
    rng = np.random.default_rng(22)
    limit, lengths, state = 410.0, np.zeros(1000), np.zeros((1000, 370))
    for point in range(1, 200):
        state = 0.3 * rng.normal(size=state.shape) + 0.7 * state
        beyond = (state**2).sum(axis=1) > limit * 0.3 / 1.7
        lengths[beyond & (lengths == 0)] = point
    law = mewma_law(limit, 370, 0.3)
    left = law.survival(199)
    assert (lengths == 0).mean() == pytest.approx(left, abs=3 * np.sqrt(left * (1 - left) / 1000))
    cut = sum(law.survival(point) for point in range(199))
    found = np.where(lengths == 0, 199.0, lengths)
    assert found.mean() == pytest.approx(cut, abs=3 * found.std() / np.sqrt(1000))
