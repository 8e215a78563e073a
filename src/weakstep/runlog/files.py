"""Paths, folders and globs -> the text of each log file."""

from __future__ import annotations

import glob
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from weakstep.errors import LogError
from weakstep.runlog.codepages import code_page

SUFFIXES = (".csv", ".tsv", ".xlsx", ".xlsm", ".xls", ".ods")
CHANGES = "changes.csv"  # what the lab changed and when: kept beside the log, no part of it
_LOCKS = ("~$", ".~lock")  # left beside a workbook that somebody has open
_LARGEST = 1024**3  # bytes
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0e-\x1f]")  # no log holds them, binary files do
_CONTROL_BYTES = bytes(set(range(32)) - {9, 10, 12, 13})


@dataclass(frozen=True)
class TextFile:
    """A file as text: `encoding` is how its bytes were understood."""

    name: str
    text: str
    encoding: str


def find_files(paths: str | Path | Sequence[str | Path]) -> list[Path]:
    """
    Return the log files that *paths* (files, folders, globs) stand for, each once, in order.

    A folder without a log stands for its folders, one semester each. A `changes.csv` lists what was
    changed; it is a log only when named alone.

    Raises
    ------
    LogError
        Nothing is there.
    """
    given = [paths] if isinstance(paths, str | Path) else list(paths)
    if not given:
        msg = "No log was given: name a CSV file, a folder of them or a pattern such as logs/*.csv."
        raise LogError(msg)
    found: dict[Path, Path] = {}
    for path in given:
        for file in _files_of(Path(path)):
            found.setdefault(file.resolve(), file)
    files = list(found.values())
    return [file for file in files if file.name != CHANGES] or files


def _files_of(path: Path) -> list[Path]:
    try:
        if path.is_dir():
            files = _logs_in(path) or [
                file
                for folder in sorted(path.iterdir())
                if folder.is_dir()
                for file in _logs_in(folder)
            ]
            if not files:
                msg = f"{path}: the folder holds no log ({', '.join(SUFFIXES)})."
                raise LogError(msg)
            return files
        if path.exists():
            return [path]
    except OSError as error:
        msg = f"{path}: the path cannot be used ({error.strerror})."
        raise LogError(msg) from error
    matches = sorted(Path(name) for name in glob.glob(str(path), recursive=True))
    files = [match for match in matches if match.is_file()]
    if not files:
        msg = f"{path}: there is no such file or folder, and no file matches it as a pattern."
        raise LogError(msg)
    return files


def _logs_in(folder: Path) -> list[Path]:
    """Return the logs that lie in a folder itself; a list of changes is none."""
    return sorted(
        file
        for file in folder.iterdir()
        if file.suffix.lower() in SUFFIXES
        and not file.name.startswith(_LOCKS)
        and file.name != CHANGES
    )


def names_of(paths: Sequence[Path]) -> list[str]:
    """Return the names of the files, with their folders where two names are the same."""
    plain = Counter(path.name for path in paths)
    return [path.name if plain[path.name] == 1 else path.as_posix() for path in paths]


def read_raw(path: Path, name: str) -> bytes:
    """
    Read the bytes of a file, called *name* in messages.

    Raises
    ------
    LogError
        The file cannot be opened, or is too large to be a log.
    """
    try:
        if path.stat().st_size > _LARGEST:
            msg = f"{name}: the file is larger than {_LARGEST // 1024**3} GB. Give it in parts."
            raise LogError(msg)
        return path.read_bytes()
    except OSError as error:
        msg = f"{name}: the file cannot be read ({error.strerror})."
        raise LogError(msg) from error


def decoded(raw: bytes, name: str) -> TextFile:
    """
    Understand bytes as text: a byte order mark decides, then strict UTF-8, then the code page.

    Raises
    ------
    LogError
        They are no text.
    """
    candidates = ["utf-8-sig"]
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        candidates = ["utf-16"]
    elif b"\0" in raw[:400]:
        even, odd = raw[:400:2].count(0), raw[1:400:2].count(0)
        candidates = ["utf-16-le"] if odd > even else ["utf-16-be"]
    is_plain = len(raw.translate(None, _CONTROL_BYTES)) == len(raw)
    for encoding in candidates:
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        if is_plain or (encoding.startswith("utf-16") and _CONTROL.search(text) is None):
            return TextFile(name, text, encoding)
    if is_plain and candidates == ["utf-8-sig"]:
        page = code_page(raw)
        if page is not None:
            return TextFile(name, raw.decode(page), page)
    msg = (
        f"{name}: is not readable text (neither UTF-8, UTF-16 nor a usual code page). "
        "Save the log as CSV in UTF-8 and give that file."
    )
    raise LogError(msg)
