"""A file that fixes for good which header of a log is which column."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from weakstep.errors import LogError, OutputError
from weakstep.process.model import Process
from weakstep.runlog.columns import HeaderBook, HeaderMatch
from weakstep.runlog.model import RunLog
from weakstep.runlog.units import same_kind, unit_named
from weakstep.runlog.writing import write_whole

LEFT_ALONE = "left alone, as the mapping file says"
_HEAD = """\
# Which header of the log is which column of the process, and in which unit.
# Change a line and give this file with --mapping; "" leaves a column alone without asking.

[headers]
"""


@dataclass(frozen=True)
class Choice:
    """What a mapping file says of one header: no column when it is to be left alone."""

    column: str | None
    unit: str


def load_mapping(path: str | Path, process: Process) -> Mapping[str, HeaderMatch]:
    """
    Read a mapping file: headers and what each is taken for.

    Raises
    ------
    LogError
        The file cannot be read, or names a column or a unit that does not exist.
    """
    name = Path(path).name
    try:
        entries = tomllib.loads(Path(path).read_text(encoding="utf-8")).get("headers")
    except OSError as error:
        msg = f"{path}: the mapping file cannot be read ({error.strerror})."
        raise LogError(msg) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        msg = f"{name}: the mapping file is not valid TOML: {error}."
        raise LogError(msg) from error
    if not isinstance(entries, dict):
        msg = f"{name}: the mapping file has no table [headers]; see 'check --save-mapping'."
        raise LogError(msg)
    return {
        " ".join(header.split()): _match(name, header, entry, process)
        for header, entry in entries.items()
    }


def _match(name: str, header: str, entry: Any, process: Process) -> HeaderMatch:
    choice = _choice(name, header, entry)
    if choice.column is None:
        return HeaderMatch(None, "", LEFT_ALONE)
    if not process.has(choice.column):
        msg = f"{name}: {header!r} is given to {choice.column!r}, which the process does not know."
        raise LogError(msg)
    parameter = process.parameter(choice.column)
    unit = unit_named(choice.unit) or choice.unit
    if unit and not same_kind(unit, parameter.unit):
        msg = f"{name}: {header!r} cannot be in {choice.unit!r}; {choice.column} is in "
        msg += f"{parameter.unit}." if parameter.unit else "no unit."
        raise LogError(msg)
    return HeaderMatch(parameter, unit or parameter.unit, "mapping file")


def _choice(name: str, header: str, entry: Any) -> Choice:
    if isinstance(entry, str):
        return Choice(entry or None, "")
    if isinstance(entry, dict) and set(entry) <= {"column", "unit"} and "column" in entry:
        column, unit = entry["column"], entry.get("unit", "")
        if isinstance(column, str) and isinstance(unit, str):
            return Choice(column or None, unit)
    msg = (
        f"{name}: {header!r} must be a column's name in quotes, or "
        f'{{ column = "...", unit = "..." }}; found {entry!r}.'
    )
    raise LogError(msg)


def mapping_text(log: RunLog) -> str:
    """Return the mapping that *log* was read with, as the text of a mapping file."""
    book = HeaderBook(log.process)
    lines: dict[str, str] = {}
    for match in log.columns:
        header = _quoted(match.header)
        if not match.header or header in lines:
            continue
        if match.parameter is not None:
            parameter = log.process.parameter(match.parameter)
            said = f'"{match.parameter}"'
            if match.unit_read and match.unit_read != parameter.unit:
                said = f'{{ column = "{match.parameter}", unit = "{match.unit_read}" }}'
            lines[header] = f"{header} = {said}"
        elif match.how == LEFT_ALONE:
            lines[header] = f'{header} = ""'
        else:
            lines[header] = (
                f"# {header} = {_quoted(book.nearest(match.header) or '')}  # not placed"
            )
    return _HEAD + "\n".join(lines.values()) + "\n"


def write_mapping(log: RunLog, path: str | Path) -> Path:
    """
    Write the mapping that *log* was read with; headers that were not placed stand as comments.

    Raises
    ------
    OutputError
        The file cannot be written.
    """
    target = Path(path)
    try:
        write_whole(target, mapping_text(log).encode())
    except OSError as error:
        msg = f"{target}: the mapping cannot be written ({error.strerror})."
        raise OutputError(msg) from error
    return target


def _quoted(text: str) -> str:
    """Return *text* as a TOML string; JSON escapes all that TOML wants but one character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
