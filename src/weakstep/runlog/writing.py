"""Files that are written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def write_whole(target: Path, content: bytes) -> None:
    """
    Write *content* beside *target* and move it there.

    Raises
    ------
    OSError
        The place cannot be written to.
    """
    if target.is_dir():
        raise IsADirectoryError(21, "it is a folder", str(target))
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=".weakstep-")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
        umask = os.umask(0)
        os.umask(umask)
        os.chmod(name, 0o666 & ~umask)
        os.replace(name, target)
    except OSError:
        Path(name).unlink(missing_ok=True)
        raise
