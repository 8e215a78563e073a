"""The list of changes: what is read, and one clear sentence for what cannot be."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from weakstep.errors import LogError
from weakstep.process.load import load_process
from weakstep.runlog.read import read_log
from weakstep.semesters.listing import changes_beside, read_changes
from weakstep.semesters.telling import tell_semesters

PROCESS = load_process()


def written(folder: Path, text: str, name: str = "changes.csv") -> Path:
    """Write a list and return its path."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_every_column_of_a_csv_list(tmp_path: Path) -> None:
    """Columns in any order and spelling, a step or a parameter by label, in order of time."""
    text = (
        "What was changed;When;Step or parameter;Failure family;window;From review;notes\n"
        "new balance.;20.05.2026;mixing;;;;\n"
        "delay limited;03.05.2026;delay from glow to contact;bond;20:45;April;it was a fight\n"
    )
    delay, balance = read_changes(written(tmp_path, text), PROCESS)
    assert (str(delay.date), delay.what, delay.column) == ("2026-05-03", "delay limited", "delay_s")
    assert (delay.family, delay.window, delay.from_review) == ("bond", (20.0, 45.0), "April")
    assert delay.place == "changes.csv:3"
    assert (balance.column, balance.step, balance.what) == (None, "mixing", "new balance")
    assert balance.window is balance.from_review is balance.family is None


def test_a_toml_list(tmp_path: Path) -> None:
    """The same from TOML, dates as TOML writes them or as text."""
    text = (
        "[[change]]\ndate = 2026-05-03\nchange = 'delay limited'\nparameter = 'delay_s'\n"
        "window = ':45'\n\n[[change]]\ndate = '2 March 2026'\nchange = 'begun'\n"
    )
    begun, delay = read_changes(written(tmp_path, text, "changes.toml"), PROCESS)
    assert begun.date == np.datetime64("2026-03-02")
    assert (delay.date, delay.window) == (np.datetime64("2026-05-03"), (None, 45.0))
    assert delay.place == "changes.toml:1"
    assert begun.place == "changes.toml:7"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("date,change\n2026-05-03,\n", r"changes.csv:2: column 'change': found nothing"),
        ("day,what\nsoon,x\n", r"changes.csv:2: column 'day': found 'soon', expected a day"),
        ("date,change\n2026-02-30,x\n", r"changes.csv:2: column 'date': found '2026-02-30'"),
        ("date,change\n03/05/2026,x\n", r"found '03/05/2026', which may be two different days"),
        ("date\n2026-05-03\n", r"changes.csv:1: the list of changes has no column 'change'"),
        ("change,parameter\nx,delay_s\n", r"has no column 'date'; add it"),
        ("date,change,day\n2026-05-03,x,3\n", r"columns 'date' and 'day' mean the same \(date\)"),
        ("date,change,colour\n2026-05-03,x,red\n", r"changes.csv:1: column 'colour' is not known"),
        (
            "date,change,parameter\n2026-05-03,x,delya_s\n",
            r"changes.csv:2: column 'parameter': found 'delya_s'.*did you mean delay_s\?",
        ),
        ("date,change,family\n2026-05-03,x,glue\n", r"column 'family': found 'glue', expected"),
        (
            "date,change,parameter,window\n2026-05-03,x,delay_s,60:20\n",
            r"column 'window': found '60:20', expected LOW:HIGH",
        ),
        ("date,change,window\n2026-05-03,x,:45\n", r"name the parameter that it belongs to"),
        ("", r"changes.csv: the file is empty"),
    ],
)
def test_a_list_that_cannot_be_used_is_one_sentence(tmp_path: Path, text: str, said: str) -> None:
    """File, line, column, what was found, what to write."""
    with pytest.raises(LogError, match=said):
        read_changes(written(tmp_path, text), PROCESS)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[[change]\n", r"changes.toml:1: character \d+: this is no TOML"),
        ("title = 'x'\n", r"changes.toml: found 'title', expected only tables"),
        ("change = 'x'\n", r"expected each change as a table"),
        ("change = [{date = 2026-05-03, change = 'x'}]\n", r"expected each change as a table"),
        ("[[change]]\nchange = 'x'\n", r"changes.toml:1: the list of changes has no column 'date'"),
        (
            "\n[[change]]\nchange = 'x'\ndate = 'soon'\n",
            r"changes.toml:4: column 'date': found 'soon'",
        ),
        ("[[change]]\nchange = 3\ndate = 2026-05-03\n", r"changes.toml:2: 'change' is 3, expected"),
        (
            "[[change]]\ndate = 2026-05-03\nchange = 'x'\nhue = 'y'\n",
            r"changes.toml:4: column 'hue'",
        ),
    ],
)
def test_toml_that_cannot_be_used_is_one_sentence(tmp_path: Path, text: str, said: str) -> None:
    """The same for TOML."""
    with pytest.raises(LogError, match=said):
        read_changes(written(tmp_path, text, "changes.toml"), PROCESS)


def test_a_file_of_another_kind_is_refused(tmp_path: Path) -> None:
    """A workbook is no list; a missing file says so."""
    with pytest.raises(LogError, match=r"is a \.csv or \.toml file"):
        read_changes(written(tmp_path, "x", "changes.xlsx"), PROCESS)
    with pytest.raises(LogError, match="cannot be read"):
        read_changes(tmp_path / "none.csv", PROCESS)


def test_the_list_beside_the_log(tmp_path: Path) -> None:
    """Found in the log's folder; two lists are refused; the log itself is never taken for one."""
    written(tmp_path, "run,date,outcome\nR1,2026-05-03,good\n", "log.csv")
    assert changes_beside(tmp_path) is None
    listed = written(tmp_path, "date,change\n2026-05-03,x\n")
    assert changes_beside(tmp_path) == listed
    assert changes_beside([tmp_path / "log.csv"]) == listed
    assert changes_beside(str(tmp_path / "*.csv")) == listed
    assert changes_beside(listed) is None
    assert changes_beside([listed.parent / "log.csv", tmp_path]) == listed
    written(tmp_path, "", "changes.toml")
    with pytest.raises(LogError, match="2 lists of changes beside the log"):
        changes_beside(tmp_path)


def test_a_folder_of_folders_is_one_log(tmp_path: Path) -> None:
    """Semesters in folders, the list beside them: found from the folder that holds all."""
    for name, day in (("2025-autumn", "2025-10-06"), ("2026-spring", "2026-03-02")):
        (tmp_path / name).mkdir()
        written(tmp_path / name, f"run,date,outcome\n{name},{day},good\n", "log.csv")
    listed = written(tmp_path, "date,change\n2026-02-01,x\n")
    log = read_log(tmp_path, PROCESS)
    assert log.runs.run_id.tolist() == ["2025-autumn", "2026-spring"]
    assert tell_semesters(log).names == ("2025-autumn", "2026-spring")
    assert changes_beside(tmp_path) == listed
