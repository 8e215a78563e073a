"""
How fast and in how much memory large logs are read, beside one pandas.read_csv of the same file.

Usage: python tests/benchmark/reading.py [--rows 10000 100000 1000000] [--repeats 3]

Each size runs in a process of its own. Printed: seconds of the processor for read_csv and for
read_log (best of the repeats; one for a million rows), their ratio, microseconds per row, and the
largest memory.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd


def invented_log(rows: int, seed: int = 1) -> pd.DataFrame:
    """Return a log of 28 columns, four chips a run, with a hundredth of messy cells."""
    rng = np.random.default_rng(seed)
    run = np.arange(rows) // 4
    started = np.datetime64("2020-01-06T08:00") + run * np.timedelta64(7, "m")
    whole = {
        "degas_min": (20, 60), "punch_holes": (0, 300), "tape_passes": (0, 5), "dry_min": (0, 30),
        "pumpdown_s": (60, 200), "pressure_pa": (30, 90), "power_w": (18, 31),
        "plasma_s": (20, 60), "delay_s": (5, 200), "bake_min": (0, 60), "rh_pct": (20, 70),
    }  # fmt: skip
    measured = {
        "base_g": (20, 1, 2), "agent_g": (2, 0.1, 3), "mix_min": (5, 0.5, 1),
        "vacuum_kpa": (6, 1, 1), "poured_g": (18, 1, 1), "cure_c": (65, 2, 1),
        "cure_h": (9, 1, 2), "pdms_age_h": (50, 9, 1), "room_c": (22, 1, 1),
    }  # fmt: skip
    columns: dict[str, object] = {
        "chip_id": [f"c{index:07d}" for index in range(rows)],
        "run_id": [f"r{index:06d}" for index in run],
        "started_at": np.datetime_as_string(started, unit="m"),
        "operator": rng.choice(["AK", "BM", "CS", "DT", "EV", "FW"], rows),
        "mould_id": rng.choice([f"M{index}" for index in range(1, 9)], rows),
        "kit_lot": [f"K{index}" for index in run // 500],
        "touched": rng.choice(["yes", "no"], rows),
        "outcome": rng.choice(["good", "leak", "no_bond", "tear"], rows, p=[0.8, 0.1, 0.05, 0.05]),
    }
    columns |= {name: rng.integers(*ends, rows) for name, ends in whole.items()}
    columns |= {
        name: rng.normal(mean, sd, rows).round(digits)
        for name, (mean, sd, digits) in measured.items()
    }
    log = pd.DataFrame(columns)
    for name in ("delay_s", "plasma_s", "cure_h"):
        texts = log[name].astype(str)
        log[name] = texts.mask(rng.random(rows) < 0.01, "~" + texts)
    log["rh_pct"] = log["rh_pct"].where(rng.random(rows) > 0.01)
    return log


def measure(path: Path, repeats: int) -> tuple[float, float, float]:
    """Return seconds of read_csv and of read_log, best of the repeats, and the peak GB."""
    from weakstep.process.load import load_process
    from weakstep.runlog.read import read_log

    process = load_process()
    small = path.with_name("small.csv")
    pd.read_csv(path, nrows=200).to_csv(small, index=False)
    read_log(small, process)  # imports and first calls are not what is measured
    by_pandas, by_us = [], []
    for _ in range(repeats):
        start = time.process_time()
        pd.read_csv(path)
        between = time.process_time()
        log = read_log(path, process)
        by_pandas.append(between - start)
        by_us.append(time.process_time() - between)
        assert log.rows_read == len(log.chips) + len(log.set_aside)
        del log
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    return min(by_pandas), min(by_us), peak


def main() -> None:
    """Print one line per size."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, nargs="+", default=[10_000, 100_000, 1_000_000])
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--one", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.one:
        print(*measure(options.one, options.repeats))
        return
    print("rows       read_csv s  read_log s  ratio  us/row  peak GB")
    with tempfile.TemporaryDirectory() as folder:
        for rows in options.rows:
            path = Path(folder) / "log.csv"
            invented_log(rows).to_csv(path, index=False)
            repeats = 1 if rows >= 1_000_000 else options.repeats
            command = [sys.executable, __file__, "--one", str(path), "--repeats", str(repeats)]
            done = subprocess.run(command, capture_output=True, text=True, check=True)
            csv_s, log_s, peak = map(float, done.stdout.split())
            ratio, each = log_s / csv_s, 1e6 * log_s / rows
            print(f"{rows:<10} {csv_s:<11.2f} {log_s:<11.2f} {ratio:<6.1f} {each:<7.1f} {peak:.2f}")


if __name__ == "__main__":
    main()
