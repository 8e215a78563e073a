"""A large text without quotes is split in one sweep; the cells are those of the slow road."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.runlog import tables
from weakstep.runlog.files import TextFile
from weakstep.runlog.tables import Table, read_table


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
    monkeypatch.setattr(tables, "_LARGE", 0)
    fast = read_table(TextFile("log.csv", text, "utf-8"))
    assert cells_of(fast) == cells_of(slow)
    assert fast.decimal_comma == slow.decimal_comma
    assert len(fast) > 300
