"""Were failed chips always logged? Rows of a log against a weekly count of what was made."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

from weakstep.errors import LogError
from weakstep.runlog.dates import day_order, moment_of, read_date
from weakstep.runlog.files import decoded, read_raw
from weakstep.runlog.findings import Findings
from weakstep.runlog.model import Problem, RunLog
from weakstep.runlog.splitting import read_table

_MOST_DIGITS = 9  # of a number of chips


def compare_with_made(log: RunLog, path: str | Path) -> RunLog:
    """
    Ask about every week in which more was made than the log has rows for.

    Parameters
    ----------
    log : RunLog
    path : str or Path
        A CSV file of two columns below a header: a date in each week, and how many were made.

    Returns
    -------
    RunLog
        The same log; each week with fewer logged than made is a question in its problems.

    Raises
    ------
    LogError
        The file is no such table; names the line.
    """
    made = _made_by_week(Path(path))
    logged = _logged_by_week(log)
    findings = Findings()
    for problem in log.problems:
        findings.add(problem)
    for week, count in sorted(made.items()):
        rows = logged.get(week, 0)
        if rows < count:
            findings.add(_problem(log, Path(path).name, week, count, rows))
    return replace(log, problems=findings.problems())


def _problem(log: RunLog, file: str, week: date, made: int, logged: int) -> Problem:
    items = log.process.items
    return Problem(
        file,
        None,
        None,
        week.isoformat(),
        "unlogged",
        f"{made} {items} were made in the week of {week.isoformat()} and {logged} are logged: "
        f"{made - logged} have no row.",
        f"Log them, above all the failed ones; {items} that only fail off the record turn every "
        "finding.",
        "question",
    )


def _made_by_week(path: Path) -> dict[date, int]:
    table = read_table(decoded(read_raw(path, path.name), path.name))
    rows = [table.row(index) for index in range(1, len(table))]
    cells = [read_date(row.cells[0].strip()) for row in rows]
    order, _ = day_order(cells)
    made: dict[date, int] = {}
    for row, cell in zip(rows, cells, strict=True):
        moment = None if cell is None else moment_of(cell, order)
        count = row.cells[1].strip() if len(row.cells) > 1 else ""
        if moment is None or not count.isdecimal() or len(count) > _MOST_DIGITS:
            msg = (
                f"{path.name}:{row.line}: expected a date and a whole number, found "
                f"{', '.join(row.cells)!r}. Write one line per week, such as 2026-03-02,24."
            )
            raise LogError(msg)
        week = _monday(moment.date())
        made[week] = made.get(week, 0) + int(count)
    return made


def _logged_by_week(log: RunLog) -> dict[date, int]:
    if "started_at" not in log.chips:
        msg = "The log has no dates, so it cannot be compared with what was made each week."
        raise LogError(msg)
    logged: dict[date, int] = {}
    dated = log.chips[log.chips["started_at"].notna()]
    for moment, made in zip(dated["started_at"], dated["made"], strict=True):
        week = _monday(moment.date())
        logged[week] = logged.get(week, 0) + int(made)
    return logged


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())
