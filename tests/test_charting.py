"""Charts of a log's parameters: stages after services, strata, tolerances."""

from __future__ import annotations

from dataclasses import replace
from types import ModuleType

import numpy as np

from weakstep.charting import own_limits, parameter_charts, tolerances, with_stages
from weakstep.drift.model import Drift, DriftScreen
from weakstep.report.chart_words import chart_details, own_words, sigma_words, tolerance_line
from weakstep.report.names import Names
from weakstep.runlog.model import RunLog


def with_tolerance(log: RunLog, **limits: tuple[float | None, float | None]) -> RunLog:
    """Return the log with tolerances in its description."""
    parameters = tuple(
        replace(one, tolerance_low=limits[one.name][0], tolerance_high=limits[one.name][1])
        if one.name in limits
        else one
        for one in log.process.parameters
    )
    return replace(log, process=replace(log.process, parameters=parameters))


def planted(log: RunLog, column: str, values: np.ndarray) -> RunLog:
    """Return the log with other values in one column."""
    numbers = log.runs.numbers.copy()
    numbers[column] = values
    return replace(log, runs=replace(log.runs, numbers=numbers))


def test_services_give_new_limits_where_the_level_differs(invented: ModuleType) -> None:
    """A level that jumps at each oil change is charted in stages; other parameters are not."""
    plain = invented.build_log()
    count = len(plain.runs)
    rng = np.random.default_rng(1)
    level = 60.0 + 9.0 * (np.arange(count) // 45)
    log = planted(plain, "pressure_pa", level + rng.normal(size=count))
    charts, _ = parameter_charts(log)
    services = [("oil_hours", 45), ("oil_hours", 90)]
    found = own_limits(log, charts, services)
    assert "oil_hours" not in found
    one = found["pressure_pa"]
    assert (one.by, one.names, one.first) == (
        "service",
        ("stage 1", "stage 2", "stage 3"),
        (0, 45, 90),
    )
    assert len(one.chart.signals) < one.signals_together
    shown = with_stages(charts, found)
    upper = shown["pressure_pa"][0].limits.upper
    assert np.unique(upper).size == 3
    assert shown["room_c"] is charts["room_c"]
    said = own_words(Names(log.process), "pressure_pa", one)
    assert said.startswith("The level differs between services, so each stage has its own limits")
    assert "stage 3" in said


def test_short_stages_are_joined(invented: ModuleType) -> None:
    """Services a few runs apart make no stage of their own."""
    log = invented.build_log()
    count = len(log.runs)
    level = np.where(np.arange(count) < 50, 0.0, 8.0)
    log = planted(log, "power_w", 30.0 + level + np.random.default_rng(2).normal(size=count))
    charts, _ = parameter_charts(log)
    services = [("oil_hours", run) for run in (0, 3, 50, 54, count - 2)]
    assert own_limits(log, charts, services)["power_w"].first == (0, 50)


def test_strata_are_told_and_leave_the_chart_as_it_is(invented: ModuleType) -> None:
    """A parameter whose level differs by operator names the limits of each."""
    log = invented.build_log()
    slow = np.where(log.runs.operator == "AB", 6.0, 0.0)
    log = planted(log, "press_s", 20.0 + slow + np.random.default_rng(3).normal(size=len(slow)))
    charts, _ = parameter_charts(log)
    found = own_limits(log, charts, [])
    one = found["press_s"]
    assert one.by == "operator"
    assert "AB" in one.names
    assert with_stages(charts, found)["press_s"] is charts["press_s"]
    said = own_words(Names(log.process), "press_s", one)
    assert said.startswith("The level differs by operator; limits for each would be (")
    assert "AB 2" in said  # 26 less 3 to 26 plus 3


def test_stable_logs_seldom_have_own_limits(invented: ModuleType) -> None:
    """Of parameters of one level 1 % are told to differ (40 logs of 5, within 3 errors)."""
    log = invented.build_log()
    told, tried = 0, 0
    rng = np.random.default_rng(4)
    columns = ["room_c", "power_w", "press_s", "dry_min", "tape_passes"]
    for _ in range(40):
        numbers = log.runs.numbers[columns].copy()
        numbers[:] = rng.normal(10.0, 1.0, size=numbers.shape)
        one = replace(log, runs=replace(log.runs, numbers=numbers))
        charts, _ = parameter_charts(one)
        told += len(own_limits(one, charts, [("oil_hours", 45), ("oil_hours", 90)]))
        tried += len(columns)
    assert told / tried <= 0.01 + 3 * np.sqrt(0.01 * 0.99 / tried)


def test_tolerances_are_judged_or_refused(invented: ModuleType) -> None:
    """A stable parameter has indices in one line; a moved one is refused with run and form."""
    log = with_tolerance(
        invented.build_log(),
        room_c=(19.0, 25.0),
        cure_c=(None, 90.0),
        delay_s=(None, 200.0),
        dry_min=(5.0, None),
    )
    charts, _ = parameter_charts(log)
    step = Drift("cure_c", "step", 66, (60, 70), 80.0, 84.0, 0.01, "strong")
    screen = DriftScreen((step,), (), (("dry_min", "21 values"),), 0.05, "")
    found = tolerances(log, charts, screen)
    assert set(found) == {"room_c", "cure_c", "delay_s", "dry_min"}
    names = Names(log.process)
    line = tolerance_line(names, "room_c", found["room_c"])
    assert line.startswith("Tolerance 19 to 25")
    assert "Ppk" in line
    assert "(95" in line
    moved = tolerance_line(names, "cure_c", found["cure_c"])
    assert "at most 90" in moved
    assert moved.endswith(f"not stable: a step since run {log.runs.run_id[66]}.")
    assert "too little to judge (21 values)" in (found["dry_min"].refused or "")
    assert found["delay_s"].method == "logarithms"
    assert tolerance_line(names, "rh_pct", None) == ""


def test_details_of_a_block(invented: ModuleType) -> None:
    """Sigma with its degrees of freedom, all indices and each fitness sentence once."""
    review = invented.build_review()
    log = with_tolerance(review.log, room_c=(19.0, 25.0))
    charts, _ = parameter_charts(log)
    review = replace(
        review,
        log=log,
        charts=charts,
        tolerances=tolerances(log, charts, DriftScreen((), (), (), 0.05, "")),
    )
    details = chart_details(Names(log.process), review, "room_c")
    assert "degrees of freedom" in details[0]
    assert "Cpk" in details[1]
    assert "values taken as normal" in details[1]
    assert details[2:] == tuple(dict.fromkeys(charts["room_c"][0].notes))
    assert chart_details(Names(log.process), review, "no_such") == ()
    given = replace(charts["room_c"][0].limits, degrees_of_freedom=np.inf)
    known = sigma_words(Names(log.process), "room_c", replace(charts["room_c"][0], limits=given))
    assert known.endswith("known exactly.")
