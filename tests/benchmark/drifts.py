"""
How the drift screen fares on simulated semesters whose truth is known.

    python tests/benchmark/drifts.py [--semesters 100] [--part calm|planted|several|power]
                                       [--only WORD] [--runs 150] [--parameters 15] [--seed 0]

prints false-alarm rates with standard errors beside the usual practice (3-sigma limits alone, all
patterns), power beside an oracle likelihood ratio that knows the form, the error of the start, the
coverage of its interval, how often two changes of one parameter are both found, and the time of a
screen. `--seed` other than 0 draws other semesters than those the screen was built with.
`--part power` prints the table that `weakstep.drift.power` interpolates.
"""

from __future__ import annotations

import argparse
import time
from functools import lru_cache

import numpy as np
import pandas as pd
from drift_data import CALM, Semester, autoregressive, missing, normal, plant

from weakstep.charts.patterns import NELSON
from weakstep.charts.patterns import completions as pattern_completions
from weakstep.charts.variables import individuals
from weakstep.drift.model import Drift, DriftScreen
from weakstep.drift.screen import screen

ORACLE_SERIES = 20000


def called(found: DriftScreen) -> list[Drift]:
    """All that a reader would take for a finding: strong drifts and cycles."""
    return [drift for drift in found.drifts if drift.evidence == "strong" or drift.form == "cycle"]


def run_screen(semester: Semester, seed: int) -> DriftScreen:
    """Screen one simulated semester."""
    values, who = semester
    columns = [f"c{i}" for i in range(values.shape[1])]
    return screen(pd.DataFrame(values, columns=columns), strata=who, seed=seed)


def usual_practice(values: np.ndarray) -> tuple[float, float]:
    """Share of parameters that alarm by 3-sigma limits alone, and by all patterns."""
    alone = every = 0
    for column in values.T:
        logged = column[~np.isnan(column)]
        limits = individuals(logged)[0].limits
        z = (logged - limits.centre) / limits.sigma
        hits = {name: found.any() for name, found in pattern_completions(z, NELSON).items()}
        alone += hits["beyond_limit"]
        every += any(hits.values())
    return alone / values.shape[1], every / values.shape[1]


def error(share: float, count: int) -> float:
    """Give the standard error of a share, never 0 (one more success and failure assumed)."""
    near = (share * count + 1) / (count + 2)
    return float(np.sqrt(near * (1 - near) / count))


def calm_table(semesters: int, only: str, runs: int, parameters: int, seeds: int) -> None:
    """Print how often something is called in semesters where nothing moved."""
    print(f"nothing moved: {runs} runs x {parameters} parameters, {semesters} semesters a row")
    print(f"{'data':<18}{'any called':>12}{'+-se':>6}{'some':>6}{'3 sigma':>9}{'all':>6}{'s':>6}")
    for number, (name, simulate) in enumerate(CALM.items()):
        if only not in name:
            continue
        rng = np.random.default_rng([1, number, seeds])
        any_called, any_some, practice, spent = 0, 0, [], 0.0
        forms: dict[str, int] = {}
        for seed in range(semesters):
            semester = simulate(rng, runs, parameters)
            began = time.perf_counter()
            found = run_screen(semester, seed)
            spent += time.perf_counter() - began
            any_called += bool(called(found))
            any_some += any(drift.p <= 0.2 and drift.evidence != "none" for drift in found.drifts)
            for drift in called(found):
                forms[drift.form] = forms.get(drift.form, 0) + 1
            practice.append(usual_practice(semester[0]))
        share = any_called / semesters
        alone, every = 100 * np.mean(practice, axis=0)
        print(
            f"{name:<18}{100 * share:>10.1f} %{100 * error(share, semesters):>6.1f}"
            f"{100 * any_some / semesters:>6.0f}{alone:>7.0f} %{every:>4.0f} %"
            f"{spent / semesters:>6.2f}  {forms or ''}",
            flush=True,
        )


@lru_cache
def oracle_bound(form: str, runs: int, parameters: int) -> float:
    """Value that the oracle's statistic passes in 5 % of stable semesters (any parameter)."""
    rng = np.random.default_rng(7)
    values = rng.normal(size=(ORACLE_SERIES, runs))
    return float(np.quantile(oracle(values, form), 0.95 ** (1 / parameters)))


def oracle(values: np.ndarray, form: str) -> np.ndarray:
    """Likelihood ratio of a normal series for one known form, size and start unknown."""
    runs = values.shape[1]
    off = values - values.mean(axis=1, keepdims=True)
    split = np.arange(5, runs - 4)
    if form == "step":
        gain = np.cumsum(off, axis=1)[:, split - 1] ** 2 * runs / (split * (runs - split))
    elif form == "ramp":
        hinges = np.maximum(0.0, np.arange(runs) - np.arange(0, runs - 10)[:, None])
        hinges -= hinges.mean(axis=1, keepdims=True)
        gain = (off @ hinges.T) ** 2 / (hinges**2).sum(axis=1)
    else:
        squares = np.cumsum(off**2, axis=1)
        total, before = squares[:, -1:], squares[:, split - 1]
        return (
            runs * np.log(total / runs)
            - split * np.log(before / split)
            - (runs - split) * np.log((total - before) / (runs - split))
        ).max(axis=1)
    return (gain / (off**2).sum(axis=1, keepdims=True)).max(axis=1)


PLANTED = (
    ("step", 0.75),
    ("step", 1.0),
    ("step", 1.5),
    ("ramp", 0.5),
    ("ramp", 1.0),
    ("spread", 1.5),
    ("spread", 2.0),
)


def planted_table(semesters: int, only: str, runs: int, parameters: int, seeds: int) -> None:
    """Print how often a planted change is found, by the screen and by the oracle."""
    print(f"one of {parameters} parameters moved, {runs} runs, {semesters} semesters a row")
    print(
        f"{'change':<12}{'data':<16}{'found':>7}{'oracle':>8}{'form':>6}"
        f"{'start off, median/90 %':>24}{'covers':>8}{'others':>8}"
    )
    kinds = {"normal": normal, "AR(1) 0.3": autoregressive(0.3), "missing 20 %": missing}
    for number, (form, size) in enumerate(PLANTED):
        for kind, simulate in kinds.items():
            if only not in f"{form} {size} {kind}":
                continue
            rng = np.random.default_rng([2, number, seeds])
            hits: list[Drift] = []
            off, oracle_found, others = [], 0, 0
            for seed in range(semesters):
                semester = simulate(rng, runs, parameters)
                start = int(rng.uniform(0.25, 0.75 if form != "ramp" else 0.6) * runs)
                plant(semester[0], form, size, start)
                series = semester[0][:, 0]
                series = series[~np.isnan(series)]
                bound = oracle_bound(form, len(series) // 10 * 10, parameters)
                oracle_found += bool(oracle(series[None, :], form)[0] > bound)
                found = called(run_screen(semester, seed))
                others += any(drift.column != "c0" for drift in found)
                for drift in found:
                    if drift.column == "c0":
                        hits.append(drift)
                        off.append((abs(drift.since - start), *drift.since_interval, start))
            table = np.array(off).reshape(-1, 4)
            covers = np.mean((table[:, 1] <= table[:, 3]) & (table[:, 3] <= table[:, 2]))
            print(
                f"{form + ' ' + str(size):<12}{kind:<16}{100 * len(hits) / semesters:>5.0f} %"
                f"{100 * oracle_found / semesters:>6.0f} %"
                f"{100 * np.mean([drift.form == form for drift in hits]):>6.0f}"
                f"{np.median(table[:, 0]):>15.0f} / {np.quantile(table[:, 0], 0.9):<6.0f}"
                f"{100 * covers:>7.0f} %{100 * others / semesters:>6.1f} %",
                flush=True,
            )


TWO_CHANGES = {
    "there and back": ((0.33, 1.0), (0.67, -1.0)),
    "two steps up": ((0.33, 1.0), (0.67, 1.0)),
    "large and small": ((0.25, 1.0), (0.5, 0.67)),
}


def several_table(semesters: int, only: str, runs: int, parameters: int, seeds: int) -> None:
    """Print how often two changes of one parameter are both found, within 8 runs."""
    print(f"two steps in one of {parameters} parameters, {runs} runs, {semesters} semesters a row")
    print(f"{'changes':<18}{'size':>6}{'moved':>8}{'both':>8}{'more':>7}{'cycle':>7}{'covers':>8}")
    for number, (name, steps) in enumerate(TWO_CHANGES.items()):
        for size in (1.5, 2.0):
            if only not in name:
                continue
            rng = np.random.default_rng([4, number, int(10 * size), seeds])
            moved = both = more = cycles = covered = intervals = 0
            for seed in range(semesters):
                semester = normal(rng, runs, parameters)
                starts = [int((share + rng.uniform(-0.07, 0.07)) * runs) for share, _ in steps]
                for start, (_, part) in zip(starts, steps, strict=True):
                    plant(semester[0], "step", part * size, start)
                found = [d for d in called(run_screen(semester, seed)) if d.column == "c0"]
                cycles += any(d.form == "cycle" for d in found)
                for drift in found[:1]:
                    moved += 1
                    places = [change.since for change in drift.changes]
                    near = [min((abs(p - s) for p in places), default=runs) for s in starts]
                    both += max(near) <= 8
                    more += len(places) > 2
                    for change in drift.changes:
                        start = min(starts, key=lambda s, at=change.since: abs(s - at))
                        first, last = change.since_interval
                        covered += first <= start <= last
                        intervals += 1
            print(
                f"{name:<18}{size:>6}{100 * moved / semesters:>6.0f} %"
                f"{100 * both / semesters:>6.0f} %{100 * more / semesters:>5.0f} %"
                f"{100 * cycles / semesters:>5.0f} %{100 * covered / max(intervals, 1):>6.0f} %",
                flush=True,
            )


def power_table(semesters: int) -> None:
    """Print the power for a step halfway in one of 20 parameters, by the length of the log."""
    print(f"step halfway in one of 20 parameters, {semesters} semesters a number")
    for size in (0.5, 1.0, 2.0):
        row = []
        for runs in (25, 40, 60, 80, 110, 150, 200, 300):
            rng = np.random.default_rng([3, runs])
            hits = 0
            for seed in range(semesters):
                semester = normal(rng, runs, 20)
                plant(semester[0], "step", size, runs // 2)
                hits += any(drift.column == "c0" for drift in called(run_screen(semester, seed)))
            row.append(hits / semesters)
        print(f"    {size}: ({', '.join(f'{share:.3f}' for share in row)}),", flush=True)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--semesters", type=int, default=100)
    parser.add_argument("--part", choices=["calm", "planted", "several", "power"], default=None)
    parser.add_argument("--only", default="", help="rows whose name contains this")
    parser.add_argument("--runs", type=int, default=150)
    parser.add_argument("--parameters", type=int, default=15)
    parser.add_argument("--seed", type=int, default=0, help="draws other semesters")
    asked = parser.parse_args()
    size = (asked.semesters, asked.only, asked.runs, asked.parameters, asked.seed)
    if asked.part in (None, "calm"):
        calm_table(*size)
    if asked.part in (None, "planted"):
        planted_table(*size)
    if asked.part in (None, "several"):
        several_table(*size)
    if asked.part == "power":
        power_table(asked.semesters)
