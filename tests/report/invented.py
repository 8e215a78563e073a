"""An invented Review, built by hand from the dataclasses; nothing in it was measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from weakstep.charts.model import Chart, Limits, Signal
from weakstep.drift.model import Drift, DriftScreen, Together
from weakstep.drift.nearby import Nearby
from weakstep.failures.model import (
    Curve,
    Factor,
    FailureAnalysis,
    FailureModel,
    GroupCount,
    ModeCount,
    PlaceCount,
    SensitivityLine,
    StepRank,
    StepYield,
    Suspicion,
    Tally,
    Term,
    TighteningCurve,
    Verdict,
    Window,
)
from weakstep.interval import Interval
from weakstep.process.model import Caution, Family, Mode, Parameter, Process, Step
from weakstep.reviewing import FailureChart, Review
from weakstep.runlog.model import (
    CareReading,
    ColumnMatch,
    InputFile,
    Problem,
    RunLog,
    RunTable,
)
from weakstep.semesters.model import Event
from weakstep.trials.sizes import NextTrial

STEPS = ("mixing", "degassing", "cure", "demoulding", "cleaning", "plasma", "contact", "ambient")
NUMBERS: tuple[tuple[str, str, str, str, float, float, str], ...] = (
    # column, label, step, unit, typical value, spread, scale
    ("ratio", "base to agent ratio", "mixing", "", 10.0, 0.2, "linear"),
    ("mix_min", "mixing time", "mixing", "min", 4.0, 1.0, "linear"),
    ("kit_days_open", "days since the kit was opened", "mixing", "d", 60.0, 20.0, "linear"),
    ("degas_min", "degassing time", "degassing", "min", 35.0, 8.0, "linear"),
    ("vacuum_kpa", "absolute pressure while degassing", "degassing", "kPa", 8.0, 2.0, "linear"),
    ("cure_c", "oven temperature", "cure", "°C", 75.0, 1.5, "linear"),
    ("cure_h", "cure time", "cure", "h", 2.0, 0.3, "linear"),
    ("pdms_age_h", "age of the slab", "demoulding", "h", 24.0, 9.0, "log"),
    (
        "punch_holes",
        "holes punched since the punch was new",
        "demoulding",
        "",
        70.0,
        30.0,
        "linear",
    ),
    ("tape_passes", "tape passes", "cleaning", "", 2.0, 0.7, "linear"),
    ("dry_min", "drying time", "cleaning", "min", 10.0, 3.0, "linear"),
    ("pumpdown_s", "pump-down time", "plasma", "s", 75.0, 6.0, "linear"),
    ("pressure_pa", "chamber pressure", "plasma", "Pa", 60.0, 8.0, "linear"),
    ("power_w", "plasma power", "plasma", "W", 30.0, 1.0, "linear"),
    ("plasma_s", "plasma time", "plasma", "s", 35.0, 4.0, "linear"),
    ("oil_hours", "pump hours since the oil was changed", "plasma", "h", 300.0, 90.0, "linear"),
    ("delay_s", "delay from plasma to contact", "contact", "s", 45.0, 20.0, "log"),
    ("press_s", "pressing time", "contact", "s", 20.0, 5.0, "linear"),
    ("room_c", "room temperature", "ambient", "°C", 22.0, 1.0, "linear"),
    ("rh_pct", "relative humidity", "ambient", "%", 42.0, 6.0, "linear"),
)


def build_process(extra: tuple[Parameter, ...] = ()) -> Process:
    """Return a small described process with the columns of `NUMBERS`."""
    parameters = [
        Parameter("run_id", "run", "", "identity", "category"),
        Parameter("operator", "operator", "", "identity", "category"),
        Parameter("mould_id", "mould", "", "identity", "category"),
        *(
            Parameter(
                name,
                label,
                step,
                "counter" if name == "oil_hours" else "reading",
                "number",
                unit=unit,
                scale=scale,
                decimals=0 if typical >= 20 else 1,
                check_first=f"Compare the {label} with a second instrument.",
                tightening=f"Write the {label} down at once and stop when it leaves the window.",
                cautions={"plasma": ("plasma",), "contact": ("hands",)}.get(step, ()),
            )
            for name, label, step, unit, typical, _, scale in NUMBERS
        ),
        *extra,
    ]
    return Process(
        name="invented_line",
        title="Invented line: cast chips bonded to glass",
        item="chip",
        items="chips",
        steps=tuple(Step(name, name) for name in STEPS),
        parameters=tuple(parameters),
        families=(Family("bond", "bond"), Family("port", "port"), Family("cure", "cure")),
        modes=(
            Mode("good", "good", "good"),
            Mode("leak", "leak", "failed", "bond"),
            Mode("partial_bond", "partial bond", "failed", "bond"),
            Mode("tear", "tear at the port", "failed", "port"),
            Mode("undercure", "under-cured", "failed", "cure"),
            Mode("not_tested", "not tested", "untested"),
        ),
        constants={},
        rated_limits=(),
        rules=(),
        cautions=(
            Caution("local", "local rules", "Local rules and trained staff decide.", True),
            Caution("plasma", "plasma cleaner", "Let trained staff change it.", False),
            Caution("hands", "contact", "Wear gloves when handling treated parts.", False),
        ),
        interactions=(("plasma_s", "delay_s"),),
        source="built in",
        sha256="0f" * 32,
    )


def _runs(rng: np.random.Generator, count: int, dated: bool, text: str | None) -> RunTable:
    days = np.sort(rng.integers(0, 105, count))
    start = np.datetime64("2026-03-02T09:00", "ns")
    started = (
        start + days.astype("timedelta64[D]") + rng.integers(0, 480, count).astype("timedelta64[m]")
    )
    numbers = {}
    for name, _, _, _, typical, spread, scale in NUMBERS:
        values = typical + spread * rng.standard_normal(count)
        if scale == "log":
            values = typical * np.exp(0.5 * rng.standard_normal(count))
        numbers[name] = np.round(values, 2)
    numbers["pumpdown_s"] = numbers["pumpdown_s"] + np.linspace(0, 25, count)
    numbers["cure_c"] = numbers["cure_c"] + 4.0 * (np.arange(count) > 0.6 * count)
    numbers["oil_hours"] = 4.0 * np.mod(np.arange(count, dtype=float), 45.0)
    frame = pd.DataFrame(numbers)
    frame.loc[frame.index % 7 == 3, "rh_pct"] = np.nan
    tested = rng.integers(2, 4, count)
    delay = frame["delay_s"].to_numpy()
    chance = 1.0 / (1.0 + np.exp(-(-2.4 + 1.6 * np.maximum(np.log(delay / 60.0), 0.0) * 2)))
    bond = rng.binomial(tested, chance)
    port = rng.binomial(tested - bond, 0.03)
    prefix = text if text is not None else "P"
    people = [text] if text is not None else ["AB", "CD", "EF", ""]
    moulds = [text] if text is not None else ["M1", "M2", "M3"]
    return RunTable(
        run_id=np.array([f"{prefix}{number:03d}" for number in range(1, count + 1)], dtype=object),
        started_at=np.sort(started) if dated else np.full(count, np.datetime64("NaT", "ns")),
        operator=rng.choice(np.array(people, dtype=object), count),
        week=days // 7 if dated else np.zeros(count, dtype=int),
        numbers=frame,
        categories=pd.DataFrame({"mould_id": rng.choice(moulds, count)}),
        tested=tested,
        failed={"bond": bond, "port": port, "cure": np.zeros(count, dtype=int)},
    )


def _chips(runs: RunTable) -> pd.DataFrame:
    rows = []
    for index, run in enumerate(runs.run_id):
        bond, port = int(runs.failed["bond"][index]), int(runs.failed["port"][index])
        for chip in range(int(runs.tested[index])):
            mode = "leak" if chip < bond else "tear" if chip < bond + port else "good"
            rows.append(
                {
                    "run_id": run,
                    "delay_s": runs.numbers["delay_s"].iloc[index],
                    "mode": mode,
                    "made": 1,
                    "failed": int(mode != "good"),
                    "file": "bench_a.csv",
                    "line": index + 2,
                }
            )
    return pd.DataFrame(
        rows, columns=["run_id", "delay_s", "mode", "made", "failed", "file", "line"]
    )


def _problems(text: str) -> tuple[Problem, ...]:
    return (
        Problem(
            "bench_a.csv",
            14,
            "outcome",
            text,
            "unknown_outcome",
            "The outcome is not one the process knows.",
            "Write one of the described outcomes.",
            "set_aside",
        ),
        Problem(
            "bench_a.csv",
            31,
            "delay",
            "n/a",
            "not_a_number",
            "Expected a number in s.",
            "Leave the cell empty if it was not measured.",
            "cell_missing",
        ),
        Problem(
            "bench_b.csv",
            8,
            "delay",
            "??",
            "not_a_number",
            "Expected a number in s.",
            "Leave the cell empty if it was not measured.",
            "cell_missing",
        ),
        Problem(
            "bench_b.csv",
            None,
            None,
            None,
            "heaping",
            "Half of the times end in 0.",
            "Write the time as read.",
            "note",
        ),
    )


def build_log(
    seed: int = 1, count: int = 110, *, dated: bool = True, text: str | None = None
) -> RunLog:
    """Return an invented log of *count* runs; a *text* stands in every cell that can hold one."""
    runs = _runs(np.random.default_rng(seed), count, dated, text)
    chips = _chips(runs)
    text = text if text is not None else "leaked a bit?"
    set_aside = pd.DataFrame(
        {"file": ["bench_a.csv"], "line": [14], "reason": ["unknown outcome"], "note": [text]}
    )
    return RunLog(
        process=build_process(),
        chips=chips,
        runs=runs,
        problems=_problems(text),
        care=(
            CareReading("bench_a.csv", 5, text, text, "30 s", "unit in the cell"),
            CareReading("bench_b.csv", 9, "ratio", "10:1", "10", "ratio written with a colon"),
            CareReading("bench_b.csv", 10, "ratio", "1:10", "10", "ratio written with a colon"),
        ),
        set_aside=set_aside,
        inputs=(
            InputFile(text, "ab" * 32, len(chips) - 100),
            InputFile("bench_b.csv", "cd" * 32, 101),
        ),
        columns=(
            ColumnMatch("bench_a.csv", "delay", "delay_s", "s", "alias"),
            ColumnMatch("bench_a.csv", text, None, "", "nothing fits"),
        ),
        rows_read=len(chips) + 1,
    )


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


def build_factor(
    log: RunLog, column: str, rank: int, evidence: str, family: str = "bond"
) -> Factor:
    """Return an invented factor whose curve rises over the logged range."""
    values = log.runs.numbers[column].to_numpy()
    grid = np.linspace(np.nanmin(values), np.nanmax(values), 40)
    rise = 0.08 + 0.5 / (1 + np.exp(-8 * ((grid - grid[0]) / (grid[-1] - grid[0]) - 0.5)))
    strong = evidence in ("strong", "calendar")
    share = Interval(0.35, 0.1, 0.55, 0.9) if strong else Interval(0.2 / rank, 0.0, 0.4 / rank, 0.9)
    met = np.array([float(np.mean(values[np.isfinite(values)] <= limit)) for limit in grid])
    curve = Curve(grid, rise, rise * 0.6, np.minimum(rise * 1.5, 1.0), 0.9)
    tight = TighteningCurve("upper", grid, 0.05 + 0.6 * rise, 0.4 * rise, rise, met, 0.9)
    unit = log.process.parameter(column).unit
    return Factor(
        family=family,
        column=column,
        step=log.process.parameter(column).step,
        rank=rank,
        preventable_share=share,
        window=Window(None, float(np.nanmedian(values)) + 0.04, unit) if strong else None,
        share_inside=0.61 if strong else None,
        shape="rises above 60 s" if strong else "rises",
        odds_ratio=Interval(2.1, 1.2, 3.7, 0.95),
        per="per doubling",
        p=0.004 if strong else min(1.0, 0.2 + 0.05 * rank),
        p_week=0.01 if strong else None,
        p_calendar=0.004 if strong else None,
        evidence=evidence,
        alike=("press_s",) if column == "delay_s" else (),  # type: ignore[arg-type]
        missing=0.14 if column == "rh_pct" else 0.0,
        surprising=False,
        curve=curve,
        tightening=(tight,),
    )


def build_tally(log: RunLog) -> Tally:
    """Return the counts of the invented log, with made-up intervals around the true shares."""
    tested = int(log.runs.tested.sum())
    bond, port = int(log.runs.failed["bond"].sum()), int(log.runs.failed["port"].sum())

    def around(count: int) -> Interval:
        share = count / tested if tested else 0.0
        return Interval(share, max(0.0, share - 0.04), min(1.0, share + 0.05), 0.95)

    return Tally(
        tested,
        bond + port,
        4,
        around(bond + port),
        (
            ModeCount("leak", "bond", bond, around(bond)),
            ModeCount("tear", "port", port, around(port)),
        ),
        {"bond": around(bond), "port": around(port)},
        groups=tuple(
            GroupCount(column, str(name), 80, 12, around(bond), around(bond))
            for column, names in (
                ("operator", np.unique(log.runs.operator)),
                ("mould_id", np.unique(log.runs.categories["mould_id"])),
            )
            for name in names
        ),
        places=(
            PlaceCount("corner", 7, None, None, Interval(0.7, 0.4, 0.9, 0.95)),
            PlaceCount("port", 3, 1, 0, Interval(0.3, 0.1, 0.6, 0.95)),
        ),
        steps=(
            StepYield("plasma", 6.5, Interval(0.98, 0.95, 0.99, 0.95), 0.98),
            StepYield("contact", 9.0, Interval(0.97, 0.94, 0.98, 0.95), 0.95),
        ),
    )


def build_failures(log: RunLog) -> FailureAnalysis:
    """Return an invented analysis that suggests to tighten the delay."""
    order = ["delay_s", "press_s", "plasma_s", "rh_pct"]
    order += [name for name, *_ in NUMBERS if name not in order]
    levels: Mapping[str, str] = {"delay_s": "strong", "press_s": "calendar", "plasma_s": "some"}
    factors = tuple(
        build_factor(log, name, rank, levels.get(name, "none"))
        for rank, name in enumerate(order, 1)
    )
    factors = (*factors, build_factor(log, "punch_holes", 1, "none", "port"))
    window = factors[0].window
    step_share = (Interval(0.36, 0.11, 0.56, 0.9), Interval(0.12, 0.0, 0.3, 0.9))
    return FailureAnalysis(
        tally=build_tally(log),
        factors=factors,
        steps=(
            StepRank("bond", "contact", 1, step_share[0], "strong"),
            StepRank("bond", "plasma", 2, step_share[1], "some"),
        ),
        models=(
            FailureModel(
                "bond",
                (
                    Term(
                        "delay_s",
                        Interval(0.74, 0.18, 1.31, 0.95),
                        Interval(2.1, 1.2, 3.7, 0.95),
                        "per doubling",
                        0.004,
                    ),
                ),
                (("delay_s", 0.76, 0.28),),
                (),
                Interval(0.71, 0.62, 0.79, 0.95),
                0.12,
                0.93,
                ("Operators enter as random effects.",),
            ),
        ),
        verdict=Verdict(
            "tighten",
            "bond",
            "contact",
            "delay_s",
            window,
            "Tighten contact first: keep the delay from plasma to contact below 45 s.",
        ),
        notes=("The cure family has no failures: nothing to rank there.",),
        sensitivity=(
            SensitivityLine(
                "Without the last month", "delay_s", True, "strong",
                "Without the last month: still first (strong evidence).",
            ),
            SensitivityLine(
                "Without mould M3", "press_s", False, "some",
                "Without mould M3: the pressing time comes first instead (some evidence).",
            ),
        ),
        suspicions=(
            Suspicion("leak", "bond", "plasma", 3, "none", Interval(0.0, 0.0, 0.2, 0.9),
                      "plasma_s", 0.7, "none"),
            Suspicion("leak", "bond", "contact", 2, "strong", Interval(0.36, 0.11, 0.56, 0.9),
                      "delay_s", 0.002, "strong"),
            Suspicion("leak", "bond", "ambient", 0, "none", Interval(0.0, 0.0, 0.2, 0.9)),
            Suspicion("leak", "bond", "cure", 1, "none", Interval(0.0, 0.0, 0.2, 0.9)),
            Suspicion("tear", "port", "plasma", 0, None, None),
            Suspicion("tear", "port", "contact", 1, None, None),
        ),
    )  # fmt: skip


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
        runs=_no_runs(),
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


def _no_runs() -> RunTable:
    none = np.zeros(0, dtype=int)
    return RunTable(
        np.zeros(0, dtype=object),
        np.zeros(0, dtype="datetime64[ns]"),
        np.zeros(0, dtype=object),
        none,
        pd.DataFrame(),
        pd.DataFrame(),
        none,
        {},
    )
