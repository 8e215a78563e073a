"""`weakstep trial` as a user types it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

SEMESTER = Path(__file__).parents[2] / "datasets" / "semester" / "logs"
VARY = ["trial", str(SEMESTER), "-o", "x", "--vary", "delay_s"]


def test_the_command_plans_and_reads(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`trial` writes a sheet; filled in, `trial --analyse` reads it and draws the effects."""
    from weakstep.cli import main

    words = ["trial", str(SEMESTER), "-o", str(tmp_path / "t"), "--outcome", "bond"]
    words += ["--rates", "0.6:0.1", "--vary", "delay_s=35:90", "--vary", "dry_min"]
    assert main(words) == 0
    assert "Two levels each, all combinations" in capsys.readouterr().out
    sheet = tmp_path / "t" / "sheet.csv"
    lines = sheet.read_text(encoding="utf-8").splitlines()
    head = lines[0].split(",")
    place, delay = head.index("outcome"), head.index("delay_s")
    rng = np.random.default_rng(1)
    for i, line in enumerate(lines[1:], 1):
        cells = line.split(",")
        cells[place] = "leak" if rng.random() < (0.6 if cells[delay] == "90" else 0.1) else "good"
        lines[i] = ",".join(cells)
    sheet.write_text("\n".join(lines), encoding="utf-8")
    assert main(["trial", "--analyse", str(sheet)]) == 0
    printed = capsys.readouterr().out
    assert "delay from glow to contact (more at the high level)" in printed
    assert ">delay from glow to contact<" in (tmp_path / "t" / "effects.svg").read_text("utf-8")


def test_a_verdict_on_a_measured_outcome_is_tried_on_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing has failed, burst pressure falls with the delay: a trial of burst pressure."""
    from weakstep.cli import main

    rng = np.random.default_rng(11)
    rows = ["run_id,chip_id,started_at,operator,delay_s,cure_c,burst_kpa,outcome"]
    for run in range(60):
        delay, day = rng.uniform(20.0, 100.0), run // 4 + 1
        burst = rng.normal(240.0 - delay, 8.0)
        rows.append(
            f"R{run:03d},R{run:03d}-1,2026-03-{day:02d} 10:00,{'AB'[run % 2]},{delay:.0f},"
            f"{rng.normal(65.0, 2.0):.1f},{burst:.0f},good"
        )
    log = tmp_path / "log.csv"
    log.write_text("\n".join(rows), encoding="utf-8")
    assert main(["trial", str(log), "-o", str(tmp_path / "t")]) == 0
    printed = capsys.readouterr().out
    assert "- delay from glow to contact: 2" in printed
    assert "The trial shows a difference of the burst pressure between the levels" in printed
    words = ["trial", str(log), "-o", str(tmp_path / "u"), "--vary", "delay_s"]
    assert main(words) == 2
    assert "which two failure rates are to be told apart (--rates)" in capsys.readouterr().err
    assert main([*words, "--rates", "0.3:0.05"]) == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["trial"], "Name the LOG"),
        (["trial", str(SEMESTER), "-o", "x", "--vary", "colour"], "no numbers for 'colour'"),
        (["trial", "--analyse", "nowhere/sheet.csv"], "cannot be read"),
        (["trial", "--analyse", str(SEMESTER)], "is a folder; name the sheet in it"),
        (["trial", str(SEMESTER), "--analyse", "sheet.csv"], "leave out LOG, -o and --vary"),
        ([*VARY, "--vary", "delay_s"], "'delay_s' is to be varied twice"),
        ([*VARY, "--outcome", "delay_s"], "cannot be varied and be the outcome"),
        ([*VARY, "--outcome", "room_c", "--rates", "0.3:0.1"], "say --difference instead"),
        ([*VARY, "--difference", "5"], "A difference is for a measured outcome"),
        ([*VARY, "--vary", "dry_min=6:9:12", "--centre", "1"], "a third level shows a bend"),
        (["trial", str(SEMESTER), "-o", "x", "--vary", "delay_s=35"], "found 1 level of different"),
        (["trial", str(SEMESTER), "-o", "x", "--vary", "delay_s=nan:50"], "outside what the log"),
        (["trial", str(SEMESTER), "-o", "x", "--outcome", "bond"], "need --vary"),
    ],
)
def test_the_command_refuses_in_one_sentence(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2."""
    from weakstep.cli import main

    assert main(words) == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    "words",
    [
        ["--centre", "-1"],
        ["--difference", "0"],
        ["--runs-per-day", "0"],
        ["--power", "1"],
        ["--alpha", "0.001"],
        ["--alpha", "0.6"],
    ],
)
def test_numbers_that_make_no_sense_are_refused(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Told by the option that was misread."""
    from weakstep.cli import main

    with pytest.raises(SystemExit, match="2"):
        main([*VARY, *words])
    assert f"argument {words[0]}" in capsys.readouterr().err


@pytest.mark.parametrize("levels", ["delay_s=fast", "delay_s=30:", "delay_s=", "touched=no:maybe"])
def test_levels_that_are_none_are_refused(levels: str, capsys: pytest.CaptureFixture[str]) -> None:
    """With what is expected instead."""
    from weakstep.cli import main

    with pytest.raises(SystemExit, match="2"):
        main(["trial", str(SEMESTER), "-o", "x", "--vary", levels])
    said = capsys.readouterr().err
    assert f"found '{levels}', expected NAME, or with levels NAME=30:60 or NAME=no:yes" in said
