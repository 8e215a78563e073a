"""`weakstep compare` as a user types it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from weakstep.cli import main

SEMESTER = Path(__file__).parents[2] / "datasets" / "semester" / "logs"


def test_since_a_date(capsys: pytest.CaptureFixture[str]) -> None:
    """The demo semester in two halves: no change, the oven's step told, no claim of a cause."""
    assert main(["compare", str(SEMESTER), "--since", "2026-04-20"]) == 0
    printed = capsys.readouterr().out
    assert printed.startswith("No change of failures can be shown yet: 17 % before 2026-04-20")
    assert "cure temperature (" in printed
    assert "Before and after are not a trial" in printed


def test_json_for_programs(capsys: pytest.CaptureFixture[str]) -> None:
    """The same as JSON, with a named parameter and its window."""
    words = ["compare", str(SEMESTER / "bench.csv"), "--since-run", "R060", "--format", "json"]
    assert main([*words, "--column", "delay_s", "--window", ":60"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["schema"] == "weakstep.comparison/1"
    assert found["column"] == "delay_s"
    assert 0.0 <= found["spread"]["inside"][1] <= 1.0


def test_one_log_against_another(capsys: pytest.CaptureFixture[str]) -> None:
    """`--against` names the earlier log."""
    words = ["compare", str(SEMESTER / "bench.csv"), "--against", str(SEMESTER / "group_b.csv")]
    assert main(words) == 0
    assert "in the earlier log" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--since", "4 May"], "expected a date such as 2026-05-04"),
        (["--since", "2026-05-04T10:00+02:00"], "leave out the time zone"),
        (["--since-run", "R060", "--window", "60"], "expected LOW:HIGH"),
        (["--since-run", "R060", "--window", "60:20"], "expected LOW:HIGH"),
    ],
)
def test_words_that_say_nothing_are_refused(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A date or window that cannot be read is one sentence."""
    with pytest.raises(SystemExit, match="2"):
        main(["compare", str(SEMESTER), *words])
    assert said in capsys.readouterr().err


def test_a_run_that_is_not_there(capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2 and one sentence."""
    assert main(["compare", str(SEMESTER), "--since-run", "Q1"]) == 2
    assert "No run is called 'Q1'" in capsys.readouterr().err
