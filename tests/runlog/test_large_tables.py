"""A large text without quotes is split in one sweep; the cells are those of the slow road."""

from __future__ import annotations

import runpy
import statistics
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from weakstep.process.load import load_process
from weakstep.runlog import splitting
from weakstep.runlog.files import TextFile
from weakstep.runlog.read import read_log
from weakstep.runlog.splitting import read_table
from weakstep.runlog.tables import Table

BENCHMARK = Path(__file__).parents[1] / "benchmark" / "reading.py"


def cells_of(table: Table) -> list[tuple[int, tuple[str, ...]]]:
    """Return line and cells of every row."""
    rows = [table.row(index) for index in range(len(table))]
    return [(row.line, row.cells) for row in rows]


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
@pytest.mark.parametrize("last", ["", "\n\n"])
def test_both_roads_give_the_same_cells(
    newline: str, last: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Short rows, long rows, blank lines, spaces, letters of all kinds, words for nothing."""
    rng = np.random.default_rng(3)
    words = ["", " ", "NA", "null", "1.50", "007", "µ°é", "a b", "'", "=1", "\u2028", "#x", "\t"]
    lines = ["title", "", "chip;run;delay_s;outcome"]
    lines += [";".join(rng.choice(words, rng.integers(1, 7))) for _ in range(400)]
    text = newline.join(lines) + last
    slow = read_table(TextFile("log.csv", text, "utf-8"))
    monkeypatch.setattr(splitting, "_LARGE", 0)
    fast = read_table(TextFile("log.csv", text, "utf-8"))
    assert cells_of(fast) == cells_of(slow)
    assert fast.decimal_comma == slow.decimal_comma
    assert len(fast) > 300


def test_reading_costs_a_few_times_a_plain_read(tmp_path: Path) -> None:
    """
    Processor time of a check against one pandas.read_csv of the same file, middle of five turns.

    At most 12 times, on 30,000 rows of 28 columns; 5 to 8 were measured.
    """
    path = tmp_path / "log.csv"
    benchmark = runpy.run_path(str(BENCHMARK))
    benchmark["invented_log"](30_000).to_csv(path, index=False)
    process = load_process()
    read_log(path, process)
    ratios = []
    for _ in range(5):
        start = time.process_time()
        pd.read_csv(path)
        between = time.process_time()
        read_log(path, process)
        ratios.append((time.process_time() - between) / (between - start))
    assert statistics.median(ratios) <= 12
