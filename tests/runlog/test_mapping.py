"""A mapping file fixes what each header is; asked headers stay asked until somebody answers."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from weakstep.errors import LogError, OutputError
from weakstep.process.model import Process
from weakstep.runlog.mapping import load_mapping, write_mapping
from weakstep.runlog.model import RunLog
from weakstep.runlog.read import read_log

TEXT = 'run,dellay_s,pump (min),sticker,"say ""hi"" \\ now",outcome\nR1,30,1.5,red,x,ok\n'


def test_a_saved_mapping_reads_the_same_and_can_be_answered(
    tmp_path: Path, process: Process
) -> None:
    """What was placed stays; a line that was commented out places the column once it is freed."""
    log_file, saved = tmp_path / "log.csv", tmp_path / "mapping.toml"
    log_file.write_text(TEXT, encoding="utf-8")
    first = read_log(log_file, process)
    write_mapping(first, saved)
    again = read_log(log_file, process, mapping=load_mapping(saved, process))
    placed = [(m.header, m.parameter) for m in first.columns]
    assert [(m.header, m.parameter) for m in again.columns] == placed
    assert "dellay_s" in [p.column for p in again.problems], "what was asked is asked again"
    text = saved.read_text(encoding="utf-8")
    assert '# "dellay_s" = "delay_s"  # not placed' in text
    answered = text.replace('# "dellay_s"', '"dellay_s"').replace(
        '# "sticker" = ""', '"sticker" = ""'
    )
    answered += '"pump (min)" = { column = "pumpdown_s", unit = "min" }\n'
    saved.write_text(answered, encoding="utf-8")
    third = read_log(log_file, process, mapping=load_mapping(saved, process))
    assert third.chips["delay_s"].tolist() == [30.0]
    assert third.chips["pumpdown_s"].tolist() == [90.0]
    assert not {"dellay_s", "sticker"} & {p.column for p in third.problems}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("headers = 3", r"has no table \[headers\]"),
        ("[headers", "is not valid TOML"),
        ('[headers]\nx = "no_such"', "'x' is given to 'no_such', which the process does not know"),
        (
            '[headers]\nx = { column = "delay_s", unit = "kPa" }',
            "cannot be in 'kPa'; delay_s is in s",
        ),
        ("[headers]\nx = 4", "must be a column's name in quotes"),
    ],
)
def test_a_wrong_mapping_is_one_sentence(
    text: str, said: str, tmp_path: Path, process: Process
) -> None:
    """With the file and the header in it."""
    (tmp_path / "m.toml").write_text(text, encoding="utf-8")
    with pytest.raises(LogError, match=f"m.toml: .*{said}"):
        load_mapping(tmp_path / "m.toml", process)


def test_places_that_cannot_be_used(
    tmp_path: Path, process: Process, read_text: Callable[..., RunLog]
) -> None:
    """Reading from nowhere, writing to a folder."""
    with pytest.raises(LogError, match="the mapping file cannot be read"):
        load_mapping(tmp_path / "none.toml", process)
    with pytest.raises(OutputError, match="the mapping cannot be written"):
        write_mapping(read_text(TEXT), tmp_path)
