"""A log of runs that watching is tried on through its command."""

from __future__ import annotations

from pathlib import Path

import numpy as np

HEAD = "run_id,chip_id,started_at,delay_s,plasma_s,room_c,outcome\n"


def rows(first: int, runs: int, delay: float, seed: int) -> str:
    """Return runs of two chips, one a day, whose delay lies around *delay*."""
    rng = np.random.default_rng(seed)
    lines = []
    for run in range(first, first + runs):
        day = np.datetime64("2026-01-05") + run
        values = f"{delay * np.exp(rng.normal(0, 0.2)):.0f},{rng.normal(35, 2):.1f}"
        room = rng.normal(22, 1)
        for chip in (1, 2):
            outcome = "leak" if rng.random() < 0.1 else "good"
            lines.append(f"R{run:03d},R{run:03d}-{chip},{day},{values},{room:.1f},{outcome}\n")
    return "".join(lines)


def grow(log: Path, text: str) -> None:
    """Append rows to a log."""
    with log.open("a", encoding="utf-8") as stream:
        stream.write(text)


def signals(printed: str) -> list[str]:
    """Return the lines that tell a signal."""
    return [line for line in printed.splitlines() if line.startswith("signal ")]
