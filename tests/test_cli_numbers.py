"""Numbers on the command line: what is none, or none that will do, is refused in one sentence."""

from __future__ import annotations

import pytest

from weakstep.cli import main


@pytest.mark.parametrize(
    ("command", "option", "found", "expected"),
    [
        ("trial", "--power", "1", "a number between 0 and 1"),
        ("trial", "--alpha", "nan", "a number from 0.005 to 0.5"),
        ("trial", "--difference", "-2", "a number above 0"),
        ("trial", "--difference", "inf", "a number above 0"),
        ("trial", "--centre", "-1", "a whole number of at least 0"),
        ("trial", "--chips", "0", "a whole number of at least 1"),
        ("trial", "--combinations", "2.5", "a whole number of at least 1"),
        ("trial", "--runs-per-day", "few", "a whole number of at least 1"),
        ("review", "--permutations", "98", "a whole number of at least 99"),
    ],
)
def test_what_will_not_do_is_refused(
    command: str, option: str, found: str, expected: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The sentence names the option, what was found and what was expected."""
    with pytest.raises(SystemExit) as stopped:
        main([command, "log.csv", "-o", "out", f"{option}={found}"])
    assert stopped.value.code == 2
    told = capsys.readouterr().err
    assert f"argument {option}: found '{found}', expected {expected}\n" in told


@pytest.mark.parametrize("found", ["0", "-1", "nan", "inf", "often"])
def test_a_pause_that_cannot_be_slept_is_refused(
    found: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Looking without a pause takes a whole core; what is no time cannot be waited for."""
    with pytest.raises(SystemExit) as stopped:
        main(["watch", "log.csv", "--baseline", "baseline.json", f"--every={found}"])
    assert stopped.value.code == 2
    told = capsys.readouterr().err
    assert f"argument --every: found '{found}', expected a number from 0.1 to 86400\n" in told
