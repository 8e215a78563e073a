"""Headers, their units, and several files each with its own ways."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from weakstep.process.model import Process
from weakstep.runlog.model import RunLog
from weakstep.runlog.read import read_log

ReadText = Callable[..., RunLog]
Codes = Callable[[RunLog], list[str]]


def test_headers_and_units(read_text: ReadText, codes: Codes) -> None:
    """Names, aliases, units in brackets or behind the word, units of another size."""
    log = read_text(
        "Run No.,Plasma (s),Cure (h),Cure [°F],bake in h,delay_min,Pressure / mTorr,"
        "vacuum (mbar abs),Room,humidity (%),Mould (which),outcome\n"
        "R1,30,2,158,0.5,2,450,80,21,40,M1,good\n"
    )
    chips = log.chips.iloc[0]
    assert chips["plasma_s"] == 30.0
    assert (chips["cure_h"], chips["cure_c"]) == (2.0, pytest.approx(70.0))
    assert (chips["bake_min"], chips["delay_s"]) == (30.0, 120.0)
    assert chips["pressure_pa"] == pytest.approx(59.995, abs=1e-3)
    assert (chips["vacuum_kpa"], chips["room_c"], chips["rh_pct"]) == (8.0, 21.0, 40.0)
    assert chips["mould_id"] == "M1"
    assert codes(log) == []
    how = {match.parameter: (match.unit_read, match.how) for match in log.columns}
    assert how["delay_s"] == ("min", "unit in the header, converted from min to s")
    assert how["mould_id"] == ("", "words in brackets left out")


def test_unknown_headers_are_asked_about_and_not_taken(read_text: ReadText) -> None:
    """A near miss is offered, never used; a stranger is noted; a second column is left alone."""
    log = read_text("run_id,dellay_s,sticker,delay,wait,delay_s,outcome\nR1,1,red,2,3,4,good\n")
    told = {p.column: (p.code, p.severity) for p in log.problems if p.column}
    assert told == {
        "dellay_s": ("unknown_column", "question"),
        "sticker": ("unknown_column", "note"),
        "delay_s": ("repeated_column", "question"),
    }
    assert log.chips["delay_s"].tolist() == [2.0]
    match = {m.header: m.parameter for m in log.columns}
    assert match["dellay_s"] is None


@pytest.mark.parametrize("header", ["dust (g/m³)", "dust [g/m3]", "dust ( G/m3 )"])
def test_a_unit_of_the_labs_own_is_no_question(
    process: Process, tmp_path: Path, header: str
) -> None:
    """As the description writes it, or the empty sheet prints it; another word is asked about."""
    dust = replace(process.parameter("rh_pct"), name="dust", label="dust", unit="g/m3", aliases=())
    with_dust = replace(process, parameters=(*process.parameters, dust))
    for named, codes in ((header, set()), ("dust (lumps)", {"unknown_unit"})):
        file = tmp_path / "log.csv"
        file.write_text(f"chip_id,{named},outcome\nC1,3,good\nC2,4,good\n", encoding="utf-8")
        log = read_log(file, with_dust)
        assert {problem.code for problem in log.problems if problem.column} == codes
        assert log.chips["dust"].tolist() == [3.0, 4.0]


def test_several_files_each_with_its_own_ways(tmp_path: Path, process: Process) -> None:
    """Columns in another order, another delimiter, another decimal mark; a glob finds them."""
    (tmp_path / "a.csv").write_text("run_id,cure_c,outcome\nR1,70.5,good\n")
    (tmp_path / "b.csv").write_text("Ergebnis;Lauf;oven (°C)\nundicht;R2;71,5\n")
    log = read_log(str(tmp_path / "[ab].csv"), process)
    assert log.chips["cure_c"].tolist() == [70.5, 71.5]
    assert log.chips["mode"].tolist() == ["good", "leak"]
    assert [file.rows for file in log.inputs] == [1, 1]
    assert all(len(file.sha256) == 64 for file in log.inputs)


def test_files_of_one_name_are_told_apart(tmp_path: Path, process: Process) -> None:
    """By their folders."""
    for folder, run in (("x", "R1"), ("y", "R2")):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "log.csv").write_text(f"run_id,delay_s,outcome\n{run},30,good\n")
    log = read_log([tmp_path / "x" / "log.csv", tmp_path / "y"], process)
    assert [Path(file.file).parent.name for file in log.inputs] == ["x", "y"]
