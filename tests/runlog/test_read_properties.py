"""What holds for any log: values come back, rows are all accounted for, nothing ever crashes."""

from __future__ import annotations

import csv
import io
import tempfile
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from weakstep.errors import LogError
from weakstep.process.load import load_process
from weakstep.process.model import Process
from weakstep.runlog.clean import write_clean
from weakstep.runlog.model import RunLog
from weakstep.runlog.read import read_log

PROCESS = load_process()
NUMBERS = [
    p
    for p in PROCESS.parameters
    if p.kind == "number" and p.is_factor and p.formula is None and p.lower is not None
]
few = settings(max_examples=40, deadline=None, derandomize=True)


def read_bytes(raw: bytes, process: Process = PROCESS) -> RunLog:
    """Read bytes as a file."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        path.write_bytes(raw)
        return read_log(path, process)


def within(lower: float, upper: float) -> Callable[[float], bool]:
    """Whether a value lies in a range, ends included."""
    return lambda value: lower <= value <= upper


@st.composite
def logs(draw: st.DrawFn) -> pd.DataFrame:
    """Draw a clean log with a few number columns, some cells empty."""
    parameters = draw(st.lists(st.sampled_from(NUMBERS), min_size=1, max_size=5, unique=True))
    rows = draw(st.integers(1, 6))
    columns: dict[str, list[object]] = {
        "chip_id": [f"C{i}" for i in range(rows)],
        "run_id": [f"R{draw(st.integers(0, rows))}" for _ in range(rows)],
    }
    for parameter in parameters:
        lower, upper = parameter.lower or 0.0, parameter.upper or 1000.0
        number = st.floats(lower, upper, allow_subnormal=False)
        rounded = number.map(lambda value: round(value, 6))
        inside = st.none() | rounded.filter(within(lower, upper))
        columns[parameter.name] = draw(st.lists(inside, min_size=rows, max_size=rows))
    columns["outcome"] = draw(
        st.lists(st.sampled_from(["good", "leak", "tear"]), min_size=rows, max_size=rows)
    )
    return pd.DataFrame(columns)


def written(frame: pd.DataFrame, delimiter: str, comma: bool) -> bytes:
    """Write a log as a spreadsheet would, with points or commas."""
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=delimiter)
    writer.writerow(frame.columns)
    for row in frame.itertuples(index=False):
        cells = []
        for value in row:
            if isinstance(value, float):
                text = "" if np.isnan(value) else f"{value:.6f}"
                cells.append(text.replace(".", ",") if comma else text)
            else:
                cells.append("" if value is None else str(value))
        writer.writerow(cells)
    return stream.getvalue().encode()


@few
@given(logs(), st.sampled_from([(",", False), (";", True), ("\t", False), ("\t", True)]))
def test_written_values_come_back(frame: pd.DataFrame, style: tuple[str, bool]) -> None:
    """In every style of file, with no cell read with care."""
    log = read_bytes(written(frame, *style))
    numbers = [column for column in frame if column not in ("chip_id", "run_id", "outcome")]
    assert log.care == ()
    assert log.rows_read == len(frame) == len(log.chips)
    for column in numbers:
        expected = pd.to_numeric(frame[column]).to_numpy(dtype=float)
        np.testing.assert_allclose(log.chips[column].to_numpy(), expected, rtol=0, atol=5e-7)
    assert log.chips["mode"].tolist() == frame["outcome"].tolist()
    assert int(log.runs.tested.sum()) == len(frame)


@few
@given(logs(), st.randoms(use_true_random=False))
def test_the_order_of_columns_does_not_matter(frame: pd.DataFrame, random: object) -> None:
    """Each file has its own."""
    shuffled = list(frame.columns)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    one = read_bytes(written(frame, ",", False)).chips
    other = read_bytes(written(frame[shuffled], ",", False)).chips
    pd.testing.assert_frame_equal(one, other[one.columns])


CATEGORIES = [p.name for p in PROCESS.parameters if p.kind in ("category", "text")]
CATEGORIES = [name for name in CATEGORIES if name not in ("outcome", "chip_id", "run_id")]
typed_words = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=8)


@st.composite
def whole_logs(draw: st.DrawFn) -> list[list[str]]:
    """Draw a log of the schema with names of any letters, dates, yes/no, counts and numbers."""
    frame = draw(logs())
    cells = [[str(name) for name in frame.columns]]
    cells += [["" if v is None or v != v else str(v) for v in row] for row in frame.to_numpy()]
    moments = st.datetimes(datetime(1990, 1, 1), datetime(2090, 1, 1))
    extra = {
        "started_at": moments.map(lambda moment: moment.isoformat(" ", "seconds")) | st.just(""),
        "touched": st.sampled_from(["yes", "no", ""]),
        **dict.fromkeys(draw(st.sets(st.sampled_from(CATEGORIES), max_size=3)), typed_words),
    }
    for name, strategy in extra.items():
        cells[0].append(name)
        for row in cells[1:]:
            row.append(draw(strategy))
    return cells


@few
@given(whole_logs())
def test_a_log_that_is_written_reads_back_the_same(cells: list[list[str]]) -> None:
    """The clean copy of any table of the schema is that table, and leaves nothing to ask."""
    stream = io.StringIO()
    csv.writer(stream).writerows(cells)
    log = read_bytes(stream.getvalue().encode())
    with tempfile.TemporaryDirectory() as folder:
        again = read_log(write_clean(log, Path(folder) / "clean.csv"), PROCESS)
    assert [str(p) for p in again.problems if p.severity != "note"] == []
    assert again.care == ()
    for column in log.chips.columns:
        if column not in ("file", "line", "run"):
            pd.testing.assert_series_equal(
                log.chips[column], again.chips[column], check_dtype=False, rtol=1e-11
            )


WORDS = (
    '30|0.5 min|<1|n/a|"|same|10:1|1:10|3,5|1,000|~|good|4/6 ok|leak|weird|2026-03-04|04/03/26|'
    "3 Apr|46000|| |-|1e999|-5|∞|chip|12345678901234567890|0x10|NaN|inf|0.41736|a;b|a,b\n"
)
HEADERS = (
    "chip_id|run_id|started_at|operator|ratio|base_g|agent_g|delay_s|date|cure (F)|vacuum mbar|"
    "touched|outcome|chips_made|chips_failed|time|what"
)
words = st.sampled_from([*WORDS.split("|"), "9" * 400])
headers = st.sampled_from(HEADERS.split("|"))


def sentence_or_log(raw: bytes) -> RunLog:
    """Read bytes; where they are refused it must be by one sentence, and a plain log stands in."""
    try:
        return read_bytes(raw)
    except LogError as error:
        sentence = str(error)
    assert "\n" not in sentence
    assert sentence.startswith("log.csv:")
    return read_bytes(b"run_id,delay_s,outcome\nR1,30,good\n")


@few
@given(
    st.lists(headers, min_size=1, max_size=8),
    st.lists(st.lists(words, max_size=9), max_size=8),
    st.sampled_from([",", ";", "\t"]),
)
def test_any_mess_is_accounted_for(
    header: list[str], rows: list[list[str]], delimiter: str
) -> None:
    """Every row is used or set aside; untested chips never fail; or one sentence says why not."""
    stream = io.StringIO()
    csv.writer(stream, delimiter=delimiter).writerows([header, *rows])
    log = sentence_or_log(stream.getvalue().encode())
    assert log.rows_read == len(log.chips) + len(log.set_aside)
    assert (log.chips["failed"] <= log.chips["made"]).all()
    failed = sum(int(counts.sum()) for counts in log.runs.failed.values())
    assert failed <= int(log.runs.tested.sum()) <= int(log.chips["made"].sum())
    assert all(problem.message.endswith((".", "?")) for problem in log.problems)


@few
@given(st.binary(max_size=300))
def test_random_bytes_never_crash(raw: bytes) -> None:
    """A LogError of one line, or a log with rows."""
    assert sentence_or_log(raw).rows_read >= 1


@few
@given(st.text(max_size=200))
def test_random_text_after_a_good_header_never_crashes(text: str) -> None:
    """Whatever is typed below the header."""
    raw = ("run_id,delay_s,started_at,outcome\n" + text).encode("utf-8", "surrogatepass")
    log = sentence_or_log(raw)
    assert log.rows_read == len(log.chips) + len(log.set_aside)
