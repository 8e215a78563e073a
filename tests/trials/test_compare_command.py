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
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    described = readme.partition("### Comparisons")[2]
    keys = {*found, *found["changes"][0], *found["spread"], *(found["moved"] or [{}])[0]}
    assert {key for key in keys if f'"{key}"' not in described} == set()


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


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--since-run", "Q1"], "No run is called 'Q1'; the log's runs go from R"),
        (["--since", "2025-01-01"], "is on or after 2025-01-01: they go from 2026-03-02 to"),
        (["--since", "2027-01-01"], "is before 2027-01-01: they go from 2026-03-02 to 2026-06-12"),
        (["--since-run", "R116"], "Only 1 tested run since run R116"),
        (["--since", "2026-05-04", "--column", "delya"], "The log has no numbers for 'delya'"),
        (["--since", "2026-05-04", "--window", ":60"], "--window needs --column"),
        (["--since", "2026-05-04", "--family", "glue"], "'glue' is no failure family; there are"),
        (["--against", str(SEMESTER / "bench.csv")], "bench.csv: is part of both logs"),
    ],
)
def test_what_cannot_be_compared_is_one_sentence(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2, what was wrong and what there is."""
    assert main(["compare", str(SEMESTER), *words]) == 2
    found = capsys.readouterr()
    assert said in found.err
    assert found.out == ""


def test_one_family_and_how_long_good_results_must_last(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The last week: none of eleven failed, which still allows a third, and how many it takes."""
    words = ["compare", str(SEMESTER), "--since", "2026-06-10", "--family", "bond"]
    assert main(words) == 0
    printed = capsys.readouterr().out
    assert "Port failures" not in printed
    assert "0 of 11 still allows 3" in printed
    assert "of before takes about 2" in printed
    assert printed.count("Intervals are 95 %") == 1
