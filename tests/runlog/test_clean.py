"""The corrected copy: the same log, and nothing left to ask."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from weakstep.errors import OutputError
from weakstep.process.load import load_process
from weakstep.process.model import Process
from weakstep.runlog.clean import write_clean
from weakstep.runlog.model import RunLog
from weakstep.runlog.read import read_log

DATASETS = Path(__file__).parents[2] / "datasets"
MESS = (
    "chip,run,date,who,cure temp,ratio,delay (min),touched,mould softening,"
    "dellay_s,sticker,result\n"
    "C1,R1,03/04/26,AK,70,10:1,0.5,x,60,1,red,ok\n"
    "C2,R1,03/04/26,ak,<70,1/10,~1,no,,1,red,leaked a bit\n"
    "C3,R2,05/04/26,AK,ditto,10:01,30-60 s,,,1,red,weird\n"
    "C3,R2,05/04/26,AK,70,99,,n/a,,1,red,4/6 ok\n"
    "=1+1,R3,,AK,900,10,1,yes,,1,red,\n"
    "total,,,,,,,,,5,,\n"
)


def same_rows(first: RunLog, second: RunLog) -> None:
    """Compare all that a review uses."""
    for column in first.chips.columns:
        if column in ("file", "line", "run", "outcome"):
            continue
        pd.testing.assert_series_equal(
            first.chips[column], second.chips[column], check_dtype=False, rtol=1e-11
        )
    assert first.runs.tested.tolist() == second.runs.tested.tolist()
    for family, failed in first.runs.failed.items():
        assert failed.tolist() == second.runs.failed[family].tolist()


def asked(log: RunLog) -> list[str]:
    """Return the problems that are no notes."""
    return [str(problem) for problem in log.problems if problem.severity != "note"]


def test_a_mess_comes_out_clean_and_the_same(
    read_text: Callable[..., RunLog], tmp_path: Path
) -> None:
    """Every cell as it was read; questions that stay are written beside their rows."""
    log = read_text(MESS)
    assert len(asked(log)) > 5
    copy = read_log(write_clean(log, tmp_path / "clean.csv"), log.process)
    assert asked(copy) == []
    assert {one.taken_as for one in copy.care} == {"below 70 C"}
    assert [(b.parameter, b.side, b.value) for b in copy.bounds] == [("cure_c", "below", 70.0)]
    same_rows(log, copy)
    text = (tmp_path / "clean.csv").read_text(encoding="utf-8")
    assert "'=1+1" in text
    assert "beyond_rated_limit" in text
    notes = {problem.code for problem in copy.problems}
    assert {"beyond_rated_limit", "same_id_twice"} <= notes, "still told, as notes"


@pytest.mark.parametrize("name", ["semester/logs", "orings/orings.csv"])
def test_the_data_sets_come_out_clean(name: str, tmp_path: Path) -> None:
    """The demo semester, and a log with its own description."""
    own = DATASETS / "orings" / "process.toml"
    process = load_process(own) if name.startswith("orings") else load_process()
    before = sorted((f.name, f.read_bytes()) for f in (DATASETS / name).parent.rglob("*.csv"))
    log = read_log(DATASETS / name, process)
    copy = read_log(write_clean(log, tmp_path / "clean.csv"), process)
    assert asked(copy) == []
    same_rows(log, copy)
    after = sorted((f.name, f.read_bytes()) for f in (DATASETS / name).parent.rglob("*.csv"))
    assert before == after, "the log itself is never touched"


def test_what_cannot_be_written(
    read_text: Callable[..., RunLog], process: Process, tmp_path: Path
) -> None:
    """Another suffix, a folder that is not there, a log of which nothing can be used."""
    log = read_text(MESS)
    with pytest.raises(OutputError, match=r"ends in \.csv"):
        write_clean(log, tmp_path / "clean.xlsx")
    with pytest.raises(OutputError, match="cannot be written"):
        write_clean(log, tmp_path / "none" / "clean.csv")
    nothing = read_text("chip,chips_made,chips_failed,outcome\nC1,1,2,ok\n")
    with pytest.raises(OutputError, match="No row of the log can be used"):
        write_clean(nothing, tmp_path / "clean.csv")
