"""
How well the failure analysis names causes: simulated semesters with a known truth.

    python tests/benchmark/semesters.py --semesters 100 --jobs 2

prints, per cell, how often the true cause is named first and claimed, wrong claims, coverage of
the share's interval, each with its standard error, and the same for linear logistic models, rank
tests, permutation importance of a random forest (with --forest), and two oracles that know each
parameter's true shape but not which parameter is the cause: they test them all, family-wise. The
first also knows the direction in which each would act, and what nobody logged; the second, "of
shapes", does not: the gap between them is the worth of what no log tells. In cells where nothing
goes on only the claims are worked out: "linked" counts what would be claimed without the calendar's
gates. The loops go through joblib: any backend that joblib knows can carry them.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import numpy as np
from joblib import Parallel, delayed

sys.path.insert(0, str(Path(__file__).parents[1] / "failures"))
sys.path.insert(0, str(Path(__file__).parent))
from hazards import HazardSemester, hazard_semester
from rivals import forest, linear_wald, oracle, oracle_of_shapes, rank_tests
from semesters_drawn import STRENGTH, WORLDS, Semester, semester

from weakstep.failures.candidates import gather, pool_small_strata
from weakstep.failures.links import Outcomes
from weakstep.failures.permuting import draw_orders
from weakstep.failures.ranking import rank
from weakstep.failures.screen import screen
from weakstep.interval import Interval

HAZARDS = "hazards"
CAUSE_CELLS = [
    (world, size, "plain") for world in (*WORLDS, "unseen", HAZARDS) for size in STRENGTH
]
CAUSE_CELLS += [
    ("mixed", "clear", how)
    for how in ("few", "many", "mould", "operators", "trend2", "trend3", "missing20", "forgotten40")
]
CAUSE_CELLS += [("mixed", "weak", how) for how in ("plain", "expected", "contrary")]
NULL_TROUBLES = (
    *("plain", "operators", "trend2", "trend3", "jump2", "weeks", "few", "many"),
    *("missing10", "missing20", "missing40", "forgotten10", "forgotten20", "forgotten40"),
    *("unlogged", "expected"),
)
NULL_CELLS = [("mixed", "none", trouble) for trouble in NULL_TROUBLES]
NULL_CELLS += [(HAZARDS, "none", trouble) for trouble in ("plain", "swell")]


def judge(
    cell: tuple[str, str, str],
    number: int,
    permutations: int,
    *,
    with_rivals: bool = True,
    with_forest: bool = False,
) -> dict[str, float]:
    """Analyse one semester and compare with its truth."""
    rng = np.random.default_rng([number, *(sum(map(ord, word)) for word in cell)])
    world, size, trouble = cell
    one = hazard_semester(rng, size, trouble) if world == HAZARDS else semester(rng, *cell)
    look = nothing_found if one.cause is None else cause_found
    row = look(one, number, permutations)
    others = {"linear": linear_wald(one), "ranks": rank_tests(one)} if with_rivals else {}
    if with_rivals and isinstance(one, Semester):
        others["oracle"] = oracle(one, number)
        others["oracle of shapes"] = oracle_of_shapes(one, number)
    for name, (named, claims) in others.items():
        if one.cause is not None:
            row[f"{name} first"] = named == one.cause
            row[f"{name} claims"] = claims and named == one.cause
        row[f"{name} wrong"] = claims and named != one.cause
    if with_forest:
        row["forest first"] = forest(one, number) == one.cause
    return row


class Asked:
    """What the ranking is given of a semester."""

    def __init__(self, one: Semester | HazardSemester, number: int):
        self.process, self.runs = one.log.process, one.log.runs
        self.strata = pool_small_strata(self.runs.operator.astype(str))
        self.candidates = gather(self.process, self.runs, self.strata)[0]
        failed = dict(self.runs.failed)
        self.outcomes = Outcomes(self.runs.tested, failed, self.runs.operator, self.runs.week)
        self.rng = np.random.default_rng(number)


def nothing_found(
    one: Semester | HazardSemester, number: int, permutations: int
) -> dict[str, float]:
    """Look for claims where there is no cause; shares are not needed for that."""
    began = time.process_time()
    asked = Asked(one, number)
    orders = draw_orders(asked.strata, permutations, asked.rng)
    links = screen(asked.outcomes, asked.candidates, orders)["bond"]
    return {
        "wrong": any(link.evidence == "strong" for link in links),
        "linked": any(link.claimed is not None for link in links),
        "CPU seconds": time.process_time() - began,
    }


def cause_found(one: Semester | HazardSemester, number: int, permutations: int) -> dict[str, float]:
    """Rank factors and steps and compare them with the cause."""
    began = time.process_time()
    asked = Asked(one, number)
    found = rank(
        *(asked.process, asked.runs, asked.candidates, asked.outcomes, asked.strata),
        permutations,
        asked.rng,
    )
    took = time.process_time() - began
    truth = f"x{one.cause:02d}"
    first, strong = found.factors[0], [f for f in found.factors if f.evidence == "strong"]
    share, true = first.preventable_share, one.true_share(int(first.column[1:]), first.window)
    step = found.steps[0]
    held = [f for f in found.factors if f.step == step.step and f.column == truth]
    step_true = one.true_share(one.cause, held[0].window) if held else 0.0
    return {
        "first": first.column == truth,
        "first or alike": truth in {first.column, *first.alike},
        "claimed": any(truth in {f.column, *f.alike} for f in strong),
        "wrong first": bool(strong) and truth not in {first.column, *first.alike},
        "wrong": any(truth not in {f.column, *f.alike} for f in strong),
        "covers": covers(share, true),
        "bias": share.estimate - true,
        "width": share.upper - share.lower,
        "strong covers": covers(share, true) if strong else np.nan,
        "step covers": covers(step.preventable_share, step_true),
        "CPU seconds": took,
    }


def covers(share: Interval, true: float) -> float:
    """Whether the interval holds the true share; NaN when that is not known."""
    if np.isnan(true):
        return np.nan
    return float(share.lower - 1e-9 <= true <= share.upper + 1e-9)


def main() -> None:
    """Run the cells that were asked for and print their means."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    asked.add_argument("--semesters", type=int, default=100)
    asked.add_argument("--from", type=int, default=0, dest="first", help="number of the first one")
    asked.add_argument("--jobs", type=int, default=1)
    asked.add_argument("--permutations", type=int, default=999)
    asked.add_argument("--cells", default="all", help="cause, null, all, or words of one cell")
    asked.add_argument("--no-rivals", action="store_true")
    asked.add_argument("--forest", action="store_true")
    options = asked.parse_args()
    every = CAUSE_CELLS + NULL_CELLS
    cells = {"cause": CAUSE_CELLS, "null": NULL_CELLS, "all": every}.get(options.cells)
    if cells is None:
        words = set(options.cells.split())
        cells = [cell for cell in every if words <= set(cell)]
    for cell in cells:
        rows = Parallel(n_jobs=options.jobs)(
            delayed(judge)(
                *(cell, number, options.permutations),
                with_rivals=not options.no_rivals,
                with_forest=options.forest,
            )
            for number in range(options.first, options.first + options.semesters)
        )
        print(" ".join(cell), "|", ", ".join(summary(rows)), flush=True)


def summary(rows: list[dict[str, float]]) -> list[str]:
    """Return mean and standard error of each measure over the semesters of a cell."""
    said = []
    for name in rows[0]:
        values = np.array([float(row[name]) for row in rows])
        values = values[~np.isnan(values)]
        if len(values):
            said.append(f"{name} {values.mean():.3f} ({values.std() / np.sqrt(len(values)):.3f})")
    return said


if __name__ == "__main__":
    main()
