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


def mixed_memory(rng: Generator, runs: int, parameters: int) -> Semester:
    """Let one parameter in three resemble the run before (lag-1 correlation 0.7)."""
    values = rng.normal(size=(runs, parameters))
    alike = values[:, ::3]
    alike[:] = autoregressive(0.7)(rng, runs, alike.shape[1])[0]
    return values, None


def of_all_kinds(rng: Generator, runs: int, parameters: int) -> Semester:
    """Correlated parameters of several kinds at once: skewed, rounded, alike, with gaps."""
    values = correlated(rng, runs, parameters)[0]
    values[:, 1::4] = np.exp(0.6 * values[:, 1::4])
    values[:, 2::4] = np.round(values[:, 2::4] * 2) / 2
    values[:, 3::4] += autoregressive(0.4)(rng, runs, values[:, 3::4].shape[1])[0]
    values[rng.random((runs, parameters)) < 0.08] = np.nan
    return values, None


def _teeth(rng: Generator, runs: int, shortest: int, longest: int) -> np.ndarray:
    """Share of the time between services that has passed; they come up to a sixth off."""
    period = int(rng.integers(shortest, longest))
    phase, length = int(rng.integers(0, period)), period
    passed = np.empty(runs)
    for run in range(runs):
        passed[run] = phase / period
        phase += 1
        if phase >= length:
            phase, length = 0, period + int(rng.integers(-period // 6, period // 6 + 1))
    return passed


def sawtooth(shortest: int, longest: int, noise: float = 1.0) -> Simulator:
    """First parameter rises by 1 to 4 from service to service, undeclared; the rest is stable."""

    def simulate(rng: Generator, runs: int, parameters: int) -> Semester:
        values = rng.normal(size=(runs, parameters))
        values[:, 0] *= noise
        values[:, 0] += rng.uniform(1, 4) * _teeth(rng, runs, shortest, longest)
        return values, None

    return simulate


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
    "some remember": mixed_memory,
    "of all kinds": of_all_kinds,
    "sawtooth clean": sawtooth(15, 45, noise=0.01),
    "sawtooth noisy": sawtooth(15, 45),
    "sawtooth, long teeth": sawtooth(45, 70),
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
