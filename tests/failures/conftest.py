"""Logs built by hand, so that the failure analysis is tested without reading any file."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import pandas as pd
import pytest

from weakstep.process.model import Family, Mode, Parameter, Process, RatedLimit, Step
from weakstep.runlog.model import RunLog, RunTable

STEPS = ("mixing", "cure", "plasma", "contact")


def make_parameter(name: str, place: int = 0, **changes: object) -> Parameter:
    """Build a number parameter of one of the four steps, with *changes* to its fields."""
    fields: dict[str, object] = {
        "name": name,
        "label": name.replace("_", " "),
        "step": STEPS[place % len(STEPS)],
        "role": "reading",
        "kind": "number",
        "decimals": 3,
    }
    return Parameter(**{**fields, **changes})  # type: ignore[arg-type]


def make_process(
    parameters: tuple[Parameter, ...],
    families: tuple[str, ...],
    rated_limits: tuple[RatedLimit, ...] = (),
    interactions: tuple[tuple[str, str], ...] = (),
) -> Process:
    """Build a process with these parameters and one failure mode per family."""
    return Process(
        name="bench",
        title="A bench process",
        item="chip",
        items="chips",
        steps=tuple(Step(name, name) for name in STEPS),
        parameters=parameters,
        families=tuple(Family(name, name) for name in families),
        modes=(
            Mode("good", "good", "good"),
            *(Mode(f"{name}_lost", name, "failed", name) for name in families),
        ),
        constants={},
        rated_limits=rated_limits,
        rules=(),
        cautions=(),
        interactions=interactions,
        source="built by hand",
        sha256="",
    )


def make_log(
    numbers: Mapping[str, np.ndarray],
    failed: Mapping[str, np.ndarray],
    tested: np.ndarray,
    *,
    operator: np.ndarray | None = None,
    week: np.ndarray | None = None,
    categories: Mapping[str, np.ndarray] | None = None,
    parameters: tuple[Parameter, ...] | None = None,
    rated_limits: tuple[RatedLimit, ...] = (),
    interactions: tuple[tuple[str, str], ...] = (),
) -> RunLog:
    """
    Build a log of counted runs in time order.

    Without *parameters*, every number is a linear reading and every category an identity column.
    """
    runs = len(tested)
    groups = dict(categories or {})
    if parameters is None:
        parameters = tuple(make_parameter(name, i) for i, name in enumerate(numbers))
        parameters += tuple(
            make_parameter(name, step="", role="identity", kind="category") for name in groups
        )
    table = RunTable(
        run_id=np.array([f"R{i:04d}" for i in range(runs)]),
        started_at=np.full(runs, np.datetime64("NaT", "ns")),
        operator=np.full(runs, "") if operator is None else np.asarray(operator).astype(str),
        week=np.zeros(runs, dtype=int) if week is None else np.asarray(week),
        numbers=pd.DataFrame(
            {name: np.asarray(v, dtype=float) for name, v in numbers.items()}, index=range(runs)
        ),
        categories=pd.DataFrame(groups, index=range(runs)),
        tested=np.asarray(tested),
        failed={name: np.asarray(counts) for name, counts in failed.items()},
    )
    return RunLog(
        process=make_process(parameters, tuple(failed), rated_limits, interactions),
        chips=_chips(table),
        runs=table,
        problems=(),
        care=(),
        set_aside=pd.DataFrame(),
        inputs=(),
        columns=(),
        rows_read=runs,
    )


def _chips(table: RunTable) -> pd.DataFrame:
    """One row per chip: failed ones with their mode, the rest good."""
    rows: list[tuple[int, int, str]] = []
    for i, tested in enumerate(table.tested):
        lost = 0
        for family, counts in table.failed.items():
            rows += [(1, 1, f"{family}_lost")] * int(counts[i])
            lost += int(counts[i])
        rows += [(1, 0, "good")] * max(int(tested) - lost, 0)
    return pd.DataFrame(rows, columns=["made", "failed", "mode"])


@pytest.fixture
def log_of() -> Callable[..., RunLog]:
    """Return the builder of logs."""
    return make_log


@pytest.fixture
def parameter_of() -> Callable[..., Parameter]:
    """Return the builder of parameters."""
    return make_parameter
