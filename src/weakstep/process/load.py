"""Reading a process description from TOML."""

from __future__ import annotations

import hashlib
import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

from weakstep.errors import ProcessError
from weakstep.process.build import build_process
from weakstep.process.crosscheck import check_references
from weakstep.process.model import Process

BUILT_IN = "soft_lithography"
_DEEPEST = 5


def load_process(path: str | Path | None = None) -> Process:
    """
    Read and check a process description.

    A description is a TOML file. At its top stand `name`, `title`, `item` and `items` (what one
    row makes) and `interactions` (pairs of columns that may act together). Then come tables:

    - `[constants]`: numbers that formulas use (`density_g_cm3 = 1.03`).
    - `[steps.NAME]`: `label`; the order of the file is the working order.
    - `[parameters.NAME]`: one column of the log; keys as in `weakstep.process.model.Parameter`.
      `[parameters.NAME.spellings]` says which writings of a category are the same.
    - `[families.NAME]`: `label`; failures that share causes.
    - `[modes.NAME]`: one outcome: `verdict` (good, failed, untested), `family`, `aliases`,
      `likely_steps` (step = 1 to 3).
    - `[rated_limits.NAME]`: `parameter`, `upper` or `lower` (a number or a column), `because`,
      `caution`, `where`.
    - `[rules.NAME]`: `left`, `relation`, `right`, `message`, `action`, `sure`.
    - `[cautions.NAME]`: `topic`, `text`, `always`.

    Columns with a fixed meaning, under whatever aliases: `run_id` (rows that share it are one
    run; without it each row is a run), `chip_id`, `started_at`, `operator`, `outcome`,
    `chips_made` and `chips_failed` (a row that counts pieces). When no column is called
    `outcome`, the one category column of role outcome is read as it.

    A lab's file may begin with `extends = "soft_lithography"`, or the path of another
    description: then it only writes what differs, key by key; its `aliases` are added to those
    of the extended description, every other key replaces.

    Parameters
    ----------
    path : str or Path, optional
        The description; without it the built-in one for casting and bonding chips.

    Returns
    -------
    Process
        `sha256` covers the text of every file that was read for it.

    Raises
    ------
    ProcessError
        The file is missing, no TOML, or an entry is wrong; the message names file and key.

    Examples
    --------
    >>> load_process().parameter("delay_s").unit
    's'
    """
    texts: list[bytes] = []
    if path is None or str(path) == BUILT_IN:
        file, source = f"{BUILT_IN}.toml", "built-in"
        data = _parse(_built_in_text(), file)
        texts.append(_built_in_text())
    else:
        file, source = Path(path).name, str(path)
        data = _read_extended(Path(path), texts, 0)
    sha256 = hashlib.sha256(b"\0".join(texts)).hexdigest()
    process = build_process(data, file, source, sha256)
    check_references(process, file)
    return process


def _built_in_text() -> bytes:
    return (resources.files("weakstep.process") / f"{BUILT_IN}.toml").read_bytes()


def _read_extended(path: Path, texts: list[bytes], depth: int) -> dict[str, Any]:
    """Read *path* and whatever it extends, the extended description first."""
    if depth > _DEEPEST:
        msg = f"{path.name}: extends: descriptions extend each other in a circle or too deep."
        raise ProcessError(msg)
    raw = _read_bytes(path)
    data = _parse(raw, path.name)
    texts.append(raw)
    base_name = data.pop("extends", None)
    if base_name is None:
        return data
    if not isinstance(base_name, str):
        msg = f"{path.name}: extends: found {base_name!r}, expected a text."
        raise ProcessError(msg)
    if base_name == BUILT_IN:
        texts.append(_built_in_text())
        base = _parse(_built_in_text(), f"{BUILT_IN}.toml")
    else:
        base = _read_extended(path.parent / base_name, texts, depth + 1)
    return _merged(base, data)


def _read_bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        msg = (
            f"{path}: there is no such process description; give the path of a .toml file, "
            f"or leave it out to use the built-in {BUILT_IN!r}."
        )
        raise ProcessError(msg) from None
    except OSError as error:
        msg = f"{path}: the process description cannot be read ({error.strerror})."
        raise ProcessError(msg) from error


def _parse(raw: bytes, file: str) -> dict[str, Any]:
    try:
        return tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError:
        msg = f"{file}: is not UTF-8 text; save the process description as UTF-8."
        raise ProcessError(msg) from None
    except tomllib.TOMLDecodeError as error:
        msg = f"{file}: is not valid TOML: {error}."
        raise ProcessError(msg) from None


def _merged(base: dict[str, Any], over: dict[str, Any]) -> dict[str, Any]:
    """Return *base* with the keys of *over* put in, tables merged and aliases added."""
    merged = dict(base)
    for key, value in over.items():
        below = merged.get(key)
        if isinstance(below, dict) and isinstance(value, dict):
            merged[key] = _merged(below, value)
        elif key == "aliases" and isinstance(below, list) and isinstance(value, list):
            merged[key] = below + [item for item in value if item not in below]
        else:
            merged[key] = value
    return merged
