"""
Make two semesters of a line that does not exist, and the list of what was changed between.

    python datasets/two_semesters/make_two_semesters.py               writes the folders here
    python datasets/two_semesters/make_two_semesters.py --into DIR    writes them into DIR

The truth: a chip's log-odds of a bond failure are -2.6 + 0.05 per second of delay above 50 s, plus
a run's own luck (sd 0.4). From 20 March 2026 on the delay is kept at 45 s or below in nearly every
run; that works. On 11 May 2026 the balance is replaced; that changes nothing.
"""

from __future__ import annotations

import argparse
import csv
import io
from datetime import date, datetime, time, timedelta
from pathlib import Path

import numpy as np

SEED = 5
HERE = Path(__file__).parent
FIRST_DAYS = {"2025-autumn": date(2025, 9, 15), "2026-spring": date(2026, 2, 16)}
LIMITED = date(2026, 3, 20)
RUNS, CHIPS = 66, 3
HEAD = ("run", "chip", "date", "operator", "delay (s)", "plasma (s)", "bake (min)", "room (C)",
        "outcome")  # fmt: skip
CHANGES = """\
date,change,parameter,family,window,from_review
2026-03-20,delay limited to 45 s,delay_s,bond,:45,review of 16 March 2026
2026-05-11,new balance,mixing,,,
"""


def chips_of(rng: np.random.Generator, begin: date, first_run: int) -> list[tuple[str, ...]]:
    """Return a semester's rows."""
    rows = []
    for place in range(RUNS):
        day = begin + timedelta(days=7 * (place // 4) + (0, 1, 2, 3)[place % 4])
        moment = datetime.combine(day, time(10 + int(rng.integers(6)), int(rng.integers(60))))
        limited = day >= LIMITED and rng.random() < 0.92
        usual = float(rng.uniform(25, 45) if limited else 48 * np.exp(rng.normal(0, 0.4)))
        luck = float(rng.normal(0, 0.4))
        plasma, bake, room = rng.normal(35, 4), rng.normal(30, 5), rng.normal(22, 1)
        run = f"R{first_run + place:03d}"
        for chip in range(1, CHIPS + 1):
            delay = max(10.0, usual + float(rng.normal(0, 2)))
            odds = -2.6 + 0.05 * max(0.0, delay - 50.0) + luck
            failed = rng.random() < 1.0 / (1.0 + np.exp(-odds))
            measured = (f"{delay:.0f}", f"{plasma:.0f}", f"{bake:.0f}", f"{room:.1f}")
            outcome = "leak" if failed else "good"
            operator = f"OP{1 + place % 3}"
            rows.append((run, f"{run}-{chip}", f"{moment:%Y-%m-%d %H:%M}", operator, *measured,
                         outcome))  # fmt: skip
    return rows


def files() -> dict[str, str]:
    """Return every file by its path below the folder."""
    rng = np.random.default_rng(SEED)
    found = {}
    for number, (name, begin) in enumerate(FIRST_DAYS.items()):
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(HEAD)
        writer.writerows(chips_of(rng, begin, 1 + number * RUNS))
        found[f"{name}/log.csv"] = out.getvalue()
    found["2026-spring/changes.csv"] = CHANGES
    return found


def main() -> None:
    """Write the files."""
    parser = argparse.ArgumentParser(description="Make two semesters and a list of changes.")
    parser.add_argument("--into", type=Path, default=HERE)
    folder = parser.parse_args().into
    for name, text in files().items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
        print(path)


if __name__ == "__main__":
    main()
