"""`weakstep watch` as a user types it."""

from __future__ import annotations

import sqlite3
import sys
from contextlib import closing
from pathlib import Path

import pytest

from weakstep.cli import main
from weakstep.reviewing import review
from weakstep.runlog.read import read_log
from weakstep.watching.baseline import baseline_json
from weakstep.watching.freezing import freeze
from weakstep.watching.history import FILE

sys.path.insert(0, str(Path(__file__).parent))
from watched_log import HEAD, grow, rows, signals

Capture = pytest.CaptureFixture[str]


def test_quiet_then_signal_then_acknowledged(
    bench: tuple[Path, list[str]], capsys: Capture
) -> None:
    """Exit 0 while stable, 1 with a line per signal, 0 again once somebody has seen to it."""
    log, words = bench
    assert main(words) == 0
    assert "0 new runs against a baseline of 60 runs" in capsys.readouterr().out
    grow(log, rows(60, 20, 80.0, 2))
    assert main(words) == 1
    printed = capsys.readouterr().out
    assert "the delay from glow to contact is higher" in printed
    assert "Check first: Time one run" in printed
    assert main(words) == 1, "looking again does not make it go away"
    numbers = [line.split()[1].rstrip(",") for line in printed.splitlines() if line[:6] == "signal"]
    capsys.readouterr()
    for number in numbers[:-1]:
        assert main([*words, "--acknowledge", number, "--by", "OP1"]) == 1
        assert f"Signal {number} is acknowledged." in capsys.readouterr().out
    assert main([*words, "--acknowledge", numbers[-1], "--by", "OP1", "--note", "timer"]) == 0
    assert "No new signal: all were acknowledged." in capsys.readouterr().out
    assert (log.parent / "weakstep-history.sqlite").is_file()


def test_a_lasting_shift_is_two_lines(bench: tuple[Path, list[str]], capsys: Capture) -> None:
    """
    80 shifted runs: the first signal and the last word that it lasts.

    Acknowledging the last one covers the first; while the shift lasts, it comes up again.
    """
    log, words = bench
    grow(log, rows(60, 80, 80.0, 2))
    assert main(words) == 1
    lines = [line for line in signals(capsys.readouterr().out) if "delay" in line]
    assert len(lines) == 2
    assert "is higher" in lines[0]
    assert "is still higher" in lines[1]
    numbers = [line.split()[1].rstrip(",") for line in lines]
    for number in [numbers[1], *others(words, capsys)]:
        main([*words, "--acknowledge", number, "--by", "OP1"])
    capsys.readouterr()
    assert main(words) == 0
    assert "No new signal: all were acknowledged." in capsys.readouterr().out
    grow(log, rows(140, 25, 80.0, 3))
    assert main(words) == 1
    assert "is still higher" in capsys.readouterr().out


def others(words: list[str], capsys: Capture) -> list[str]:
    """Return the numbers of open signals that are not about the delay."""
    main(words)
    found = [line for line in signals(capsys.readouterr().out) if "delay" not in line]
    return [line.split()[1].rstrip(",") for line in found]


def test_a_reset_before_the_shift_is_caught_counts(
    bench: tuple[Path, list[str]], capsys: Capture
) -> None:
    """Five shifted runs signal; with every chart reset after the second of them, they do not."""
    log, words = bench
    grow(log, rows(60, 5, 55.0, 2))
    assert main([*words, "--history", str(log.with_name("other.sqlite"))]) == 1
    assert main([*words, "--reset", "all", "--after", "R061", "--by", "OP2"]) == 0
    printed = capsys.readouterr().out
    assert "Chart 'all' starts anew after run R061." in printed
    assert "5 new runs" in printed


def test_what_is_refused_in_part_is_not_kept(
    bench: tuple[Path, list[str]], capsys: Capture
) -> None:
    """An acknowledgement beside a reset that cannot be: neither is kept."""
    log, words = bench
    grow(log, rows(60, 20, 80.0, 2))
    assert main(words) == 1
    before = signals(capsys.readouterr().out)
    for chart, run in (("all", "R999"), ("colour", "R059")):
        assert main([*words, "--acknowledge", "1", "--reset", chart, "--after", run]) == 2
    capsys.readouterr()
    assert main(words) == 1
    assert signals(capsys.readouterr().out) == before


def test_a_log_that_is_not_there(bench: tuple[Path, list[str]], capsys: Capture) -> None:
    """One sentence, before anything is said about a history beside it."""
    _, words = bench
    words[1] = "away/log.csv"
    assert main([*words, "--acknowledge", "1"]) == 2
    assert "away/log.csv: there is no such file or folder" in capsys.readouterr().err


def test_who_may_only_read_may_look(
    bench: tuple[Path, list[str]], capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a new signal nothing is written: a look passes while another program may write."""
    log, words = bench
    grow(log, rows(60, 20, 80.0, 2))
    assert main(words) == 1
    monkeypatch.setattr("weakstep.watching.history._WAIT", 0.1)
    with closing(sqlite3.connect(log.with_name(FILE), isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert main(words) == 1
        assert main([*words, "--acknowledge", "1"]) == 2
    assert "another program has held it" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (
            "R060,R060-1,2026-03-06,long,35.0,22.0,good",
            "1 problem in the new rows, which 'weakstep",
        ),
        (
            "R060,R060-1,2026-03-06,long,35.0,22.0,good",
            "log.csv:122: column 'delay_s': found 'long'",
        ),
        ("R060,R060-1,2026-01-06,40,35.0,22.0,good", "1 new run from before the end of the base"),
        ("R003,R003-9,2026-03-06,40,35.0,22.0,good", "names of 1 run in it: R003. Give new runs"),
        (
            "R060,R060-1,2026-03-06,,35.0,22.0,good",
            "Not in the new runs: delay from glow to contact",
        ),
    ],
    ids=["problems", "the first of them", "early", "name used again", "missing"],
)
def test_what_is_odd_about_new_rows_is_told(
    bench: tuple[Path, list[str]], capsys: Capture, line: str, said: str
) -> None:
    """One line each, beside the signals; the exit code is for signals."""
    log, words = bench
    grow(log, f"{line}\n")
    assert main(words) == 0
    assert said in capsys.readouterr().out


def test_a_baseline_too_short_for_any_parameter(tmp_path: Path, capsys: Capture) -> None:
    """It is said, with the reasons, beside that nothing signals."""
    log = tmp_path / "log.csv"
    grow(log, HEAD + rows(0, 6, 40.0, 1))
    baseline = tmp_path / "baseline.json"
    baseline.write_text(baseline_json(freeze(review(read_log(log), permutations=99))))
    assert main(["watch", str(log), "--baseline", str(baseline)]) == 0
    printed = capsys.readouterr().out
    assert "No parameter is watched: " in printed
    assert "delay from glow to contact (only 6 values are logged; at least 25 are" in printed


def test_names_used_again_by_another_file(bench: tuple[Path, list[str]], capsys: Capture) -> None:
    """Reading then names the file beside the run: the baseline's runs are known nevertheless."""
    log, words = bench
    again = rows(60, 20, 40.0, 2).replace("R06", "R01").replace("R07", "R02")
    log.with_name("summer.csv").write_text(HEAD + again, encoding="utf-8")
    words[1] = str(log.parent)
    main(words)
    printed = capsys.readouterr().out
    assert printed.startswith("20 new runs against a baseline of 60 runs")
    assert "before the end" not in printed


def test_the_history_of_a_pattern_lies_where_the_pattern_begins(
    bench: tuple[Path, list[str]], capsys: Capture
) -> None:
    """'lab/**/*.csv' has no folder of its own: the last one that is there keeps the history."""
    log, words = bench
    grow(log, rows(60, 20, 80.0, 2))
    words[1] = str(log.parent.parent / "**" / "*.csv")
    assert main(words) == 1
    assert "is higher" in capsys.readouterr().out
    assert log.parent.parent.joinpath(FILE).is_file()


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--acknowledge", "7"], "no signal has the number 7"),
        (["--reset", "colour", "--after", "R059"], "No chart is called 'colour'"),
        (["--reset", "all"], "--reset needs --after RUN"),
        (["--after", "R050"], "--after needs --reset CHART"),
        (["--reset", "all", "--after", "R999"], "No run of the log is called 'R999'"),
        (["--note", "timer"], "they need --acknowledge N or --reset CHART"),
        (["--by", "OP1"], "they need --acknowledge N or --reset CHART"),
    ],
)
def test_what_cannot_be_noted_is_refused(
    bench: tuple[Path, list[str]], capsys: Capture, more: list[str], said: str
) -> None:
    """One sentence and exit code 2."""
    assert main([*bench[1], *more]) == 2
    assert said in capsys.readouterr().err


def test_a_change_from_before_a_reset_stays_open(
    bench: tuple[Path, list[str]], capsys: Capture
) -> None:
    """What lasts after the reset does not hide what nobody has acknowledged before it."""
    log, words = bench
    grow(log, rows(60, 90, 80.0, 2))
    main(words)
    before = [line for line in signals(capsys.readouterr().out) if "still higher" in line]
    assert len(before) == 1
    grow(log, rows(150, 60, 80.0, 5))
    main([*words, "--reset", "delay_s", "--after", "R149", "--by", "OP1"])
    printed = signals(capsys.readouterr().out)
    assert before[0] in printed
    anew = [line for line in printed if "since about run R1" in line and "the delay" in line]
    assert anew, "told again with a beginning after the reset"
