"""A planned trial as data, and the file that keeps it beside its sheet."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from weakstep.errors import LogError
from weakstep.trials.designs import from_generators

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

SCHEMA = "weakstep.trial/1"
FAILURES = "failures"


@dataclass(frozen=True)
class PlannedRun:
    """One run of a trial: its name, block, coded levels and the values to set."""

    run_id: str
    block: int
    coded: tuple[float, ...]
    settings: tuple[float, ...]


@dataclass(frozen=True)
class TrialPlan:
    """
    A planned trial; everything that its analysis needs.

    Attributes
    ----------
    columns : tuple of str
        What is varied.
    levels : tuple of tuples of float
        Its values, rising.
    outcome : str
        A failure family, "failures" for all of them, or a measured column.
    generators : str
        Of a fractional design; empty for all combinations.
    resolution : str
        "full", "IV" ...
    runs : tuple of PlannedRun
        In the order to carry out.
    blocks : int
    block_by : str
        What a block is: "day", "week", "operator" ...
    chips : int
        A run.
    rates : tuple of two floats or None
        Failure rates at the two levels that the size is computed for.
    difference : float or None
        Difference of a measured outcome that the size is computed for.
    correlation : float
        Of chips within a run, from the log: of their failing, or of what is measured.
    power, alpha : float
        Chance to see it, by simulation; two-sided chance of a false "yes".
    seed : int
        Of the order of the runs.
    cautions : tuple of str
    deviation : float or None
        One standard deviation of means of runs of `chips` chips of a measured outcome, from the
        log.
    runs_a_day : float or None
        That the lab makes on a day with runs.
    correlation_seen : bool
        Whether the log tells the correlation; else a usual one stands in, or chips are taken alike.
    """

    columns: tuple[str, ...]
    levels: tuple[tuple[float, ...], ...]
    outcome: str
    generators: str
    resolution: str
    runs: tuple[PlannedRun, ...]
    blocks: int
    block_by: str
    chips: int
    rates: tuple[float, float] | None
    difference: float | None
    correlation: float
    power: float
    alpha: float
    seed: int
    cautions: tuple[str, ...]
    deviation: float | None = None
    runs_a_day: float | None = None
    correlation_seen: bool = True

    @property
    def two_levels(self) -> bool:
        """Whether every parameter is run at two levels."""
        return all(len(values) == 2 for values in self.levels)

    @property
    def centre_runs(self) -> int:
        """Runs with every parameter at its middle, beside a two-level design."""
        return sum(not any(run.coded) for run in self.runs) if self.two_levels else 0


def plan_json(plan: TrialPlan) -> str:
    """Return the plan for `read_plan`, schema weakstep.trial/1."""
    return json.dumps({"schema": SCHEMA, **asdict(plan)}, indent=1, ensure_ascii=False) + "\n"


def read_plan(path: Path) -> TrialPlan:
    """
    Read a plan that `plan_json` wrote.

    Raises
    ------
    LogError
        The file is missing, no plan, or one whose parts do not fit each other.
    """
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
        if found.pop("schema") != SCHEMA:
            raise KeyError(SCHEMA)
        return _whole(TrialPlan(**{**found, **_typed(found)}))
    except OSError as reason:
        msg = (
            f"{path}: the plan of the trial cannot be read ({reason.strerror}); it was written "
            "beside the sheet, and the two belong together."
        )
        raise LogError(msg) from reason
    except (ValueError, LookupError, TypeError, AttributeError) as reason:
        msg = f"{path}: this is no plan that 'weakstep trial' wrote; keep it beside the sheet."
        raise LogError(msg) from reason


def _typed(found: dict[str, Any]) -> dict[str, Any]:
    """Return the fields that JSON keeps as lists, in the types of the plan."""
    rates = found["rates"]
    return {
        "columns": tuple(map(str, found["columns"])),
        "levels": tuple(_numbers(values) for values in found["levels"]),
        "runs": tuple(
            PlannedRun(
                str(one["run_id"]),
                int(one["block"]),
                _numbers(one["coded"]),
                _numbers(one["settings"]),
            )
            for one in found["runs"]
        ),
        "outcome": str(found["outcome"]),
        "rates": None if rates is None else (float(rates[0]), float(rates[1])),
        "power": float(found["power"]),
        "alpha": float(found["alpha"]),
        "cautions": tuple(map(str, found["cautions"])),
    }


def _numbers(values: Iterable[float]) -> tuple[float, ...]:
    return tuple(float(value) for value in values)


def _whole(plan: TrialPlan) -> TrialPlan:
    """Return a plan whose parts fit each other; ValueError for one that was changed by hand."""
    factors = len(plan.columns)
    every = [plan.levels, *(part for run in plan.runs for part in (run.coded, run.settings))]
    fits = (
        factors > 0
        and len(plan.runs) > 0
        and all(len(part) == factors for part in every)
        and all(2 <= len(values) <= 3 for values in plan.levels)
        and 0.0 < plan.alpha < 1.0
        and 0.0 < plan.power <= 1.0
        and (plan.rates is None) == (plan.difference is not None)
    )
    if not fits:
        raise ValueError(plan)
    from_generators(factors, plan.generators)
    return plan
