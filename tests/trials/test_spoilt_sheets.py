"""Sheets spoilt at random: a reading or one sentence, never a traceback."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from weakstep.cli import main
from weakstep.runlog.model import RunLog
from weakstep.trials.levels import choose_levels
from weakstep.trials.plan import plan_trial
from weakstep.trials.question import Question
from weakstep.trials.sheet import write_trial

CELLS = [
    *("", "lots", "nan", "inf", "-5", "1e9", "36", "90", "3,5", "> 300", "=1+1", "?", '"', "∞"),
    *("yes", "no", "good", "leak", "failed", "not_tested", "T001", "T002", "2026-08-01"),
]


def test_no_sheet_breaks_the_reading(
    semester: RunLog, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Rows cut off, shuffled or thinned out, a column dropped, 200 cells replaced: 80 times."""
    names = ("delay_s", "dry_min", "bake_min", "plasma_s", "pressure_pa")
    levels = tuple(choose_levels(semester, name) for name in names)
    question = Question("bond", (0.9, 0.1))
    plan = plan_trial(semester, levels, question, most_combinations=8, centre_runs=1)
    write_trial(plan, semester.process, tmp_path / "trial")
    sheet = tmp_path / "trial" / "sheet.csv"
    with sheet.open(encoding="utf-8", newline="") as stream:
        head, *rows = csv.reader(stream)
    rng = np.random.default_rng(44)
    for row in rows:
        row[head.index("outcome")] = "leak" if rng.random() < 0.3 else "good"
    codes = set()
    for _ in range(80):
        spoilt = [list(row) for row in rows]
        if rng.random() < 0.3:
            spoilt = spoilt[: rng.integers(len(spoilt) + 1)]
        if rng.random() < 0.3:
            spoilt = [row for row in spoilt if rng.random() < 0.3]
        order = rng.permutation(len(spoilt)) if rng.random() < 0.3 else range(len(spoilt))
        spoilt = [spoilt[place] for place in order]
        for _ in range(rng.choice([0, 1, 5, 50, 200]) if spoilt else 0):
            row = spoilt[rng.integers(len(spoilt))]
            row[rng.integers(len(row))] = str(rng.choice(CELLS))
        kept = list(range(len(head)))
        if rng.random() < 0.2:
            kept.remove(int(rng.integers(len(head))))
        with sheet.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows([[row[i] for i in kept] for row in (head, *spoilt)])
        codes.add(main(["trial", "--analyse", str(sheet)]))
        printed = capsys.readouterr()
        assert ("weakstep: " in printed.err) is (not printed.out)
    assert codes == {0, 2}
