"""
Semesters of another kind: failures by competing hazards, correlated habits, few operators.

Nothing in the method was chosen with these. A chip fails with probability 1 - exp(-hazard), the
hazard being a background plus the cause's own part, which switches on beyond a threshold, grows
with the square, or lies in the lower tail; parameters wander (AR(1) 0.4), share a bench-wide mood,
have heavy tails or are read in coarse steps; three operators; chips of one run share a gamma
frailty; trouble in time is a slow swell of the background.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from conftest import make_log, make_parameter

from weakstep.runlog.model import RunLog

RUNS, WEEKS, OPERATORS, PARAMETERS = 120, 16, 3, 24
RATE = 0.16
KINDS = ("threshold", "square", "lower tail")
PREVENTABLE = {"clear": 0.55, "weak": 0.35, "none": 0.0}


@dataclass(frozen=True, eq=False)
class HazardSemester:
    """A log and what is true of it."""

    log: RunLog
    cause: int | None
    raw: np.ndarray
    curve: np.ndarray
    background: np.ndarray

    def true_share(self, column: int, window: object) -> float:
        """Share of expected failures that holding one parameter in *window* prevents."""
        if column != self.cause or window is None:
            return 0.0
        values = self.raw[:, column]
        lower = -np.inf if window.lower is None else window.lower
        upper = np.inf if window.upper is None else window.upper
        order = np.argsort(values)
        held = np.interp(np.clip(values, lower, upper), values[order], self.curve[order])
        chips = self.log.runs.tested
        now = chips @ (1.0 - np.exp(-self.background - self.curve))
        then = chips @ (1.0 - np.exp(-self.background - held))
        return float(1.0 - then / now)


def wandering(rng: np.random.Generator) -> np.ndarray:
    """Draw parameters that wander, move together, have heavy tails or coarse readings."""
    noise = rng.normal(size=(RUNS, PARAMETERS))
    for run in range(1, RUNS):
        noise[run] = 0.4 * noise[run - 1] + np.sqrt(1 - 0.4**2) * noise[run]
    mood = rng.normal(size=RUNS)
    noise[:, 12:16] = 0.8 * noise[:, 12:16] + 0.6 * mood[:, None]
    noise[:, 16:20] = rng.standard_t(3, size=(RUNS, 4))
    noise[:, 20:] = np.round(noise[:, 20:] * 1.5) / 1.5
    return noise


def hazard_of(rng: np.random.Generator, values: np.ndarray) -> np.ndarray:
    """Return the cause's part of the hazard, in arbitrary units."""
    u = (values - np.median(values)) / (np.quantile(values, 0.84) - np.quantile(values, 0.16)) * 2
    kind = rng.choice(KINDS)
    if kind == "threshold":
        return np.asarray((u > rng.uniform(0.3, 1.0)) * (1.0 + 0.5 * np.maximum(u, 0.0)))
    if kind == "square":
        return np.asarray(np.minimum((u - rng.uniform(-0.5, 0.5)) ** 2, 6.0))
    return np.asarray(np.maximum(-u - rng.uniform(-0.3, 0.6), 0.0))


def hazard_semester(rng: np.random.Generator, size: str, trouble: str) -> HazardSemester:
    """Draw one semester; the cause makes a set share of the failures."""
    operator = rng.choice(OPERATORS, RUNS, p=[0.5, 0.3, 0.2])
    week = np.sort(rng.integers(0, WEEKS, RUNS))
    habits = rng.normal(0.0, 0.6, (OPERATORS, PARAMETERS))[operator]
    raw = 40.0 + 5.0 * (wandering(rng) + habits)
    cause = None if size == "none" else int(rng.integers(PARAMETERS))
    part = hazard_of(rng, raw[:, cause or 0])
    base = rng.gamma(4.0, 0.25, RUNS) * np.exp(rng.normal(0.0, 0.3, OPERATORS)[operator])
    if trouble == "swell":
        base = base * np.exp(1.2 * np.sin(np.linspace(0, rng.uniform(2, 6), RUNS)))
    share = PREVENTABLE[size]
    scale = -np.log(1.0 - RATE)
    background = base / base.mean() * scale * (1.0 - share)
    curve = part / part.mean() * scale * share
    tested = rng.integers(1, 5, RUNS)
    failed = rng.binomial(tested, 1.0 - np.exp(-background - curve))
    columns = {f"x{j:02d}": raw[:, j] for j in range(PARAMETERS)}
    described = tuple(make_parameter(name, j) for j, name in enumerate(columns))
    log = make_log(
        columns,
        {"bond": failed},
        tested,
        operator=operator.astype(str),
        week=week,
        parameters=described,
    )
    return HazardSemester(log, cause, raw, curve, background)
