"""An invented Review, built by hand from the dataclasses; nothing in it was measured."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

from weakstep.charts.model import Chart, Limits, Signal
from weakstep.drift.model import Drift, DriftScreen, Together
from weakstep.drift.nearby import Nearby
from weakstep.failures.model import (
    FailureAnalysis,
    ModeCount,
    Tally,
    Verdict,
)
from weakstep.interval import Interval
from weakstep.reviewing import FailureChart, Review
from weakstep.runlog.model import (
    RunLog,
)
from weakstep.semesters.model import Event
from weakstep.trials.sizes import NextTrial

sys.path.insert(0, str(Path(__file__).parent))
from invented_failures import build_failures
from invented_log import build_log, no_runs


def build_chart(values: np.ndarray, kind: str = "individuals") -> Chart:
    """Return a plain chart of *values* with limits three sigmas from the mean."""
    known = values[np.isfinite(values)]
    moving = np.abs(np.diff(known)).mean() / 1.128 if len(known) > 1 else 0.0
    centre = float(known.mean())
    lower, upper = centre - 3 * moving, centre + 3 * moving
    beyond = np.flatnonzero((values < lower) | (values > upper))
    return Chart(
        kind=kind,
        values=values,
        limits=Limits(
            centre,
            np.full(len(values), lower),
            np.full(len(values), upper),
            moving,
            "mean moving range / 1.128",
            0.62 * len(known),
        ),
        signals=tuple(Signal("beyond", "beyond a limit", (int(point),)) for point in beyond),
        false_alarm=0.27,
    )


def build_drifts() -> DriftScreen:
    """Return one step, one ramp and one cycle."""
    return DriftScreen(
        drifts=(
            Drift("cure_c", "step", 66, (64, 69), 75.0, 79.0, 0.001, "strong", (), False, ()),
            Drift(
                "pumpdown_s",
                "ramp",
                12,
                (0, 30),
                75.0,
                100.0,
                0.001,
                "strong",
                ("step",),
                False,
                (),
            ),
            Drift("dry_min", "spread", 80, (60, 95), 3.0, 4.5, 0.11, "some", (), True, ()),
            Drift(
                "oil_hours",
                "cycle",
                90,
                (90, 90),
                176.0,
                76.0,
                float("nan"),
                "none",
                (),
                False,
                (45,),
            ),
        ),
        stable=(("ratio", 0.6), ("mix_min", 0.8)),
        too_little=(("room_c", "12 values: at least 25 are needed"),),
        family_wise=0.045,
        power_note="With 110 runs a shift of one standard deviation is seen in about 8 of 10 logs.",
        together=(Together(("cure_c", "pumpdown_s"), (64, 69)),),
    )


def build_failure_chart(log: RunLog) -> FailureChart:
    """Return failures by week with limits that follow the number tested."""
    weeks = np.unique(log.runs.week)
    total = sum(log.runs.failed.values())
    tested = np.array([log.runs.tested[log.runs.week == week].sum() for week in weeks])
    failed = np.array([total[log.runs.week == week].sum() for week in weeks])
    centre = float(failed.sum() / tested.sum())
    width = 3 * np.sqrt(centre * (1 - centre) / tested)
    share = failed / tested
    limits = Limits(
        centre,
        np.maximum(centre - width, 0),
        np.minimum(centre + width, 1),
        float(width.mean() / 3),
        "binomial",
        float("inf"),
    )
    beyond = np.flatnonzero(share > limits.upper)
    signals = tuple(Signal("beyond", "beyond a limit", (int(point),)) for point in beyond)
    start = np.datetime64("2026-03-02")
    labels = tuple(str(start + 7 * int(week)) for week in weeks)
    return FailureChart(labels, tested, failed, Chart("p", share, limits, signals, 0.05))


def build_events(log: RunLog, text: str | None) -> tuple[Event, ...]:
    """Return two services of the pump and a change the lab made to the cure step."""
    days = log.runs.started_at.astype("datetime64[D]")
    return (
        *(
            Event("service (oil hours)", "service", run, days[run], ("oil_hours",))
            for run in (45, 90)
        ),
        Event(text or "new oven door", "change", 60, days[60], ("cure_c", "cure_h")),
    )


def build_review(
    seed: int = 1, count: int = 110, *, dated: bool = True, text: str | None = None
) -> Review:
    """Return the whole invented review."""
    log = build_log(seed, count, dated=dated, text=text)
    charts = {}
    for name in log.runs.numbers:
        values = log.runs.numbers[name].to_numpy()
        moving = np.concatenate([[np.nan], np.abs(np.diff(values))])
        charts[str(name)] = (build_chart(values), build_chart(moving, "moving range"))
    charts.pop("room_c")
    return Review(
        log=log,
        charts=charts,
        not_charted={"room_c": "12 values: at least 25 are needed for a chart."},
        failure_chart=build_failure_chart(log),
        drifts=build_drifts(),
        failures=build_failures(log),
        next_trial=NextTrial(
            "delay_s",
            "bond",
            40,
            0.18,
            0.09,
            0.8,
            0.05,
            "Run 40 runs with the delay held below 45 s and 40 as usual, in random order.",
        ),
        seed=0,
        made_at=None,
        version="0.1.0",
        command="weakstep review bench_a.csv bench_b.csv -o report",
        worth_checking={"cure_c": (Nearby("kit_lot", "K2", 68, 2),)},
        events=build_events(log, text),
    )


def bare_reviews() -> dict[str, Review]:
    """Return reviews with little or nothing in them, by what is missing."""
    whole = build_review()
    undated = build_review(dated=False)
    nothing = FailureAnalysis(
        Tally(0, 0, 0, None, (), {}),
        (),
        (),
        (),
        Verdict("log_more", None, None, None, None, "Log 20 more runs before judging."),
        ("No row has a known outcome.",),
    )
    no_drift = DriftScreen((), (), (), 0.045, "")
    tested = int(whole.log.runs.tested.sum())
    good = Tally(tested, 0, 0, Interval(0.0, 0.0, 0.014, 0.95), (), {})
    lost = Tally(
        tested,
        tested,
        0,
        Interval(1.0, 0.986, 1.0, 0.95),
        (ModeCount("leak", "bond", tested, Interval(1.0, 0.986, 1.0, 0.95)),),
        {},
    )
    empty_log = replace(
        whole.log,
        chips=whole.log.chips.head(0),
        runs=no_runs(),
        problems=(),
        care=(),
        set_aside=whole.log.set_aside.head(0),
        inputs=(),
        columns=(),
        rows_read=0,
    )
    return {
        "no failures": replace(whole, failures=replace(nothing, tally=good)),
        "all failed": replace(whole, failures=replace(nothing, tally=lost)),
        "no dates": undated,
        "one run": replace(
            whole,
            log=build_log(count=1),
            charts={},
            not_charted={"delay_s": "One value: no chart."},
            failure_chart=None,
            drifts=no_drift,
            failures=nothing,
            next_trial=None,
        ),
        "no factors": replace(whole, failures=nothing),
        "no charts": replace(whole, charts={}, failure_chart=None),
        "no drift": replace(whole, drifts=no_drift),
        "no runs": replace(
            whole,
            log=empty_log,
            charts={},
            not_charted={},
            failure_chart=None,
            drifts=no_drift,
            failures=nothing,
            next_trial=None,
            command=None,
        ),
    }
