"""The demo semester that ships with weakstep, so that `weakstep demo` works offline."""

from __future__ import annotations

from pathlib import Path

from weakstep.errors import OutputError


def demo_logs() -> list[Path]:
    """
    Return the demo semester's log files, sorted by name.

    An installed weakstep carries them inside the package; an editable install reads them where
    they are kept, in the checkout's datasets folder.
    """
    package = Path(__file__).parent
    for folder in (
        package / "demo_semester",
        package.parents[1] / "datasets" / "semester" / "logs",
    ):
        if folder.is_dir():
            return sorted(folder.glob("*.csv"))
    message = "The demo semester is missing from this installation; install weakstep again."
    raise OutputError(message)


def copy_demo_logs(folder: Path) -> Path:
    """
    Copy the demo's log files into `folder`/logs and return that path.

    Raises
    ------
    OutputError
        When *folder* holds something other than an earlier demo.
    """
    logs = folder / "logs"
    sources = demo_logs()
    ours = {"logs", "report"}
    strangers = (
        sorted(entry.name for entry in folder.iterdir() if entry.name not in ours)
        if folder.is_dir()
        else []
    )
    if folder.exists() and (not folder.is_dir() or strangers):
        what = "a file" if not folder.is_dir() else f"a folder that also holds '{strangers[0]}'"
        message = f"{folder} is {what}; name a new or empty folder: weakstep demo DIR."
        raise OutputError(message)
    logs.mkdir(parents=True, exist_ok=True)
    for source in sources:
        (logs / source.name).write_bytes(source.read_bytes())
    return logs
