"""Rows per chip -> one row per run, in time order."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from weakstep.process.model import Parameter, Process
from weakstep.runlog.model import RunTable
from weakstep.runlog.outcomes import outcome_column
from weakstep.runlog.work import Work

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

_ONE_DAY = "1D"
COUNTS = ("chips_made", "chips_failed")


def add_run_ids(work: Work) -> None:
    """
    Give every row the id of its run in the column `run`, and tell rows that had none.

    One id used on different days by different files means different runs; it is then told
    apart by the file's name.
    """
    import numpy as np
    import pandas as pd

    files = work.typed["file"].to_numpy(dtype=object)
    named = np.full(len(files), "", dtype=object)
    if work.has("run_id"):
        named = work.typed["run_id"].to_numpy(dtype=object).copy()
    apart = _ids_of_several_runs(work)
    alone = named == ""
    several = np.isin(named.astype(str), sorted(apart)) if apart else np.zeros(len(named), bool)
    for at in np.flatnonzero(several).tolist():
        named[at] = f"{named[at]} ({files[at]})"
    lines = work.typed["line"].tolist()
    for at in np.flatnonzero(alone).tolist():
        named[at] = f"{files[at]}:{lines[at]}"
    work.typed["run"] = pd.Series(named, index=work.typed.index, dtype=object)
    without = pd.Series(files[alone], dtype=object).value_counts(sort=False)
    for file, rows in without.items():
        work.findings.problem(
            "rows_without_run",
            "note",
            f"{rows} rows name no run, so each counts as a run of its own.",
            f"Log a run id where several {work.process.items} share one run: "
            "they are then not taken as independent.",
            file=str(file),
        )


def _ids_of_several_runs(work: Work) -> set[str]:
    """Return run ids that different files use on days more than one apart; each is told."""
    import pandas as pd

    if not (work.has("run_id") and work.has("started_at")):
        return set()
    if work.typed["file"].nunique() == 1:
        return set()
    dated = work.typed[["file", "run_id", "started_at"]].dropna()
    dated = dated[dated["run_id"] != ""]
    files_of = dated.groupby("run_id")["file"].nunique()
    dated = dated[dated["run_id"].isin(files_of.index[files_of > 1])]
    days = dated.groupby(["run_id", "file"])["started_at"].agg(["min", "max"])
    apart: set[str] = set()
    for run, group in days.groupby(level=0):
        ordered = group.sort_values("min")
        gaps = ordered["min"].iloc[1:].to_numpy() - ordered["max"].iloc[:-1].to_numpy()
        if len(gaps) and bool((gaps > pd.Timedelta(_ONE_DAY)).any()):
            apart.add(str(run))
            files = ", ".join(str(file) for file in ordered.index.get_level_values(1))
            work.findings.problem(
                "run_id_used_twice",
                "question",
                f"Run {run} is in {files} on different days, so it was taken as different runs.",
                "Number runs once for all files, or put the file's letter before the number.",
                file=str(ordered.index.get_level_values(1)[0]),
                found=str(run),
            )
    return apart


def in_time_order(work: Work) -> None:
    """Sort the rows by time; a row without one stays behind the row above it in its file."""
    if not work.has("started_at"):
        return
    by_file = work.typed.groupby("file", sort=False)["started_at"]
    key = by_file.ffill().fillna(by_file.bfill())
    order = key.reset_index(drop=True).sort_values(kind="stable", na_position="last").index
    work.typed = work.typed.iloc[order]


def run_table(process: Process, chips: pd.DataFrame) -> RunTable:
    """
    Gather chips into runs.

    Parameters
    ----------
    process : Process
    chips : DataFrame
        Rows in time order with `run`, `mode`, `made`, `failed` and typed parameter columns.

    Returns
    -------
    RunTable
    """
    import numpy as np
    import pandas as pd

    codes, names = pd.factorize(chips["run"], sort=False)
    n_runs = len(names)
    started = np.full(n_runs, np.datetime64("NaT"), dtype="datetime64[ns]")
    if "started_at" in chips and n_runs:
        earliest = chips.groupby(codes)["started_at"].min()
        started = earliest.to_numpy(dtype="datetime64[ns]")
    operator = np.full(n_runs, "", dtype=object)
    if "operator" in chips:
        operator = _common(chips["operator"], codes, n_runs)
    tested, failed = _counts(process, chips, codes, n_runs)
    return RunTable(
        run_id=np.array([str(name) for name in names], dtype=object),
        started_at=started,
        operator=operator,
        week=_weeks(started),
        numbers=_numbers(process, chips, codes, n_runs),
        categories=_categories(process, chips, codes, n_runs),
        tested=tested,
        failed=failed,
    )


def _weeks(started: np.ndarray) -> np.ndarray:
    """Return whole weeks since the Monday of the first run; undated runs take the one before."""
    import numpy as np
    import pandas as pd

    if len(started) == 0 or np.isnat(started).all():
        return np.zeros(len(started), dtype=int)
    moments = pd.Series(started)
    first = moments.min()
    monday = first.normalize() - pd.Timedelta(days=first.weekday())
    weeks = (moments - monday).dt.days // 7
    whole: np.ndarray = weeks.ffill().fillna(0).to_numpy(dtype=int)
    return whole


def _numbers(process: Process, chips: pd.DataFrame, codes: np.ndarray, n_runs: int) -> pd.DataFrame:
    import pandas as pd

    outcome = outcome_column(process)
    columns = {
        parameter.name: _mean(parameter, chips[parameter.name].to_numpy(dtype=float), codes, n_runs)
        for parameter in process.parameters
        if _is_number_of_a_run(parameter, outcome)
        and parameter.name in chips
        and chips[parameter.name].notna().any()
    }
    return pd.DataFrame(columns, index=range(n_runs))


def _is_number_of_a_run(parameter: Parameter, outcome: str | None) -> bool:
    return (
        parameter.kind in ("number", "yes_no")
        and parameter.role != "identity"
        and parameter.name not in COUNTS
        and parameter.name != outcome
    )


def _mean(parameter: Parameter, values: np.ndarray, codes: np.ndarray, n_runs: int) -> np.ndarray:
    """
    Return the mean per run; geometric on a log scale, in runs where all values are positive.

    A run whose values are all equal keeps exactly that value, free of rounding.
    """
    import numpy as np

    known = ~np.isnan(values)
    counts = np.bincount(codes[known], minlength=n_runs)
    with np.errstate(all="ignore"):
        mean = np.bincount(codes[known], values[known], minlength=n_runs) / counts
        lowest, highest = np.full(n_runs, np.inf), np.full(n_runs, -np.inf)
        np.minimum.at(lowest, codes[known], values[known])
        np.maximum.at(highest, codes[known], values[known])
        mean = np.where(lowest == highest, lowest, mean)
        if parameter.scale != "log":
            return mean
        positive = known & (values > 0)
        all_positive = np.bincount(codes[positive], minlength=n_runs) == counts
        logs = np.bincount(codes[positive], np.log(values[positive]), minlength=n_runs) / counts
        return np.where(all_positive & (lowest != highest), np.exp(logs), mean)


def _categories(
    process: Process, chips: pd.DataFrame, codes: np.ndarray, n_runs: int
) -> pd.DataFrame:
    import pandas as pd

    columns = {
        parameter.name: _common(chips[parameter.name], codes, n_runs)
        for parameter in process.parameters
        if parameter.kind == "category"
        and parameter.role != "outcome"
        and parameter.name != "operator"
        and parameter.name in chips
    }
    return pd.DataFrame(columns, index=range(n_runs))


def _common(values: pd.Series, codes: np.ndarray, n_runs: int) -> np.ndarray:
    """Return the value that the chips of each run share, "several" when they differ."""
    import numpy as np
    import pandas as pd

    texts, distinct = pd.factorize(values.fillna("").to_numpy(dtype=object))
    filled = np.array([str(text) != "" for text in distinct], dtype=bool)[texts]
    lowest, highest = np.full(n_runs, len(distinct)), np.full(n_runs, -1)
    np.minimum.at(lowest, codes[filled], texts[filled])
    np.maximum.at(highest, codes[filled], texts[filled])
    named = np.array([*map(str, distinct), ""], dtype=object)
    return np.where(lowest < highest, "several", named[np.minimum(lowest, len(distinct))])


def _counts(
    process: Process, chips: pd.DataFrame, codes: np.ndarray, n_runs: int
) -> tuple[np.ndarray, Mapping[str, np.ndarray]]:
    """Return chips tested and, per family, chips failed in every run."""
    import numpy as np
    import pandas as pd

    counted = family_of_counts(process)
    untested = {mode.name for mode in process.modes if mode.verdict == "untested"}
    family_of = {mode.name: mode.family or counted for mode in process.modes}
    mode_codes, distinct = pd.factorize(chips["mode"].to_numpy(dtype=object))
    is_tested = np.array([mode not in untested for mode in distinct], dtype=bool)[mode_codes]
    families = np.array([family_of.get(mode, counted) for mode in distinct], dtype=object)
    made = chips["made"].to_numpy(dtype=float) * is_tested
    failures = chips["failed"].to_numpy(dtype=float) * is_tested
    failed = {
        family.name: np.bincount(
            codes, failures * (families == family.name)[mode_codes], minlength=n_runs
        ).astype(int)
        for family in process.families
    }
    return np.bincount(codes, made, minlength=n_runs).astype(int), failed


def family_of_counts(process: Process) -> str:
    """Return the family of failures that are only counted: that of the mode "failed"."""
    for mode in process.modes:
        if mode.name == "failed" and mode.family:
            return mode.family
    return process.families[0].name if process.families else ""
