"""
How well the failure analysis names causes: simulated semesters with a known truth.

    nice -n 5 python tests/benchmark/semesters.py --semesters 50 --jobs 1

prints, per cell, how often the true cause is named first and claimed, wrong claims, coverage of
the share's interval, each with its standard error, and the same for linear logistic models, rank
tests, permutation importance of a random forest (with --forest), and an oracle that knows each
parameter's true shape but not which parameter is the cause: it tests them all, family-wise.
The loops go through joblib: any backend that joblib knows can carry them.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from joblib import Parallel, delayed

sys.path.insert(0, str(Path(__file__).parents[1] / "failures"))
sys.path.insert(0, str(Path(__file__).parent))
from conftest import make_log, make_parameter
from hazards import hazard_semester
from rivals import forest, linear_wald, oracle, rank_tests

from weakstep.failures.analysis import analyse
from weakstep.failures.null_model import logistic
from weakstep.runlog.model import RunLog

RUNS, WEEKS, OPERATORS = 110, 15, 6
PARAMETERS = 21
RATE = 0.17
YES_NO, PASSES, COUNTER, TWIN = 20, 19, 14, 16
WORLDS = ("knees", "optima", "curves", "cliffs")
# Shapes that no choice in the method was made with.
UNSEEN = ("roots", "saturations", "vees", "lanes")
STRENGTH = {"clear": 1.0, "weak": 0.6}
CAUSE_CELLS = [(world, size, "plain") for world in (*WORLDS, "unseen") for size in STRENGTH]
CAUSE_CELLS += [("mixed", "clear", trouble) for trouble in ("operators", "trend2", "missing20")]
NULL_TROUBLES = (
    *("plain", "operators", "trend2", "trend3", "jump2", "weeks"),
    *("missing20", "missing40", "unlogged"),
)
NULL_CELLS = [("mixed", "none", trouble) for trouble in NULL_TROUBLES]
HAZARDS = "hazards"
CAUSE_CELLS += [(HAZARDS, size, "plain") for size in STRENGTH]
NULL_CELLS += [(HAZARDS, "none", trouble) for trouble in ("plain", "swell")]


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
            "knees": np.maximum(u - place, 0.0),
            "optima": np.minimum(np.abs(u - 0.6 * place), 2.5) ** 1.5,
            "curves": np.tanh(1.3 * (u - place)),
            "cliffs": (u > place + 0.5).astype(float) + 0.15 * u,
            "roots": np.sqrt(np.maximum(u - place, 0.0)),
            "saturations": 1.0 - np.exp(-2.0 * np.maximum(u - place, 0.0)),
            "vees": np.abs(u - 0.6 * place),
            "lanes": (np.abs(u - 0.4 * place) > 1.1).astype(float),
        }[kind]
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
    operator = rng.choice(OPERATORS, RUNS, p=rng.dirichlet(np.full(OPERATORS, 3.0)))
    week = np.sort(rng.integers(0, WEEKS, RUNS))
    raw = parameters(rng, operator)
    curves = np.column_stack([true_curve(rng, world, column) for column in raw.T])
    cause = None if size == "none" else int(rng.integers(PARAMETERS))
    strength = STRENGTH.get(size, 0.0)
    logit = habits(rng, operator, 1.3 if trouble == "operators" else 0.35)
    logit = logit + rng.normal(0.0, 0.6, RUNS) + calendar_trouble(rng, trouble, week)
    effect = strength * curves[:, cause or 0]
    logit = logit + centre(logit + effect)
    tested = rng.integers(2, 4, RUNS)
    failed = rng.binomial(tested, logistic(logit + effect))
    if trouble == "unlogged":
        lost = rng.binomial(failed, np.where(operator == 0, 0.5, 0.15))
        failed, tested = failed - lost, np.maximum(tested - lost, 1)
    shown = raw.copy()
    if trouble.startswith("missing"):
        share = float(trouble[7:]) / 100.0
        keen = rng.uniform(0.2, 1.8, (OPERATORS, PARAMETERS))[operator]
        shown[rng.random(raw.shape) < share * keen] = np.nan
    columns = {f"x{j:02d}": shown[:, j] for j in range(PARAMETERS)}
    described = tuple(
        make_parameter(name, j, kind="yes_no" if j == YES_NO else "number")
        for j, name in enumerate(columns)
    )
    log = make_log(
        columns,
        {"bond": failed},
        tested,
        operator=operator.astype(str),
        week=week,
        parameters=described,
    )
    return Semester(log, cause, raw, curves, logit, strength)


def judge(
    cell: tuple[str, str, str], number: int, permutations: int, *, with_forest: bool = False
) -> dict[str, float]:
    """Analyse one semester and compare with its truth."""
    rng = np.random.default_rng([number, *(sum(map(ord, word)) for word in cell)])
    world, size, trouble = cell
    one = hazard_semester(rng, size, trouble) if world == HAZARDS else semester(rng, *cell)
    began = time.perf_counter()
    found = analyse(one.log, seed=number, permutations=permutations, ranking_only=True)
    took = time.perf_counter() - began
    factors = found.factors
    first = factors[0]
    truth = "" if one.cause is None else f"x{one.cause:02d}"
    group = {first.column, *first.alike}
    strong = [factor for factor in factors if factor.evidence == "strong"]
    wrong = [f for f in strong if truth not in {f.column, *f.alike}]
    share = first.preventable_share
    true = one.true_share(int(first.column[1:]), first.window)
    step = found.steps[0]
    held = [f for f in factors if f.step == step.step and f.column == truth]
    step_true = one.true_share(int(truth[1:]), held[0].window) if held else 0.0
    row = {
        "first": first.column == truth,
        "first or alike": truth in group,
        "claimed": any(f.column == truth or truth in f.alike for f in strong),
        "wrong first": bool(strong) and truth not in group,
        "wrong": bool(wrong),
        "linked p<=.05": first.p <= 0.05,
        "covers": share.lower - 1e-9 <= true <= share.upper + 1e-9,
        "bias": share.estimate - true,
        "width": share.upper - share.lower,
        "step covers": step.preventable_share.lower - 1e-9
        <= step_true
        <= step.preventable_share.upper + 1e-9,
        "seconds": took,
    }
    others = {"linear": linear_wald(one), "ranks": rank_tests(one)}
    if isinstance(one, Semester):
        others["oracle"] = oracle(one, number)
    if with_forest:
        row["forest first"] = forest(one, number) == one.cause
    for name, (named, claims) in others.items():
        row[f"{name} first"] = named == one.cause
        row[f"{name} claims"] = claims and named == one.cause
        row[f"{name} wrong"] = claims and named != one.cause
    return row


def main() -> None:
    """Run the cells that were asked for and print their means."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    asked.add_argument("--semesters", type=int, default=50)
    asked.add_argument("--jobs", type=int, default=1)
    asked.add_argument("--permutations", type=int, default=999)
    asked.add_argument("--cells", choices=["cause", "null", "all", HAZARDS], default="all")
    asked.add_argument("--forest", action="store_true")
    options = asked.parse_args()
    cells = {"cause": CAUSE_CELLS, "null": NULL_CELLS, "all": CAUSE_CELLS + NULL_CELLS}
    cells[HAZARDS] = [cell for cell in cells["all"] if cell[0] == HAZARDS]
    for cell in cells[options.cells]:
        rows = Parallel(n_jobs=options.jobs)(
            delayed(judge)(cell, number, options.permutations, with_forest=options.forest)
            for number in range(options.semesters)
        )
        print(" ".join(cell), "|", ", ".join(summary(rows)), flush=True)


def summary(rows: list[dict[str, float]]) -> list[str]:
    """Return mean and standard error of each measure over the semesters of a cell."""
    said = []
    for name in rows[0]:
        values = np.array([float(row[name]) for row in rows])
        said.append(f"{name} {values.mean():.3f} ({values.std() / np.sqrt(len(values)):.3f})")
    return said


if __name__ == "__main__":
    main()
