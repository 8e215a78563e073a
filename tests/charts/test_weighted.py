"""EWMA, CUSUM and self-starting charts: gaps, properties, run lengths against simulation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from weakstep.charts.cusum_charts import cusum
from weakstep.charts.cusum_run_lengths import cusum_law, cusum_run_length, cusum_survival
from weakstep.charts.ewma_designs import ewma_design
from weakstep.charts.ewma_run_lengths import ewma_law, ewma_run_length, ewma_survival
from weakstep.charts.self_starting import self_starting_cusum, self_starting_scores
from weakstep.charts.set_limits import cusum_decision, ewma_width, shewhart_width
from weakstep.charts.weighted import ewma, weighted_means

ROWS = st.lists(st.integers(-100, 100), min_size=3, max_size=30)
SERIES = 4000


def first_passage(beyond: np.ndarray) -> np.ndarray:
    """Points until the first signal of each series; every series must signal."""
    assert beyond.any(axis=1).all()
    return beyond.argmax(axis=1) + 1.0


def close(lengths: np.ndarray, exact: float) -> None:
    """Hold the mean of simulated run lengths to within 3 standard errors of the exact one."""
    assert lengths.mean() == pytest.approx(exact, abs=3 * lengths.std() / np.sqrt(len(lengths)))


@pytest.mark.parametrize("constant", [True, False])
@pytest.mark.parametrize(("weight", "width", "shift"), [(0.1, 2.0, 0.0), (0.3, 2.5, 0.7)])
def test_ewma_run_length_by_simulation(
    weight: float, width: float, shift: float, *, constant: bool
) -> None:
    """Exact run lengths agree with simulated charts, constant and growing limits."""
    values = np.random.default_rng(1).normal(shift, size=(SERIES, 1200))
    means = weighted_means(values.T, weight, 0.0).T
    share = np.ones(1200) if constant else 1 - (1 - weight) ** (2 * np.arange(1, 1201))
    limit = width * np.sqrt(weight / (2 - weight) * share)
    exact = ewma_run_length(weight, width, shift, constant_limits=constant)
    close(first_passage(np.abs(means) > limit), exact)
    alive = ewma_survival(10, weight, width, shift, constant_limits=constant)[-1]
    share_alive = float((np.abs(means[:, :10]) <= limit[:10]).all(axis=1).mean())
    assert share_alive == pytest.approx(alive, abs=3 * np.sqrt(alive * (1 - alive) / SERIES))


@pytest.mark.parametrize(("decision", "head_start", "shift"), [(2.5, 0.0, 0.0), (4.0, 2.0, 0.5)])
def test_cusum_run_length_by_simulation(decision: float, head_start: float, shift: float) -> None:
    """Both sides joined agree with simulation, with and without a head start."""
    values = np.random.default_rng(2).normal(shift, size=(900, SERIES))
    up = down = np.full(SERIES, head_start)
    beyond = np.empty((SERIES, 900), dtype=bool)
    for point, value in enumerate(values):
        up, down = np.maximum(0, up + value - 0.5), np.maximum(0, down - value - 0.5)
        beyond[:, point] = np.maximum(up, down) > decision
    close(first_passage(beyond), cusum_run_length(0.5, decision, shift, head_start=head_start))


def test_steady_state_run_lengths_by_simulation() -> None:
    """A shift after 60 stable points without a signal is found as fast as the chain says."""
    rng = np.random.default_rng(3)
    total = np.zeros(40_000)
    for value in rng.normal(size=(60, len(total))):
        total = np.maximum(0, total + value[: len(total)] - 0.5)
        total = total[total <= 4.0]
        if len(total) < 20_000:
            break
    left = rng.normal(1.0, size=(200, len(total)))
    beyond = np.empty((len(total), 200), dtype=bool)
    for point, value in enumerate(left):
        total = np.maximum(0, total + value - 0.5)
        beyond[:, point] = total > 4.0
    exact = cusum_run_length(0.5, 4.0, 1.0, two_sided=False, steady_state=True)
    close(first_passage(beyond), exact)


@pytest.mark.parametrize(("allowance", "decision"), [(0.2, 1.0), (0.25, 2.0), (0.5, 0.4)])
def test_settled_sums_of_small_charts(allowance: float, decision: float) -> None:
    """A steady state goes on as a chart from 0 does by when one in a million is left."""
    steady = cusum_law(allowance, decision, steady_state=True)
    first = cusum_law(allowance, decision)
    late = first.quantile(1.0 - 1e-6)
    going_on = (first.survival(late + 5) / first.survival(late)) ** 0.2
    assert 1.0 - 1.0 / steady.average == pytest.approx(going_on, rel=1e-6)


SIMULATED = 100_000


def both_sides_left(start: float, before: int, shift: float) -> tuple[np.ndarray, int]:
    """Share of simulated two-sided charts (k .3, h 2) left after each of 25 points, of how many."""
    rng = np.random.default_rng(9)
    up, down = np.full((2, SIMULATED), start)
    for _ in range(before):
        value = rng.normal(size=len(up))
        up, down = np.maximum(0, up + value - 0.3), np.maximum(0, down - value - 0.3)
        kept = np.maximum(up, down) <= 2.0
        up, down = up[kept], down[kept]
    alive, left = np.ones(len(up), dtype=bool), []
    for _ in range(25):
        value = rng.normal(shift, size=len(up))
        up, down = np.maximum(0, up + value - 0.3), np.maximum(0, down - value - 0.3)
        alive &= np.maximum(up, down) <= 2.0
        left.append(alive.mean())
    return np.array(left), len(up)


@pytest.mark.parametrize(
    ("start", "before", "shift"), [(0, 0, 0), (0, 0, 0.7), (1, 0, 0.7), (1.3, 0, 0), (0, 12, 0.7)]
)
def test_both_sides_of_a_cusum_by_simulation(start: float, before: int, shift: float) -> None:
    """The joint law, with a head start and in the steady state, within 3.5 standard errors."""
    found, count = both_sides_left(start, before, shift)
    law = cusum_law(0.3, 2.0, shift, head_start=start, steady_state=before > 0)
    exact = np.array([law.survival(point) for point in range(1, 26)])
    errors = np.sqrt(exact * (1 - exact) / count)
    assert (np.abs(found - exact) < 3.5 * errors).all()


@pytest.mark.parametrize("shift", [0.0, 0.4, 1.5])
def test_joint_law_has_the_average_of_kemp(shift: float) -> None:
    """The chances point by point add up to Kemp's relation of the averages (two roads)."""
    for start in (0.0, 2.5):
        law = cusum_law(0.5, 5.0, shift, head_start=start)
        tail = law.left[-1] * law.going_on / (1 - law.going_on)
        assert law.left.sum() + tail == pytest.approx(law.average, rel=1e-10)
    one, other = (cusum_run_length(0.5, 5.0, way, two_sided=False) for way in (shift, -shift))
    assert cusum_run_length(0.5, 5.0, shift) == pytest.approx(1 / (1 / one + 1 / other))
    assert cusum([1.0] * 9, target=1.0, sigma=1.0).false_alarm == pytest.approx(
        1 - cusum_law(0.5, 5.0).survival(9)
    )


def test_law_of_an_ewma_by_simulation() -> None:
    """Mean, sd, median and a head start of 5000 simulated charts, within 3 standard errors."""
    values = np.random.default_rng(11).normal(0.8, size=(5000, 120))
    for start in (0.0, 0.5):
        state, beyond = np.full(5000, start), np.empty(values.shape, dtype=bool)
        for point in range(values.shape[1]):
            state = 0.2 * values[:, point] + 0.8 * state
            beyond[:, point] = np.abs(state) > 2.86 / 3
        lengths = 1 + beyond.argmax(axis=1)
        law = ewma_law(0.2, 2.86, 0.8, head_start=start)
        assert lengths.mean() == pytest.approx(law.average, abs=3 * law.sd / np.sqrt(5000))
        assert lengths.std() == pytest.approx(law.sd, rel=0.06)
        middle = law.quantile(0.5)
        assert 1 - law.survival(middle - 1) < 0.5 <= 1 - law.survival(middle)
        share = (lengths <= middle).mean()
        assert share == pytest.approx(1 - law.survival(middle), abs=3 * 0.5 / np.sqrt(5000))


def test_limits_keep_the_promised_chance() -> None:
    """A semester of 60 points on 5 charts signals falsely in 5 %, whichever chart is used."""
    each = 1 - 0.95 ** (1 / 5)
    width = ewma_width(0.2, family_wise=0.05, n_points=60, n_charts=5, constant_limits=False)
    alive = ewma_survival(60, 0.2, width, constant_limits=False)[-1]
    assert 1 - alive == pytest.approx(each, rel=1e-4)
    limit = cusum_decision(0.5, family_wise=0.05, n_points=60, n_charts=5)
    both = cusum_survival(60, 0.5, limit, two_sided=True)[-1]
    assert both == pytest.approx(1 - each, rel=1e-6)
    # Sides taken as independent would promise a little more than they keep.
    assert cusum_survival(60, 0.5, limit)[-1] ** 2 > both
    values = np.random.default_rng(4).normal(size=(20_000, 300))
    signals = (np.abs(values) > shewhart_width(family_wise=0.05, n_points=60, n_charts=5)).any(1)
    assert signals.mean() == pytest.approx(0.05, abs=3 * np.sqrt(0.05 * 0.95 / 20_000))


@pytest.mark.parametrize(("shift", "steady"), [(0.7, False), (1.5, True)])
def test_best_design_of_an_ewma(shift: float, *, steady: bool) -> None:
    """No other weight with the same run length of a stable process finds the shift sooner."""
    best = ewma_design(shift, run_length=200.0, steady_state=steady)
    assert best.in_control == pytest.approx(200.0, rel=1e-5)
    for weight in best.weight * np.array([0.8, 0.95, 1.05, 1.25]):
        width = ewma_width(float(weight), run_length=200.0)
        other = ewma_run_length(float(weight), width, shift, steady_state=steady)
        assert other > best.shifted - 1e-6
    # A smaller shift wants a longer memory.
    assert best.weight > ewma_design(shift / 2, run_length=200.0, steady_state=steady).weight
    with pytest.raises(ValueError, match=r"shift must be from 0\.1 to 6"):
        ewma_design(0.0)


@settings(derandomize=True, deadline=None, max_examples=30)
@given(ROWS, st.integers(-50, 50), st.sampled_from([0.5, 4.0]))
def test_shift_and_scale_move_means_and_sums(row: list[int], shift: int, scale: float) -> None:
    """Another unit and origin change values and limits alike, and no signal."""
    values = np.array(row, dtype=float)
    plain, moved = (
        (
            ewma(data, target=target, sigma=sigma),
            cusum(data, target=target, sigma=sigma),
        )
        for data, target, sigma in (
            (values, 3.0, 20.0),
            (shift + scale * values, shift + scale * 3.0, scale * 20.0),
        )
    )
    assert moved[0].values == pytest.approx(shift + scale * plain[0].values, abs=1e-8)
    assert moved[0].limits.upper == pytest.approx(shift + scale * plain[0].limits.upper)
    assert moved[1].up.values == pytest.approx(scale * plain[1].up.values, abs=1e-8)
    assert moved[1].down.signals == plain[1].down.signals


def test_gaps_leave_the_statistics_where_they_were() -> None:
    """A missing value is a gap: the next mean and sum go on from the last logged one."""
    values = [1.0, 2.0, np.nan, 3.0]
    for whole, holed in (
        (ewma([1.0, 2.0, 3.0], target=0, sigma=1), ewma(values, target=0, sigma=1)),
        (cusum([1.0, 2.0, 3.0], target=0, sigma=1).up, cusum(values, target=0, sigma=1).up),
    ):
        assert holed.values[[0, 1, 3]] == pytest.approx(whole.values)
        assert np.isnan(holed.values[2])
        assert holed.limits.upper[3] == pytest.approx(whole.limits.upper[2])
        assert holed.false_alarm == whole.false_alarm


def test_no_signal_on_equal_points() -> None:
    """Values on target never signal."""
    flat = np.full(50, 7.0)
    assert ewma(flat, target=7.0, sigma=1.0).signals == ()
    assert cusum(flat, target=7.0, sigma=1.0).up.signals == ()


def test_self_starting_scores_are_standard_normal() -> None:
    """From the third value on: mean 0, variance 1, no correlation, whatever mean and sigma."""
    values = np.random.default_rng(5).normal(100.0, 7.0, size=(3000, 8))
    scores = np.array([self_starting_scores(row) for row in values])
    assert np.isnan(scores[:, :2]).all()
    found = scores[:, 2:]
    error = 1 / np.sqrt(3000)
    assert np.abs(found.mean(axis=0)).max() < 3.5 * error
    assert found.var(axis=0) == pytest.approx(1.0, abs=3.5 * np.sqrt(2) * error)
    assert np.abs(np.corrcoef(found.T) - np.eye(6)).max() < 4 * error


def test_self_starting_scores_by_their_definition() -> None:
    """The vectorised scores equal those of running means and deviations, one by one."""
    from scipy.stats import norm, t

    values = np.random.default_rng(6).normal(size=30)
    scores = self_starting_scores(values)
    for n in range(3, 31):
        before = values[: n - 1]
        ratio = (values[n - 1] - before.mean()) / before.std(ddof=1)
        exact = norm.ppf(t.cdf(np.sqrt((n - 1) / n) * ratio, n - 2))
        assert scores[n - 1] == pytest.approx(exact, abs=1e-8)


def test_self_starting_chart_needs_no_baseline() -> None:
    """A shift of 2 sigma after 30 values is found within ten."""
    values = np.random.default_rng(7).normal(50.0, 2.0, size=60)
    values[30:] += 4.0
    first = self_starting_cusum(values).up.signals[0].at
    assert 30 <= first < 40
    assert self_starting_cusum([1.0, 2.0]).up.signals == ()


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: ewma([1.0], target=0, sigma=0.0), "sigma must be above 0"),
        (lambda: ewma([1.0], target=0, sigma=1.0, weight=0.0), "weight must be above 0"),
        (lambda: ewma([[1.0]], target=0, sigma=1.0), "one row"),
        (lambda: cusum([1.0], target=0, sigma=1.0, head_start=5.0), "head_start from 0 to below"),
        (lambda: cusum([1.0], target=0, sigma=1.0, head_start=3.5), r"at most .* \(3\), got 3.5"),
        (lambda: cusum_law(0.5, 5.0, head_start=1.0, steady_state=True), "has no head start"),
        (lambda: cusum_law(0.0, 1.0, steady_state=True), "take a larger allowance"),
        (lambda: ewma_law(0.2, 3.0, head_start=1.1), "within the limits"),
        (lambda: shewhart_width(), "either run_length or family_wise"),
        (lambda: ewma_width(0.2, run_length=0.5), "run_length must be above 1"),
        (lambda: shewhart_width(family_wise=1.5), "between 0 and 1"),
    ],
)
def test_impossible_requests_are_refused(call, words: str) -> None:  # type: ignore[no-untyped-def]
    """Each names the argument."""
    with pytest.raises(ValueError, match=words):
        call()
