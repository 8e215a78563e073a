"""An invented process and its log, built by hand; nothing in it was measured."""

from __future__ import annotations

import numpy as np
import pandas as pd

from weakstep.process.model import Caution, Family, Mode, Parameter, Process, Step
from weakstep.runlog.model import (
    CareReading,
    ColumnMatch,
    InputFile,
    Problem,
    RunLog,
    RunTable,
)

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


def no_runs() -> RunTable:
    """Return the table of a log in which nothing was run."""
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
