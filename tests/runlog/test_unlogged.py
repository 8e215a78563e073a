"""A weekly count of what was made shows how many chips have no row."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from weakstep.cli import main
from weakstep.errors import LogError
from weakstep.runlog.model import RunLog
from weakstep.runlog.unlogged import compare_with_made

TEXT = (
    "chip,date,outcome\nC1,2026-03-02,ok\nC2,2026-03-06,leak\nC3,2026-03-09,ok\nC4,,ok\n"
    "R5,2026-03-10,4/6 ok\n"
)


def test_weeks_with_chips_that_have_no_row(
    read_text: Callable[..., RunLog], tmp_path: Path
) -> None:
    """Monday to Sunday; a row counts all the chips it stands for."""
    (tmp_path / "made.csv").write_text("week,made\n2026-03-04,5\n9.3.2026,7\n2026-03-16,2\n")
    log = compare_with_made(read_text(TEXT), tmp_path / "made.csv")
    asked = [(p.found, p.message) for p in log.problems if p.code == "unlogged"]
    assert asked == [
        (
            "2026-03-02",
            "5 chips were made in the week of 2026-03-02 and 2 are logged: 3 have no row.",
        ),
        (
            "2026-03-16",
            "2 chips were made in the week of 2026-03-16 and 0 are logged: 2 have no row.",
        ),
    ]


def test_what_cannot_be_compared(read_text: Callable[..., RunLog], tmp_path: Path) -> None:
    """A line that is no week, a log without dates: one sentence."""
    for count in ("many", "9" * 5000):
        (tmp_path / "made.csv").write_text(f"week,made\n2026-03-02,{count}\n")
        with pytest.raises(LogError, match=r"made\.csv:2: expected a date and a whole number"):
            compare_with_made(read_text(TEXT), tmp_path / "made.csv")
    (tmp_path / "made.csv").write_text("week,made\n2026-03-02,3\n")
    with pytest.raises(LogError, match="The log has no dates"):
        compare_with_made(read_text("chip,outcome\nC1,ok\n"), tmp_path / "made.csv")


def test_check_compares_on_request(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With --made, unlogged chips are a problem like others."""
    (tmp_path / "log.csv").write_text("chip,date,outcome\nC1,2026-03-02,ok\n")
    (tmp_path / "made.csv").write_text("week,made\n2026-03-02,3\n")
    assert main(["check", str(tmp_path / "log.csv")]) == 0
    arguments = ["check", str(tmp_path / "log.csv"), "--made", str(tmp_path / "made.csv")]
    assert main(arguments) == 1
    assert "3 chips were made" in capsys.readouterr().out
