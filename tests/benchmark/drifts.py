"""
How the drift screen fares on simulated semesters whose truth is known.

    python tests/benchmark/drifts.py [--semesters 200] [--cells WORD[,WORD...]] [--list]
                                       [--runs 150] [--parameters 15] [--seed 0]

prints false-alarm rates beside the usual practice (3-sigma limits alone, all patterns), power
beside an oracle likelihood ratio that knows the form, the error of the start, the coverage of its
interval, how often two changes of one parameter are both found, and the time of a screen; each
share with its standard error in percentage points. `--cells` runs the rows whose name contains one
of the words; `--seed` other than 0 draws other semesters. `--cells power` alone prints the table
that `weakstep.drift.power` interpolates; without `--cells` everything else is run.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter

import numpy as np
import pandas as pd
from drift_data import CALM, Semester, Simulator, autoregressive, missing, normal, plant
from drifts_rivals import oracle_finds, usual_practice

from weakstep.drift.model import Drift, DriftScreen
from weakstep.drift.screen import screen


def called(found: DriftScreen) -> list[Drift]:
    """All that a reader would take for a finding: strong drifts and cycles."""
    return [drift for drift in found.drifts if drift.evidence == "strong" or drift.form == "cycle"]


def run_screen(semester: Semester, seed: int) -> DriftScreen:
    """Screen one simulated semester."""
    values, who = semester
    columns = [f"c{i}" for i in range(values.shape[1])]
    return screen(pd.DataFrame(values, columns=columns), strata=who, seed=seed)


def error(share: float, count: int) -> float:
    """Give the standard error of a share, never 0 (one more success and failure assumed)."""
    near = (share * count + 1) / (count + 2)
    return float(np.sqrt(near * (1 - near) / max(count, 1)))


def percent(share: float, count: int) -> str:
    """Give a share and its standard error in percentage points."""
    return f"{100 * share:.1f} +-{100 * error(share, count):.1f}"


def calm_row(name: str, asked: argparse.Namespace) -> None:
    """Print how often something is called in semesters where nothing moved."""
    semesters, simulate = asked.semesters, CALM[name]
    rng = np.random.default_rng([1, list(CALM).index(name), asked.seed])
    any_called = any_some = first = cycle = 0
    practice, forms, spent = [], Counter[str](), 0.0
    for seed in range(semesters):
        semester = simulate(rng, asked.runs, asked.parameters)
        began = time.process_time()
        found = run_screen(semester, seed)
        spent += time.process_time() - began
        drifts = [drift for drift in called(found) if not (_is_saw(name) and _of_first(drift))]
        any_called += bool(drifts)
        forms.update(drift.form for drift in drifts)
        any_some += any(drift.p <= 0.2 and drift.evidence != "none" for drift in found.drifts)
        first += any(_of_first(drift) and drift.form != "cycle" for drift in called(found))
        cycle += any(_of_first(drift) and drift.form == "cycle" for drift in called(found))
        if seed < 20:
            practice.append(usual_practice(semester[0]))
    alone, every = 100 * np.mean(practice, axis=0)
    saw = (
        f"; the sawtooth a drift {percent(first / semesters, semesters)}, "
        f"a cycle {percent(cycle / semesters, semesters)}"
    )
    print(
        f"{name:<22}{percent(any_called / semesters, semesters):>14}"
        f"{100 * any_some / semesters:>7.1f}"
        f"{alone:>9.0f}{every:>9.0f}{spent / semesters:>8.2f}  "
        f"{dict(forms) or ''}{saw if _is_saw(name) else ''}",
        flush=True,
    )


def _is_saw(name: str) -> bool:
    return name.startswith("sawtooth")


def _of_first(drift: Drift) -> bool:
    return drift.column == "c0"


KINDS: dict[str, tuple[Simulator, float]] = {
    "normal": (normal, 0.0),
    "AR(1) 0.3": (autoregressive(0.3), 0.3),
    "missing 20 %": (missing, 0.0),
}
PLANTED = {
    f"{form} {size:g} {kind}": (form, size, kind)
    for kind, changes in (
        (
            "normal",
            "step 0.5, step 0.75, step 1, step 1.5, ramp 0.5, ramp 1, spread 1.5, spread 2",
        ),
        ("AR(1) 0.3", "step 1, ramp 0.5, spread 2"),
        ("missing 20 %", "step 1, ramp 0.5, spread 2"),
        ("normal", "spread 0.667, spread 0.5"),
    )
    for form, size in ((word.split()[0], float(word.split()[1])) for word in changes.split(", "))
}


def planted_row(name: str, asked: argparse.Namespace) -> None:
    """Print how often a planted change is found, by the screen and by the oracle."""
    form, size, kind = PLANTED[name]
    simulate, phi = KINDS[kind]
    rng = np.random.default_rng([2, list(PLANTED).index(name), asked.seed])
    semesters, runs = asked.semesters, asked.runs
    ours, oracles, others, hits, off = [], [], 0, [], []
    for seed in range(semesters):
        semester = simulate(rng, runs, asked.parameters)
        start = int(rng.uniform(0.25, 0.75 if form != "ramp" else 0.6) * runs)
        plant(semester[0], form, size, start)
        oracles.append(oracle_finds(semester[0][:, 0], form, phi, asked.parameters))
        found = called(run_screen(semester, seed))
        others += any(not _of_first(drift) for drift in found)
        mine = [drift for drift in found if _of_first(drift) and drift.form != "outliers"]
        ours.append(bool(mine))
        for drift in mine[:1]:
            hits.append(drift)
            first, last = drift.since_interval
            off.append((abs(drift.since - start), first <= start <= last))
    behind = np.array(oracles, dtype=float) - np.array(ours, dtype=float)
    right = [drift.form == form for drift in hits]
    print(
        f"{name:<24}{percent(np.mean(ours), semesters):>14}{100 * np.mean(oracles):>8.1f}"
        f"{100 * behind.mean():>8.1f} +-{100 * behind.std() / np.sqrt(semesters):.1f}"
        f"{_of_found(right, np.array(off).reshape(-1, 2))}"
        f"{percent(others / semesters, semesters):>14}",
        flush=True,
    )


def _of_found(right: list[bool], off: np.ndarray) -> str:
    """Form, error of the start and coverage of its interval, of the changes that were found."""
    if not right:
        return f"{'none found':>32}"
    away, covers = off.T
    return (
        f"{percent(np.mean(right), len(right)):>13}"
        f"{np.median(away):>6.0f} /{np.quantile(away, 0.9):>3.0f}"
        f"{percent(covers.mean(), len(right)):>13}"
    )


SEVERAL = {
    f"{name} {size:g}": (size, steps)
    for name, steps in {
        "there and back": ((0.33, 1.0), (0.67, -1.0)),
        "two steps up": ((0.33, 1.0), (0.67, 1.0)),
        "large and small": ((0.25, 1.0), (0.5, 0.67)),
    }.items()
    for size in (1.5, 2.0)
}


def several_row(name: str, asked: argparse.Namespace) -> None:
    """Print how often two changes of one parameter are both found, within 8 runs."""
    (size, steps), semesters, runs = SEVERAL[name], asked.semesters, asked.runs
    rng = np.random.default_rng([4, list(SEVERAL).index(name), asked.seed])
    moved = both = more = covered = intervals = 0
    for seed in range(semesters):
        semester = normal(rng, runs, asked.parameters)
        starts = [int((share + rng.uniform(-0.07, 0.07)) * runs) for share, _ in steps]
        for start, (_, part) in zip(starts, steps, strict=True):
            plant(semester[0], "step", part * size, start)
        found = [drift for drift in called(run_screen(semester, seed)) if _of_first(drift)]
        for drift in found[:1]:
            moved += 1
            places = [change.since for change in drift.changes]
            both += max(min((abs(p - s) for p in places), default=runs) for s in starts) <= 8
            more += len(places) > 2
            for change in drift.changes:
                start = min(starts, key=lambda s, at=change.since: abs(s - at))
                covered += change.since_interval[0] <= start <= change.since_interval[1]
                intervals += 1
    print(
        f"{name:<22}{percent(moved / semesters, semesters):>14}"
        f"{percent(both / semesters, semesters):>14}{percent(more / semesters, semesters):>14}"
        f"{percent(covered / max(intervals, 1), intervals):>14}",
        flush=True,
    )


def time_row(name: str, asked: argparse.Namespace) -> None:
    """Print the processor time of a screen of 300 runs and 30 parameters."""
    rng = np.random.default_rng([5, asked.seed])
    values = rng.normal(size=(300, 30))
    who = rng.choice(list("ABCDEF"), 300) if "operators" in name else None
    spent = []
    for seed in range(5):
        began = time.process_time()
        run_screen((values, who), seed)
        spent.append(time.process_time() - began)
    print(f"{name:<44}{np.median(spent[1:]):.2f} s")


SHIFTS = (0.5, 1.0, 2.0)
LENGTHS = (25, 40, 60, 80, 110, 150, 200, 300)


def power_table(semesters: int) -> None:
    """Print the power for a step halfway, by the length of the log, as Python source."""
    print(f"step halfway; three of 20 parameters moved, one by each size; {semesters} semesters")
    found = np.zeros((len(SHIFTS), len(LENGTHS)))
    for place, runs in enumerate(LENGTHS):
        rng = np.random.default_rng([3, runs])
        for seed in range(semesters):
            values = normal(rng, runs, 20)[0]
            for column, size in enumerate(SHIFTS):
                values[runs // 2 :, column] += size
            moved = {drift.column for drift in called(run_screen((values, None), seed))}
            found[:, place] += [f"c{column}" in moved for column in range(len(SHIFTS))]
    for size, row in zip(SHIFTS, found / semesters, strict=True):
        print(f"    {size}: ({', '.join(f'{share:.3f}' for share in row)}),", flush=True)


TABLES = {
    "calm": (
        calm_row,
        CALM,
        f"{'nothing moved':<22}{'called, %':>14}{'some':>7}"
        f"{'3 sigma':>9}{'patterns':>9}{'cpu s':>8}",
    ),
    "planted": (
        planted_row,
        PLANTED,
        f"{'one parameter moved':<24}{'found, %':>14}{'oracle':>8}{'behind':>13}{'form':>13}"
        f"{'off 50/90':>11}{'covers':>13}{'others':>14}",
    ),
    "several": (
        several_row,
        SEVERAL,
        f"{'two steps':<22}{'moved, %':>14}{'both':>14}{'more':>14}{'covers':>14}",
    ),
    "time": (
        time_row,
        ("300 runs x 30 parameters", "300 runs x 30 parameters, operators"),
        "processor time of a screen",
    ),
}


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--semesters", type=int, default=200)
    parser.add_argument("--cells", default="", help="rows whose name contains one of these words")
    parser.add_argument("--list", action="store_true", help="print the names of all rows")
    parser.add_argument("--runs", type=int, default=150)
    parser.add_argument("--parameters", type=int, default=15)
    parser.add_argument("--seed", type=int, default=0, help="draws other semesters")
    options = parser.parse_args()
    if options.cells == "power":
        power_table(options.semesters)
    for table, (print_row, rows, head) in TABLES.items():
        names = [
            row
            for row in rows
            if any(word in f"{table} {row}" for word in options.cells.split(","))
        ]
        if options.list:
            print("\n".join(f"{table} {row}" for row in names))
            continue
        if names:
            print(f"\n{head}")
        for row in names:
            print_row(row, options)
