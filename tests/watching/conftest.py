"""A stable bench: a reviewed semester, and new runs that follow it or depart from it."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from weakstep.reviewing import Review, review
from weakstep.runlog.model import RunLog
from weakstep.runlog.read import read_log
from weakstep.watching.baseline import Baseline, baseline_json
from weakstep.watching.freezing import freeze

sys.path.insert(0, str(Path(__file__).parent))
from watched_log import HEAD, rows

BUILDER = Path(__file__).parents[1] / "failures" / "conftest.py"
RUNS = 100
SHIFTS = {"heat": 0.0, "delay": 0.0, "press": 0.0}

More = Callable[..., RunLog]


def _make_log() -> Callable[..., RunLog]:
    spec = importlib.util.spec_from_file_location("failure_logs", BUILDER)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    made: Callable[..., RunLog] = module.make_log
    return made


def _numbers(rng: np.random.Generator, runs: int, shifts: dict[str, float]) -> pd.DataFrame:
    """Two normal columns and a skewed one, each moved by so many standard deviations."""
    return pd.DataFrame(
        {
            "heat": 70.0 + 2.0 * (rng.normal(size=runs) + shifts["heat"]),
            "press": 5.0 + 0.5 * (rng.normal(size=runs) + shifts["press"]),
            "delay": np.exp(3.8 + 0.3 * (rng.normal(size=runs) + shifts["delay"])),
        }
    )


@pytest.fixture(scope="session")
def reviewed() -> Review:
    """Return the review of a stable semester of 100 runs."""
    rng = np.random.default_rng(77)
    numbers = _numbers(rng, RUNS, SHIFTS)
    failed = {"bond": rng.binomial(3, 0.12, RUNS)}
    log = _make_log()(
        {name: numbers[name].to_numpy() for name in numbers}, failed, np.full(RUNS, 3)
    )
    found = review(log, permutations=99)
    return replace(found, log=replace(log, chips=_chips(log.runs.run_id)))


def _chips(names: np.ndarray) -> pd.DataFrame:
    """One row a run, as far as watching looks at rows."""
    return pd.DataFrame({"file": "log.csv", "line": np.arange(len(names)) + 2, "run": names})


@pytest.fixture(scope="session")
def frozen(reviewed: Review) -> Baseline:
    """Return its baseline."""
    return freeze(reviewed)


@pytest.fixture(scope="session")
def more(reviewed: Review) -> More:
    """Return a builder of logs that hold the baseline's runs and new ones behind them."""

    def build(runs: int, seed: int = 1, rate: float = 0.12, **shifts: float) -> RunLog:
        rng = np.random.default_rng(seed)
        new = _numbers(rng, runs, SHIFTS | shifts)
        old = reviewed.log.runs
        table = replace(
            old,
            run_id=np.concatenate([old.run_id, [f"N{i:03d}" for i in range(runs)]]),
            started_at=np.full(RUNS + runs, np.datetime64("NaT", "ns")),
            operator=np.full(RUNS + runs, ""),
            week=np.zeros(RUNS + runs, dtype=int),
            numbers=pd.concat([old.numbers, new], ignore_index=True),
            categories=pd.DataFrame(index=range(RUNS + runs)),
            tested=np.full(RUNS + runs, 3),
            failed={"bond": np.concatenate([old.failed["bond"], rng.binomial(3, rate, runs)])},
        )
        return replace(reviewed.log, runs=table, chips=_chips(table.run_id))

    return build


@pytest.fixture
def bench(tmp_path: Path) -> tuple[Path, list[str]]:
    """Return a log of 60 stable runs whose baseline is frozen, and the words that watch it."""
    log = tmp_path / "logs" / "log.csv"
    log.parent.mkdir()
    log.write_text(HEAD + rows(0, 60, 40.0, 1), encoding="utf-8")
    baseline = tmp_path / "baseline.json"
    frozen = freeze(review(read_log(log), permutations=99))
    baseline.write_text(baseline_json(frozen), encoding="utf-8")
    return log, ["watch", str(log), "--baseline", str(baseline)]
