"""`weakstep watch` as a user types it."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from argparse import Namespace
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from weakstep.cli import main
from weakstep.cli.watch import _state_once_still
from weakstep.reviewing import review
from weakstep.runlog.read import read_log
from weakstep.watching.baseline import baseline_json
from weakstep.watching.freezing import freeze
from weakstep.watching.history import FILE

SOURCE = str(Path(__file__).parents[2] / "src")
HEAD = "run_id,chip_id,started_at,delay_s,plasma_s,room_c,outcome\n"


def rows(first: int, runs: int, delay: float, seed: int) -> str:
    """Return runs of two chips, one a day, whose delay lies around *delay*."""
    rng = np.random.default_rng(seed)
    lines = []
    for run in range(first, first + runs):
        day = np.datetime64("2026-01-05") + run
        values = f"{delay * np.exp(rng.normal(0, 0.2)):.0f},{rng.normal(35, 2):.1f}"
        room = rng.normal(22, 1)
        for chip in (1, 2):
            outcome = "leak" if rng.random() < 0.1 else "good"
            lines.append(f"R{run:03d},R{run:03d}-{chip},{day},{values},{room:.1f},{outcome}\n")
    return "".join(lines)


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


Capture = pytest.CaptureFixture[str]
Followed = tuple[Path, Callable[[], str], Callable[[], int]]


def grow(log: Path, text: str) -> None:
    """Append rows to a log."""
    with log.open("a", encoding="utf-8") as stream:
        stream.write(text)


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


def signals(printed: str) -> list[str]:
    """Return the lines that tell a signal."""
    return [line for line in printed.splitlines() if line.startswith("signal ")]


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


def wait_for(find: Callable[[], bool], seconds: float = 60.0) -> bool:
    """Return whether something comes true in time."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if find():
            return True
        time.sleep(0.1)
    return False


@pytest.fixture
def followed(bench: tuple[Path, list[str]], tmp_path: Path) -> Iterator[Followed]:
    """Return a log that is followed: it, what is printed, and how to stop with an exit code."""
    log, words = bench
    out = tmp_path / "out.txt"

    def stop() -> int:
        process.send_signal(signal.SIGINT)
        return process.wait(timeout=30)

    with out.open("w", encoding="utf-8") as stream:
        process = subprocess.Popen(
            [sys.executable, "-m", "weakstep", *words, "--follow", "--every", "0.2"],
            stdout=stream,
            stderr=subprocess.STDOUT,
            env={**os.environ, "PYTHONPATH": SOURCE},
            # A shell that runs the tests in the background has its children ignore Ctrl-C.
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        )
        try:
            assert wait_for(lambda: "Nothing signals" in out.read_text(encoding="utf-8"))
            yield log, lambda: out.read_text(encoding="utf-8"), stop
        finally:
            process.kill()
            process.wait()


def test_follow_tells_what_comes(followed: Followed) -> None:
    """`--follow` re-reads a file that grows and tells each signal once; Ctrl-C ends it with 1."""
    log, printed, stop = followed
    grow(log, rows(60, 20, 80.0, 2))
    assert wait_for(lambda: "is higher" in printed())
    time.sleep(0.5)
    assert stop() == 1
    lines = signals(printed())
    assert len(lines) == len(set(lines))


def test_follow_waits_for_a_log_that_is_away(followed: Followed) -> None:
    """A folder that is replaced ends nothing; it is told once, and what came is read."""
    log, printed, stop = followed
    aside = log.parent.with_name("aside")
    log.parent.rename(aside)
    assert wait_for(lambda: "weakstep: the log is away; waiting for it." in printed())
    time.sleep(1.0)
    grow(aside / log.name, rows(60, 20, 80.0, 2))
    aside.rename(log.parent)
    assert wait_for(lambda: "is higher" in printed())
    assert stop() == 1
    assert printed().count("is away") == 1


def test_a_file_is_read_once_it_lies_still(tmp_path: Path) -> None:
    """Written bit by bit for a second, it is told when all is there: no half row is read."""
    log = tmp_path / "log.csv"
    grow(log, HEAD)

    def write() -> None:
        for _ in range(50):
            grow(log, "R060,R0")
            time.sleep(0.02)

    writer = threading.Thread(target=write)
    writer.start()
    told = _state_once_still(Namespace(log=[str(log)], every=0.5))
    writer.join()
    assert told[0][1] == len(HEAD) + 50 * len("R060,R0")


def test_follow_mends_itself(followed: Followed) -> None:
    """While the history is no file of ours it says so once; then it goes on."""
    log, printed, stop = followed
    history = log.with_name(FILE)
    history.write_bytes(b"x")
    grow(log, rows(60, 20, 80.0, 2))
    assert wait_for(lambda: "it is no history" in printed())
    time.sleep(1.0)
    history.unlink()
    assert wait_for(lambda: "is higher" in printed())
    assert stop() == 1
    assert printed().count("it is no history") == 1
