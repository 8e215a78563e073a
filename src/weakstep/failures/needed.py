"""How many more runs would show a doubling of the failure rate, by simulation on this log."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.enough import (
    DOUBLING,
    LARGEST_RATE,
    POWER,
    design_effect,
)
from weakstep.failures.further_model import Needed
from weakstep.failures.links import Outcomes
from weakstep.failures.longer_logs import Simulation, habits, resampled
from weakstep.failures.planting import upper_half
from weakstep.failures.toofew import FEWEST_FAILURES, FEWEST_RUNS
from weakstep.failures.verdict import TIMES_LONGER_AT_MOST
from weakstep.interval import Interval

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate

LEVEL = 0.90
MOST_DRAWS, FEWEST_DRAWS = 100, 20
DRAWN_RUNS, DRAWN_CELLS = 1_500_000, 480_000
MOST_PARAMETERS, FEWER_IN_LONG_LOGS, MOST_RUNS = 30, 12, 400
STEP, REACH = 0.25, 1.5
"""Of the lengths that are tried, on their logarithm."""
NODES = tuple(NormalDist().inv_cdf((place + 0.5) / 7.0) for place in range(7))


@dataclass(frozen=True, eq=False)
class _Chances:
    """
    How likely logs of several lengths are to show each planted parameter.

    Attributes
    ----------
    lengths : array, shape (n_lengths,)
        Logarithms of numbers of runs, ascending.
    each : array, shape (n_parameters, n_lengths)
        Were the failure rate as it seems.
    spread : float
        How well lengths are known for lack of failures, on their logarithm.
    draws : int
        Behind each of them.
    """

    lengths: np.ndarray
    each: np.ndarray
    spread: float
    draws: int

    def at(self, runs: np.ndarray | float) -> np.ndarray:
        """Return the chance over all parameters, and over what the failure rate may be."""
        mean = self.each.mean(axis=0)
        tried = [np.log(runs) + self.spread * node for node in NODES]
        return np.asarray(np.mean([np.interp(one, self.lengths, mean) for one in tried], axis=0))

    def crossing(self) -> float | None:
        """Return the length at which the chance reaches 80 %."""
        fine = np.exp(np.linspace(self.lengths[0], self.lengths[-1], 2000))
        enough = np.flatnonzero(self.at(fine) >= POWER)
        return float(fine[enough[0]]) if len(enough) else None

    def with_interval(self, runs: float) -> Interval:
        """Put what is not known of the simulation and of the failure rate round a length."""
        at = np.array([np.interp(np.log(runs), self.lengths, one) for one in self.each])
        ahead, behind = (float(self.at(runs * np.exp(by))) for by in (0.2, -0.2))
        slope = max((ahead - behind) / 0.4, 0.1)
        of_luck = float(np.sqrt((at * (1.0 - at)).sum() / self.draws)) / len(at) / slope
        reach = NormalDist().inv_cdf(0.5 + LEVEL / 2.0) * float(np.hypot(of_luck, self.spread))
        return Interval(runs, runs * float(np.exp(-reach)), runs * float(np.exp(reach)), LEVEL)


def runs_needed(
    outcomes: Outcomes,
    candidates: tuple[Candidate, ...],
    rng: np.random.Generator,
    *,
    ratio: float = DOUBLING,
) -> Needed | None:
    r"""
    Simulate logs like this one in which one parameter matters, and ask when it would stand out.

    The runs keep their operators, weeks, chips and logged values. One parameter after another is
    made to matter: runs in the upper half of its logged values fail *ratio* times as often as
    those in the lower half, at the log's own failure rate and operator differences, chips of one
    run failing together as they do here (beta-binomial). Each simulated log is scored as the
    screen does, by the evidence of the likelihood: against what the largest T over all factors and
    families reaches by chance, with random week effects, and beside the two calendar curves that
    fit best.

    A score is its expected value plus luck; in a log k times as long with the same habits the
    expected value is :math:`\sqrt k` times as large. This log itself tells about how long is long
    enough; then a log of that length is drawn from it (whole weeks with all their runs, nearly in
    time order) and asked again. The length that shows it with a chance of 80 % is where the share
    of simulated logs that pass crosses 0.80, averaged over what the failure rate may be: runs
    needed go as (1 - p) / p, p known to :math:`\sqrt{d / (n p (1 - p))}` on the logit scale, d the
    design effect of n chips. The interval of the length holds that and the error of the simulation.
    Of logs longer than 400 runs the latest 400 are asked, or as many as hold 5 failures; 400 to 800
    are drawn for lengths beyond, the fewer the more shapes there are to score.

    Parameters
    ----------
    outcomes : Outcomes
    candidates : tuple of Candidate
        30 of those that can be planted, at random; 12 in long logs.
    rng : Generator
    ratio : float, default 2

    Returns
    -------
    Needed or None
        None when no number or yes/no parameter has at least a quarter of its runs in either half.
    """
    family, failed = max(outcomes.failed.items(), key=lambda one: int(one[1].sum()))
    halves = {
        place: upper
        for place, one in enumerate(candidates)
        if (upper := upper_half(one)) is not None
    }
    if not halves:
        return None
    logged = len(outcomes.tested)
    most = FEWER_IN_LONG_LOGS if logged > MOST_RUNS else MOST_PARAMETERS
    chosen = sorted(rng.permutation(list(halves))[:most].tolist())
    latest = _latest(failed, outcomes.tested)
    log = habits(outcomes, candidates, family).rows(latest, outcomes.week[latest])
    uppers = {place: halves[place][latest] for place in chosen}
    spread = _spread(failed, outcomes.tested)
    longest = np.log(logged * TIMES_LONGER_AT_MOST)
    lengths = np.arange(np.log(logged / TIMES_LONGER_AT_MOST), longest + STEP, STEP)
    first = _planted(Simulation(log, len(latest), family, rng), lengths, uppers, ratio, spread, rng)
    length = first.crossing() or float(np.exp(longest))
    drawn, places = resampled(log, _drawn_runs(length, candidates), rng)
    if not 0 < drawn.failed[family].sum() < drawn.tested.sum():
        # By bad luck no failure was drawn, or nothing else.
        drawn, places = log, np.arange(len(latest))
    lengths = np.log(length) + np.arange(-REACH, REACH + STEP, STEP)
    uppers = {place: upper[places] for place, upper in uppers.items()}
    longer = _planted(Simulation(drawn, length, family, rng), lengths, uppers, ratio, spread, rng)
    crossing = longer.crossing()
    runs = None
    if crossing is not None and np.log(crossing) <= longest:
        runs = longer.with_interval(crossing)
    # Of the longer logs where they tell of this length, so that both figures agree.
    now = float((longer if lengths[0] <= np.log(logged) <= lengths[-1] else first).at(logged))
    low = 2.0 * float(failed.sum() / outcomes.tested.sum()) / (1.0 + ratio)
    high = min(low * ratio, LARGEST_RATE)
    further = None if runs is None else _beyond(runs, float(logged))
    return Needed(family, ratio, high / ratio, high, len(chosen), POWER, now, runs, further)


def _beyond(runs: Interval, logged: float) -> Interval:
    estimate, lower, upper = (
        max(0.0, end - logged) for end in (runs.estimate, runs.lower, runs.upper)
    )
    return Interval(estimate, lower, upper, runs.level)


def _latest(failed: np.ndarray, tested: np.ndarray) -> np.ndarray:
    """Return which runs are asked: the latest 400, or as many as hold enough failures."""
    back = [np.cumsum(counts[::-1]) for counts in (failed, tested - failed)]
    enough = np.flatnonzero(np.minimum(*back) >= FEWEST_FAILURES)
    runs = max(MOST_RUNS, int(enough[0]) + 1) if len(enough) else len(tested)
    return np.arange(len(tested))[-runs:]


def _drawn_runs(length: float, candidates: tuple[Candidate, ...]) -> int:
    """Return how many runs to draw: the length meant, or fewer that can be scored quickly."""
    shapes = sum(len(one.shapes) for one in candidates)
    most = int(np.clip(DRAWN_CELLS // shapes, MOST_RUNS, 2 * MOST_RUNS))
    return int(np.clip(length, FEWEST_RUNS, most))


def _spread(failed: np.ndarray, tested: np.ndarray) -> float:
    """Return the standard error of the failure rate on the logit scale."""
    n, p = float(tested.sum()), float(failed.sum() / tested.sum())
    return float(np.sqrt(design_effect(failed, tested) / (n * p * (1.0 - p))))


def _planted(
    simulation: Simulation,
    lengths: np.ndarray,
    uppers: Mapping[int, np.ndarray],
    ratio: float,
    spread: float,
    rng: np.random.Generator,
) -> _Chances:
    """Plant each parameter and ask at which of these lengths it would stand out."""
    runs = len(simulation.log.tested)
    draws = int(np.clip(DRAWN_RUNS // (runs * len(uppers)), FEWEST_DRAWS, MOST_DRAWS))
    each = np.empty((len(uppers), len(lengths)))
    for row, (place, upper) in enumerate(uppers.items()):
        asked = simulation.planted(place, upper, ratio, draws, rng)
        for column, length in enumerate(lengths):
            times = float(np.exp(length)) / runs
            each[row, column] = np.all([one.shown(times) for one in asked], axis=0).mean()
    return _Chances(lengths, each, spread, draws)
