"""
The invented line behind the demo semester: who ran what, with which settings, and what failed.

Nothing here is measured; every number is chosen. What is planted, in one place:

- a cause with a knee: `delay_s` harms only beyond 65 s, in proportion to its logarithm;
- an optimum: `plasma_s` harms in proportion to the square of log(plasma_s / 35 s);
- an innocent that looks guilty: OP6 weighs carelessly (`ratio` off and scattered) and loses more
  chips, but for a reason nobody logs; the ratio itself harms nothing;
- a slow drift that harms nothing: `pumpdown_s` grows by 1.5 % a week;
- a step that harms nothing: `cure_c` reads 4.5 C more from week 10 on, after an oven repair;
- maintenance cycles: `oil_hours` and `punch_holes` rise and fall back at each service. A worn
  punch harms ports a little; pump oil harms nothing;
- chips of one plasma run share an unlogged part of their fate (sd 0.45 on the logit).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

FIRST_DAY = datetime(2026, 3, 2)  # a Monday
WEEKS = 15
RUNS_PER_WEEK = (8, 8, 7, 8, 8, 7, 8, 8, 8, 7, 8, 8, 7, 8, 8)
OPERATORS = ("OP1", "OP2", "OP3", "OP4", "OP5", "OP6")
SHARE_OF_RUNS = (0.19, 0.18, 0.17, 0.15, 0.13, 0.18)
SKILL = {"OP1": 0.0, "OP2": -0.1, "OP3": 0.1, "OP4": -0.2, "OP5": 0.1, "OP6": 1.3}
RATIO = dict.fromkeys(OPERATORS, (10.0, 0.12)) | {"OP6": (10.6, 0.40)}
PACE = {"OP1": 0.0, "OP2": -0.1, "OP3": 0.1, "OP4": 0.05, "OP5": -0.05, "OP6": 0.0}
MOULDS = ("M1", "M2", "M3", "M4")

BOND_BASE = -4.0
DELAY_KNEE_S, DELAY_SLOPE = 65.0, 3.6
PLASMA_BEST_S, PLASMA_CURVATURE = 35.0, 10.0
RUN_SD = 0.45
PORT_BASE, PORT_PER_100_HOLES = -4.4, 0.8
OTHER_RATE = 0.012
PUMPDOWN_PER_WEEK = 0.015
OVEN_STEP_C, OVEN_STEP_WEEK = 4.5, 9  # weeks count from 0
OIL_CHANGE_WEEKS = (5, 11)


Value = float | str | datetime


@dataclass(frozen=True)
class Chip:
    """One chip as it really was: canonical column name -> value, in the description's units."""

    values: dict[str, Value]


def amount(values: dict[str, Value], name: str) -> float:
    """Return a number among the values of a run or chip."""
    value = values[name]
    if not isinstance(value, float):
        raise TypeError(name)
    return value


def _start_times(rng: np.random.Generator) -> list[datetime]:
    """Spread the runs of each week over its working days, between 9 and 17 h."""
    starts = []
    for week, count in enumerate(RUNS_PER_WEEK):
        slots = np.sort(rng.choice(5 * 24, size=count, replace=False))
        for slot in slots:
            day, part = divmod(int(slot), 24)
            minutes = 9 * 60 + 20 * part + int(rng.integers(0, 15))
            starts.append(FIRST_DAY + timedelta(days=7 * week + day, minutes=minutes))
    return starts


def _oil_hours(starts: list[datetime]) -> list[float]:
    """Pump hours since the oil change: 9 h a working day, back to 0 in the change weeks."""
    changes = [FIRST_DAY + timedelta(days=7 * week, hours=8) for week in OIL_CHANGE_WEEKS]
    since = FIRST_DAY - timedelta(days=49)
    hours = []
    for start in starts:
        since = max([since, *(change for change in changes if change <= start)])
        days = (start - since).total_seconds() / 86400
        hours.append(max(1.0, days * 5 / 7 * 9))
    return hours


def _run_settings(week: float, operator: str, rng: np.random.Generator) -> dict[str, Value]:
    """Everything that is set or read once per run, in the units of the description."""
    base = float(rng.choice([20.0, 30.0], p=[0.4, 0.6])) + float(rng.normal(0, 0.25))
    ratio = float(rng.normal(*RATIO[operator]))
    delay = 45 * np.exp(PACE[operator] + 0.55 * rng.normal())
    if rng.random() < 0.03:
        delay = rng.uniform(600, 1100)  # the phone, a stuck lid
    cure_h = rng.normal(2.3, 0.3) if rng.random() > 0.08 else rng.normal(15, 1.2)
    return {
        "base_g": base,
        "agent_g": base / ratio,
        "mix_min": max(2.0, rng.normal(4.2, 0.8)),
        "degas_min": max(15.0, rng.normal(36, 8)),
        "vacuum_kpa": max(3.0, rng.normal(8, 1.3)),
        "cure_c": 70 + 1.2 * rng.normal() + OVEN_STEP_C * (int(week) >= OVEN_STEP_WEEK),
        "cure_h": max(1.5, cure_h),
        "pdms_age_h": float(np.clip(24 * np.exp(0.8 * rng.normal()), 2, 160)),
        "tape_passes": float(rng.choice([1, 2, 3], p=[0.3, 0.5, 0.2])),
        "dry_min": max(2.0, rng.normal(10, 3.5)),
        "pumpdown_s": 75 * (1 + PUMPDOWN_PER_WEEK) ** week * np.exp(0.07 * rng.normal()),
        "pressure_pa": rng.normal(60, 6),
        "power_w": rng.normal(30, 1.0),
        "plasma_s": float(np.clip(PLASMA_BEST_S * np.exp(0.25 * rng.normal()), 14, 80)),
        "delay_s": float(delay),
        "bake_min": max(10.0, rng.normal(30, 8)) if rng.random() > 0.06 else 0.0,
        "wait_h": max(0.5, rng.normal(1.2, 0.3) if rng.random() < 0.4 else rng.normal(18, 2)),
        "room_c": rng.normal(22, 1.0),
        "rh_pct": float(np.clip(rng.normal(42, 7), 22, 66)),
        "mould_id": str(rng.choice(MOULDS)),
        "operator": operator,
    }


def bond_logit(delay_s: float, plasma_s: float, operator: str) -> float:
    """Log-odds of a bond failure as planted, without the run's own unlogged part."""
    beyond_knee = max(0.0, float(np.log(delay_s / DELAY_KNEE_S)))
    off_best = float(np.log(plasma_s / PLASMA_BEST_S))
    harm = DELAY_SLOPE * min(beyond_knee, 1.5) + PLASMA_CURVATURE * off_best**2
    return BOND_BASE + harm + SKILL[operator]


def _outcome(run: dict[str, Value], fate: float, rng: np.random.Generator) -> tuple[str, str]:
    """Outcome mode of one chip and where it failed."""
    delay, plasma, holes = (amount(run, name) for name in ("delay_s", "plasma_s", "punch_holes"))
    bond = _chance(bond_logit(delay, plasma, str(run["operator"])) + fate)
    port = _chance(PORT_BASE + PORT_PER_100_HOLES * holes / 100)
    if rng.random() < bond:
        if plasma > 1.3 * PLASMA_BEST_S:
            return str(rng.choice(["partial_bond", "delamination"])), "whole face"
        shares = [0.4, 0.3, 0.15, 0.15]
        modes = ["no_bond", "partial_bond", "delamination", "leak"]
        return str(rng.choice(modes, p=shares)), str(rng.choice(["whole face", "edge", "corner"]))
    if rng.random() < port:
        return str(rng.choice(["port_leak", "tear"], p=[0.7, 0.3])), "port"
    if rng.random() < OTHER_RATE:
        return str(rng.choice(["bubbles", "broken", "blocked"])), ""
    return "good", ""


def _chance(logit: float) -> float:
    return float(1 / (1 + np.exp(-logit)))


def chips_of_the_semester(rng: np.random.Generator) -> list[Chip]:
    """Return all chips of the semester, in time order."""
    starts = _start_times(rng)
    operators = rng.choice(OPERATORS, size=len(starts), p=SHARE_OF_RUNS)
    oil = _oil_hours(starts)
    chips = []
    holes, worn_at, punch = 24.0, 120.0, 1
    for number, (start, operator) in enumerate(zip(starts, operators, strict=True), start=1):
        week = (start - FIRST_DAY).total_seconds() / 604800
        run = _run_settings(week, str(operator), rng)
        made = 2 + int(rng.random() < 0.6)
        if holes > worn_at:
            holes, worn_at, punch = 0.0, float(rng.uniform(90, 170)), punch + 1
        holes += 4 * made
        run |= {
            "run_id": f"R{number:03d}",
            "batch_id": f"B{number:03d}",
            "started_at": start,
            "kit_lot": f"K{1 + int(week) // 5}",
            "punch_id": f"P{punch}",
            "punch_holes": holes,
            "oil_hours": oil[number - 1],
        }
        fate = RUN_SD * float(rng.normal())
        for position in range(1, made + 1):
            chip = run | {"chip_id": f"C{number:03d}-{position}"}
            chip["delay_s"] = amount(run, "delay_s") * float(np.exp(0.08 * rng.normal()))
            chip["outcome"], chip["failure_location"] = _outcome(chip, fate, rng)
            chips.append(Chip(chip))
    return chips
