"""Simulated semesters for the benchmark of the drift screen: kinds of data, planted changes."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

Semester = tuple[np.ndarray, np.ndarray | None]
Generator = np.random.Generator
Simulator = Callable[[Generator, int, int], Semester]


def normal(rng: Generator, runs: int, parameters: int) -> Semester:
    """Independent normal values."""
    return rng.normal(size=(runs, parameters)), None


def skewed(rng: Generator, runs: int, parameters: int) -> Semester:
    """Gamma values of shape 1 to 4: skewness 1 to 2."""
    return rng.gamma(rng.uniform(1, 4, parameters), size=(runs, parameters)), None


def rounded(rng: Generator, runs: int, parameters: int) -> Semester:
    """Round normal values to whole standard deviations."""
    return np.round(rng.normal(size=(runs, parameters))), None


def few_valued(rng: Generator, runs: int, parameters: int) -> Semester:
    """Three values, the commonest in 60 to 85 % of the runs."""
    common = rng.uniform(0.6, 0.85, parameters)
    draw = rng.random((runs, parameters))
    return np.where(draw < common, 30.0, np.where(draw < (1 + common) / 2, 25.0, 40.0)), None


def correlated(rng: Generator, runs: int, parameters: int) -> Semester:
    """Parameters that share a common part: correlation 0.7."""
    common = rng.normal(size=(runs, 1))
    return np.sqrt(0.7) * common + np.sqrt(0.3) * rng.normal(size=(runs, parameters)), None


def autoregressive(phi: float) -> Simulator:
    """Values that resemble the one before, with lag-1 correlation *phi*."""

    def simulate(rng: Generator, runs: int, parameters: int) -> Semester:
        values = rng.normal(size=(runs, parameters))
        for run in range(1, runs):
            values[run] = phi * values[run - 1] + np.sqrt(1 - phi**2) * values[run]
        return values, None

    return simulate


def heavy_tailed(rng: Generator, runs: int, parameters: int) -> Semester:
    """Student's t with 3 degrees of freedom."""
    return rng.standard_t(3, size=(runs, parameters)), None


def missing(rng: Generator, runs: int, parameters: int) -> Semester:
    """Leave 20 % of normal values out, a third of these in one stretch."""
    values = rng.normal(size=(runs, parameters))
    values[rng.random((runs, parameters)) < 0.14] = np.nan
    for column in range(parameters):
        start = rng.integers(0, runs - runs // 15)
        values[start : start + runs // 15, column] = np.nan
    return values, None


def operators(rng: Generator, runs: int, parameters: int) -> Semester:
    """Six operators with habits of their own (sd 1) and shares that shift over the semester."""
    early, late = rng.dirichlet(np.full(6, 2.0), size=2)
    weight = np.linspace(0, 1, runs)[:, None]
    share = np.cumsum((1 - weight) * early + weight * late, axis=1)
    who = np.minimum((rng.random((runs, 1)) > share).sum(axis=1), 5)
    habits = rng.normal(size=(6, parameters))
    return rng.normal(size=(runs, parameters)) + habits[who], np.array(list("ABCDEF"))[who]


def shift_work(rng: Generator, runs: int, parameters: int) -> Semester:
    """Three operators who follow each other with some overlap, each with habits of their own."""
    place = np.arange(runs) / runs + rng.normal(scale=0.12, size=runs)
    who = np.clip((3 * place).astype(int), 0, 2)
    habits = rng.normal(size=(3, parameters))
    return rng.normal(size=(runs, parameters)) + habits[who], np.array(list("ABC"))[who]


def sawtooth(rng: Generator, runs: int, parameters: int) -> Semester:
    """One parameter rises from service to service with noise, undeclared; the others are stable."""
    values = rng.normal(size=(runs, parameters))
    phase, height = 0, rng.uniform(1, 4)
    period = rng.integers(15, 45)
    for run in range(runs):
        values[run, 0] += height * phase / period
        phase = 0 if phase >= period + rng.integers(-3, 4) else phase + 1
    return values, None


CALM: dict[str, Simulator] = {
    "normal": normal,
    "skewed": skewed,
    "rounded": rounded,
    "few-valued": few_valued,
    "correlated 0.7": correlated,
    "AR(1) 0.3": autoregressive(0.3),
    "AR(1) 0.5": autoregressive(0.5),
    "heavy tails t3": heavy_tailed,
    "missing 20 %": missing,
    "operator mixture": operators,
    "operators in turn": shift_work,
    "noisy sawtooth": sawtooth,
}


def plant(values: np.ndarray, form: str, size: float, start: int) -> None:
    """Change the first parameter from run *start* on, in place."""
    changed = values[start:, 0]
    if form == "step":
        changed += size
    elif form == "ramp":  # size is the rise per 25 runs
        changed += size * np.arange(1, len(changed) + 1) / 25
    else:
        changed *= size
