"""Simulated semesters with a known truth: parameters, causes of several shapes, trouble."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from conftest import make_log, make_parameter

from weakstep.failures.null_model import logistic
from weakstep.runlog.model import RunLog

USUAL_RUNS, WEEKS, OPERATORS = 110, 15, 6
RUNS = {"few": 60, "many": 300}
PARAMETERS = 21
RATE = 0.17
YES_NO, PASSES, COUNTER, TWIN = 20, 19, 14, 16
MOULD, MOULDS = PARAMETERS, 4
WORLDS = ("lines", "knees", "optima", "curves", "cliffs")
# Shapes that no choice in the method was made with.
UNSEEN = ("roots", "saturations", "vees", "lanes")
STRENGTH = {"clear": 1.0, "weak": 0.6}


@dataclass(frozen=True, eq=False)
class Semester:
    """A log and what is true of it."""

    log: RunLog
    cause: int | None
    raw: np.ndarray
    curves: np.ndarray
    logit_without: np.ndarray
    strength: float

    def true_share(self, column: int, window: object) -> float:
        """Share of expected failures that holding one parameter in *window* prevents."""
        if column == MOULD:
            return float("nan")
        if column != self.cause or window is None:
            return 0.0
        values = self.raw[:, column]
        lower = -np.inf if window.lower is None else window.lower
        upper = np.inf if window.upper is None else window.upper
        order = np.argsort(values)
        held = np.interp(np.clip(values, lower, upper), values[order], self.curves[order, column])
        now = logistic(self.logit_without + self.strength * self.curves[:, column])
        then = logistic(self.logit_without + self.strength * held)
        chips = self.log.runs.tested
        return float(1.0 - (chips @ then) / (chips @ now))


def habits(rng: np.random.Generator, operator: np.ndarray, sd: float) -> np.ndarray:
    """Return each run's share of its operator's habit."""
    return rng.normal(0.0, sd, operator.max() + 1)[operator]


def parameters(rng: np.random.Generator, operator: np.ndarray) -> np.ndarray:
    """Draw parameter values: normal, skewed, wear counters with a twin, drifting, few-valued."""
    runs = len(operator)
    time_ = np.linspace(-1.0, 1.0, runs)
    values = np.empty((runs, PARAMETERS))
    for j in range(PARAMETERS):
        noise = habits(rng, operator, 0.6) + rng.normal(size=runs)
        if j < 10:
            values[:, j] = 50.0 + 4.0 * noise
        elif j < COUNTER:
            values[:, j] = 45.0 * np.exp(0.5 * noise)
        elif j < TWIN:
            values[:, j] = (np.arange(runs) + rng.integers(40)) % rng.integers(25, 60) + 1.0
        elif j == TWIN:
            worn = values[:, COUNTER]
            values[:, j] = 75.0 + 8.0 * ((worn - worn.mean()) / worn.std() + 0.8 * noise)
        elif j < PASSES:
            values[:, j] = 22.0 + 2.0 * (noise + rng.choice([-1.5, 1.5]) * time_)
        elif j == PASSES:
            values[:, j] = np.clip(np.round(2.0 + noise), 0, 5)
        else:
            values[:, j] = rng.random(runs) < logistic(-1.7 + 0.7 * habits(rng, operator, 1.0))
    return values


def true_curve(rng: np.random.Generator, world: str, values: np.ndarray) -> np.ndarray:
    """Return the shape a parameter has if it is the cause, standardised over the runs."""
    if len(np.unique(values)) <= 2:
        raw = values.astype(float)
    else:
        u = np.log(values) if (values > 0).all() and values.std() > 0.3 * values.mean() else values
        u = (u - u.mean()) / u.std() * rng.choice([-1.0, 1.0])
        kind = str(rng.choice({"mixed": WORLDS, "unseen": UNSEEN}.get(world, (world,))))
        place = rng.uniform(-0.5, 0.6)
        raw = {
            "lines": u,
            "knees": np.maximum(u - place, 0.0),
            "optima": np.minimum(np.abs(u - 0.6 * place), 2.5) ** 1.5,
            "curves": np.tanh(1.3 * (u - place)),
            "cliffs": (u > place + 0.5).astype(float) + 0.15 * u,
            "roots": np.sqrt(np.maximum(u - place, 0.0)),
            "saturations": 1.0 - np.exp(-2.0 * np.maximum(u - place, 0.0)),
            "vees": np.abs(u - 0.6 * place),
            "lanes": (np.abs(u - 0.4 * place) > 1.1).astype(float),
        }[kind]
    return standardised(raw)


def standardised(raw: np.ndarray) -> np.ndarray:
    """Return *raw* less its mean, in standard deviations."""
    return np.asarray((raw - raw.mean()) / raw.std())


def calendar_trouble(rng: np.random.Generator, trouble: str, week: np.ndarray) -> np.ndarray:
    """Return what an unlogged change in time adds to the logit."""
    time_ = np.linspace(0.0, 1.0, len(week))
    sign = rng.choice([-1.0, 1.0])
    if trouble.startswith("trend"):
        return np.asarray(sign * float(trouble[5:]) * time_ ** rng.choice([0.6, 1.0, 2.0]))
    if trouble.startswith("jump"):
        return np.asarray(sign * float(trouble[4:]) * (time_ > rng.uniform(0.25, 0.75)))
    if trouble == "weeks":
        return rng.normal(0.0, 1.0, WEEKS)[week]
    return np.zeros(len(week))


def centre(logit: np.ndarray) -> float:
    """Return the intercept that gives the mean failure rate."""
    low, high = -12.0, 6.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if logistic(logit + middle).mean() < RATE else (low, middle)
    return low


def semester(rng: np.random.Generator, world: str, size: str, trouble: str) -> Semester:
    """Draw one semester."""
    runs = RUNS.get(trouble, USUAL_RUNS)
    operator = rng.choice(OPERATORS, runs, p=rng.dirichlet(np.full(OPERATORS, 3.0)))
    week = np.sort(rng.integers(0, WEEKS, runs))
    raw = parameters(rng, operator)
    mould = rng.integers(0, MOULDS, runs)
    worn_out = standardised((mould == 0).astype(float))
    curves = np.column_stack([*(true_curve(rng, world, column) for column in raw.T), worn_out])
    cause = None if size == "none" else int(rng.integers(PARAMETERS))
    cause = MOULD if trouble == "mould" else cause
    strength = STRENGTH.get(size, 0.0)
    logit = habits(rng, operator, 1.3 if trouble == "operators" else 0.35)
    logit = logit + rng.normal(0.0, 0.6, runs) + calendar_trouble(rng, trouble, week)
    effect = strength * curves[:, cause or 0]
    logit = logit + centre(logit + effect)
    tested = rng.integers(2, 4, runs)
    failed = rng.binomial(tested, logistic(logit + effect))
    if trouble == "unlogged":
        lost = rng.binomial(failed, np.where(operator == 0, 0.5, 0.15))
        failed, tested = failed - lost, np.maximum(tested - lost, 1)
    shown = logged(rng, raw, operator, trouble)
    columns = {f"x{j:02d}": shown[:, j] for j in range(PARAMETERS)}
    expected = expectations(rng, raw, curves, trouble)
    described = [
        make_parameter(name, j, kind="yes_no" if j == YES_NO else "number", worse_when=expected[j])
        for j, name in enumerate(columns)
    ]
    described.append(make_parameter(f"x{MOULD:02d}", step="", role="identity", kind="category"))
    log = make_log(
        columns,
        {"bond": failed},
        tested,
        operator=operator.astype(str),
        week=week,
        categories={f"x{MOULD:02d}": np.array([f"M{one}" for one in mould])},
        parameters=tuple(described),
    )
    return Semester(log, cause, raw, curves, logit, strength)


def expectations(
    rng: np.random.Generator, raw: np.ndarray, curves: np.ndarray, trouble: str
) -> list[str]:
    """
    Return what the description expects of each parameter: nothing, or mostly what is true.

    "expected": right for three parameters of four, as the method supposes; "contrary": for none.
    """
    if trouble not in ("expected", "contrary"):
        return [""] * PARAMETERS
    words = []
    for j in range(PARAMETERS):
        ordered = curves[np.argsort(raw[:, j], kind="stable"), j]
        low, middle, high = (part.mean() for part in np.array_split(ordered, (20, -20)))
        right = "high" if high > low else "low"
        if j != YES_NO and min(low, high) > middle + 0.3:
            right = "both_ends"
        others = [
            word for word in ("high", "low", "both_ends")[: 2 + (j != YES_NO)] if word != right
        ]
        wrong = trouble == "contrary" or rng.random() < 0.25
        words.append(str(rng.choice(others)) if wrong else right)
    return words


def logged(
    rng: np.random.Generator, raw: np.ndarray, operator: np.ndarray, trouble: str
) -> np.ndarray:
    """Leave values out: at random, or where operators differ in what they forget."""
    shown = raw.copy()
    if trouble.startswith("missing"):
        shown[rng.random(raw.shape) < float(trouble[7:]) / 100.0] = np.nan
    if trouble.startswith("forgotten"):
        keen = rng.uniform(0.2, 1.8, (OPERATORS, PARAMETERS))[operator]
        shown[rng.random(raw.shape) < float(trouble[9:]) / 100.0 * keen] = np.nan
    return shown
