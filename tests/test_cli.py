"""The commands as a user types them: output, exit codes, and how fast help comes."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

import pytest

from weakstep.cli import main

SEMESTER = Path(__file__).parents[1] / "datasets" / "semester" / "logs"
HEAVY = ("pandas", "statsmodels", "sklearn", "plotly", "scipy", "pandera")


def test_help_is_fast_and_loads_no_heavy_library() -> None:
    """`weakstep --help` answers within 0.4 s (best of five) without a heavy import."""
    program = (
        "import sys\n"
        "from weakstep.cli import main\n"
        "try:\n    main(['--help'])\n"
        "finally:\n"
        f"    print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)\n"
    )
    seconds = []
    for _ in range(5):
        start = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-c", program], capture_output=True, text=True, check=True
        )
        seconds.append(time.perf_counter() - start)
        assert done.stderr.strip() == "[]"
        assert "review" in done.stdout
    assert min(seconds) < 0.4


@pytest.mark.parametrize(
    "command", ["demo", "check", "review", "sheet", "compare", "trial", "watch"]
)
def test_each_command_has_help_with_an_example(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every command explains itself and shows one example."""
    with pytest.raises(SystemExit, match="0"):
        main([command, "--help"])
    assert f"Example: weakstep {command}" in capsys.readouterr().out


def test_demo_writes_logs_page_and_verdict(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The newcomer's first command leaves the logs, the page and one sentence."""
    assert main(["demo", str(tmp_path / "first")]) == 0
    printed = capsys.readouterr().out
    findings = json.loads((tmp_path / "first/report/findings.json").read_text(encoding="utf-8"))
    assert findings["verdict"]["sentence"] in printed
    assert str(tmp_path / "first/report/report.html") in printed
    assert len(list((tmp_path / "first/logs").glob("*.csv"))) == 4
    assert main(["demo", str(tmp_path / "first")]) == 0, "a second demo replaces the first"


def test_demo_leaves_a_stranger_folder_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder that holds something else is not written to."""
    (tmp_path / "thesis.txt").write_text("mine", encoding="utf-8")
    assert main(["demo", str(tmp_path)]) == 2
    assert "also holds 'thesis.txt'" in capsys.readouterr().err
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["thesis.txt"]


def test_check_lists_problems_and_says_so_by_exit_code(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The messy demo has problems; each line names file, line and what to do."""
    assert main(["check", str(SEMESTER)]) == 1
    printed = capsys.readouterr().out
    assert ".csv:" in printed
    assert "rows read" in printed


def test_check_of_a_clean_log_exits_0(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A small clean log gives exit code 0."""
    log = tmp_path / "clean.csv"
    log.write_text(
        "chip_id,run_id,started_at,delay_s,plasma_s,outcome\n"
        "c1,r1,2026-03-02,35,40,good\n"
        "c2,r2,2026-03-03,42,38,leak\n",
        encoding="utf-8",
    )
    assert main(["check", str(log)]) == 0
    assert "2 rows read, 0 set aside; 0 problems" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["check", "nowhere.csv"], "nowhere.csv"),
        (["review", "nowhere.csv", "-o", "out"], "nowhere.csv"),
        (["check", "{here}/log.csv", "-p", "no_such.toml"], "no_such.toml"),
        (["review", "{here}/log.csv", "-o", "{here}"], "left alone"),
    ],
)
def test_unusable_input_is_one_sentence_and_exit_code_2(
    arguments: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No traceback: one sentence on the error stream, exit code 2."""
    (tmp_path / "log.csv").write_text("chip_id,outcome\nc1,good\n", encoding="utf-8")
    assert main([argument.format(here=tmp_path) for argument in arguments]) == 2
    errors = capsys.readouterr().err
    assert said in errors
    assert "Traceback" not in errors


def test_sheet_is_read_back_by_check(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The empty log has the columns that `check` knows."""
    sheet = tmp_path / "log.csv"
    assert main(["sheet", "-o", str(sheet)]) == 0
    header = sheet.read_text(encoding="utf-8").splitlines()[0]
    assert "delay_s" in header
    assert main(["check", str(sheet)]) == 2, "a sheet without a row cannot be used yet"
    assert "no row" in capsys.readouterr().err


def test_review_options_reach_the_page(tmp_path: Path) -> None:
    """Title, light page and figure files are made, and the page says the command that did it."""
    orings = Path(__file__).parents[1] / "datasets" / "orings"
    arguments = ["review", str(orings / "orings.csv"), "-p", str(orings / "process.toml")]
    arguments += ["-o", str(tmp_path / "out"), "--permutations", "199", "--title", "Joints, cold"]
    assert main([*arguments, "--static", "--figures", "svg"]) == 0
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "<h1>Joints, cold</h1>" in page
    assert "--title &#39;Joints, cold&#39; --static --figures svg</code>" in page
    assert "<script" not in page
    assert list((tmp_path / "out" / "figures").glob("ranking-*.svg"))


@pytest.mark.parametrize("reader", ["head -1", "true"])
def test_a_reader_who_has_seen_enough_is_no_error(reader: str) -> None:
    """`weakstep check ... | head -1`: no complaint when the pipe closes early, or at once."""
    words = f"{sys.executable} -m weakstep check {SEMESTER} | {reader}"
    done = subprocess.run(["bash", "-c", words], capture_output=True, text=True, check=True)
    assert done.stderr == ""
    assert done.stdout.count("\n") == (reader != "true")
