"""
RunLog -> Review: the one place that knows the order of the job.

The module is not called `review`, because importing a submodule of that name would hide the
public function `weakstep.review` behind the module.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

    from weakstep.charts.model import Chart
    from weakstep.drift.model import DriftScreen
    from weakstep.failures.model import FailureAnalysis
    from weakstep.runlog.model import RunLog
    from weakstep.trials.sizes import NextTrial


@dataclass(frozen=True, eq=False)
class FailureChart:
    """
    Failures in time: a p chart with one point per week, or per group of runs without dates.

    Attributes
    ----------
    labels : tuple of str
        What each point is ("2026-03-02" for the week that begins then, or "runs 1-10").
    tested, failed : array of int, shape (n_points,)
    chart : Chart
    """

    labels: tuple[str, ...]
    tested: np.ndarray
    failed: np.ndarray
    chart: Chart


@dataclass(frozen=True, eq=False)
class Review:
    """
    The whole job's result; build it with `weakstep.review`.

    Attributes
    ----------
    log : RunLog
    charts : mapping of column to (individuals Chart, moving-range Chart)
        Number parameters that vary, one point per run.
    not_charted : mapping of column to str
        Why a number parameter has no chart, a sentence each.
    failure_chart : FailureChart or None
    drifts : DriftScreen
    failures : FailureAnalysis
    next_trial : NextTrial or None
    seed : int
        Makes the permutations repeatable.
    made_at : str or None
        ISO time, given by the caller; None keeps the output free of clocks.
    version : str
        Of weakstep.
    command : str or None
        The command line that makes this review again.
    """

    log: RunLog
    charts: Mapping[str, tuple[Chart, Chart]]
    not_charted: Mapping[str, str]
    failure_chart: FailureChart | None
    drifts: DriftScreen
    failures: FailureAnalysis
    next_trial: NextTrial | None
    seed: int
    made_at: str | None
    version: str
    command: str | None = None
