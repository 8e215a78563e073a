"""
Make the demo semester: four log files, and beside them the honest reading of every messy cell.

    python datasets/semester/make_semester.py                 writes logs/ and truth.csv here
    python datasets/semester/make_semester.py --into DIR      writes them into DIR
    python datasets/semester/make_semester.py --every-cell    truth.csv tells every cell
    python datasets/semester/make_semester.py --seeds 20      reviews other seeds (needs weakstep)
"""

from __future__ import annotations

import argparse
import csv
import io
from pathlib import Path

import numpy as np
from semester_hands import Sheet, write_down
from semester_line import chips_of_the_semester
from semester_mess import (
    WHOLE_ROW,
    Messer,
    mess_bench,
    mess_group_b,
    mess_newcomer,
    mess_plasma_room,
)
from semester_sheets import (
    BENCH,
    GROUP_B,
    NEWCOMER,
    PLASMA_ROOM,
    bench_columns,
    group_b_columns,
    newcomer_columns,
    plasma_room_columns,
)

SEED = 1
HERE = Path(__file__).parent
TRUTH_HEADER = ("file", "line", "column", "parameter", "text", "honest", "kind")


def make_sheets(seed: int) -> list[Sheet]:
    """Return the four sheets of the semester that belongs to a seed."""
    rng = np.random.default_rng(seed)
    chips = chips_of_the_semester(rng)
    sheets = []
    for hand, columns, mess in (
        (BENCH, bench_columns, mess_bench),
        (PLASMA_ROOM, plasma_room_columns, mess_plasma_room),
        (GROUP_B, group_b_columns, mess_group_b),
        (NEWCOMER, newcomer_columns, mess_newcomer),
    ):
        sheet = write_down(chips, hand, columns(rng))
        messer = Messer(sheet, rng)
        mess(messer)
        messer.free_wording()
        sheets.append(sheet)
    return sheets


def sheet_bytes(sheet: Sheet) -> bytes:
    """Return a sheet as the bytes of its file."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=sheet.hand.delimiter, lineterminator=sheet.hand.line_end)
    writer.writerow([column.header for column in sheet.columns])
    for row in sheet.rows:
        writer.writerow([row[column.parameter].text for column in sheet.columns])
    return text.getvalue().encode(sheet.hand.encoding)


def truth_rows(sheet: Sheet, *, every_cell: bool) -> list[tuple[str, ...]]:
    """Return the honest readings of a sheet's messy cells, or of every cell."""
    rows: list[tuple[str, ...]] = []
    file = sheet.hand.file
    for line, row in enumerate(sheet.rows, start=2):
        if WHOLE_ROW in row:
            rows.append((file, str(line), "", "", "", row[WHOLE_ROW].honest, row[WHOLE_ROW].kind))
        for column in sheet.columns:
            cell = row[column.parameter]
            if every_cell or cell.kind not in ("plain", "blank"):
                place = (file, str(line), column.header, column.parameter)
                rows.append((*place, cell.text, cell.honest, cell.kind))
    return rows


def write_semester(folder: Path, seed: int, *, every_cell: bool = False) -> None:
    """Write logs/ and truth.csv into a folder."""
    (folder / "logs").mkdir(parents=True, exist_ok=True)
    truth: list[tuple[str, ...]] = []
    for sheet in make_sheets(seed):
        (folder / "logs" / sheet.hand.file).write_bytes(sheet_bytes(sheet))
        truth += truth_rows(sheet, every_cell=every_cell)
    with (folder / "truth.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(TRUTH_HEADER)
        writer.writerows(truth)


def main() -> None:
    """Read the command line and write the semester."""
    parser = argparse.ArgumentParser(description="Make the demo semester.")
    parser.add_argument("--into", type=Path, default=HERE, help="folder to write into")
    parser.add_argument("--seed", type=int, default=SEED, help="seed of the semester")
    parser.add_argument("--every-cell", action="store_true", help="truth.csv tells every cell")
    parser.add_argument("--seeds", type=int, default=0, help="review this many other seeds")
    asked = parser.parse_args()
    if asked.seeds:
        from semester_seeds import print_findings

        print_findings(range(SEED + 1, SEED + 1 + asked.seeds))
    else:
        write_semester(asked.into, asked.seed, every_cell=asked.every_cell)


if __name__ == "__main__":
    main()
