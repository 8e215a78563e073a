"""What `check` shows: grouped, worst first, with the mapping; and the same for programs."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable

from weakstep.runlog.listing import check_json, columns_text, grouped, problems_csv, problems_text
from weakstep.runlog.model import RunLog

ReadText = Callable[..., RunLog]
TEXT = "chip,run,cure_c,dellay_s,outcome\n" + "".join(
    f"C{i},R{i},{cure},1,{word}\n"
    for i, (cure, word) in enumerate(
        [("300", "ok"), ("301", "odd"), ("302", "ok"), ("70", "ok"), ("303", "ok"), ("warm", "ok")]
    )
)


def test_problems_of_one_kind_are_one_entry_worst_first(read_text: ReadText) -> None:
    """Cells that count as missing before questions, lines gathered, three examples."""
    log = read_text(TEXT)
    groups = grouped(log.problems)
    assert [(g.first.code, g.lines) for g in groups[:2]] == [
        ("out_of_range", (2, 3, 4, 6)),
        ("not_a_number", (7,)),
    ]
    shown = problems_text(log)
    assert "log.csv: lines 2-4, 6: 'cure_c': found '300', '301', '302' ..." in shown
    heads = [line for line in shown.splitlines() if line and not line.startswith(" ")]
    assert heads == ["Cells that count as missing", "Questions", "Notes"]


def test_the_mapping_is_shown(read_text: ReadText) -> None:
    """Aliases with what they were taken for; what was not placed with the nearest name."""
    shown = columns_text(read_text(TEXT)).splitlines()
    assert shown[0] == "log.csv: 2 columns placed by their own name"
    assert "  'chip' -> chip_id (alias)" in shown
    alone = columns_text(read_text("chip_id\nC1\n")).splitlines()
    assert alone == ["log.csv: 1 column placed by its own name"]
    assert "  'dellay_s' left alone (is it delay_s?)" in shown


def test_for_programs(read_text: ReadText) -> None:
    """CSV with a line per problem, JSON with all that is known."""
    log = read_text(TEXT)
    rows = list(csv.DictReader(io.StringIO(problems_csv(log))))
    assert len(rows) == len(log.problems)
    assert rows[0]["code"] == "out_of_range"
    said = json.loads(check_json(log))
    assert [problem["code"] for problem in said["problems"]] == [row["code"] for row in rows]
    assert said["rows_read"] == 6
    assert said["columns"][3] == {
        "file": "log.csv",
        "header": "dellay_s",
        "parameter": None,
        "unit_read": "",
        "how": "nothing fits",
    }
