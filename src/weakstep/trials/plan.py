"""The plan of a trial: what is varied, in which order, how many runs, and how it will be read."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from weakstep.errors import LogError
from weakstep.trials.designs import Design, suitable, two_level
from weakstep.trials.pace import pace_of
from weakstep.trials.planned import PlannedRun, TrialPlan
from weakstep.trials.sizing import size_of

if TYPE_CHECKING:
    from weakstep.runlog.model import RunLog
    from weakstep.trials.levels import Levels
    from weakstep.trials.question import Question


def plan_trial(
    log: RunLog,
    levels: tuple[Levels, ...],
    question: Question,
    *,
    most_combinations: int | None = None,
    centre_runs: int = 0,
    runs_per_day: int | None = None,
    block_by: str | None = None,
    chips: int | None = None,
    seed: int = 0,
) -> TrialPlan:
    """
    Plan the smallest trial that would settle a question.

    Every block holds every combination equally often, in an order drawn by lot, so that days or
    operators cannot be taken for the parameter. A block holds as many runs as the lab makes in a
    day or a week, and at least every combination once.

    Parameters
    ----------
    log : RunLog
        The rates, the spread, the within-run correlation and the lab's pace come from it.
    levels : tuple of Levels
        From `weakstep.trials.levels.choose_levels`, one per parameter.
    question : Question
    most_combinations : int, optional
        For several parameters: at most that many combinations.
    centre_runs : int, default 0
        Runs with every parameter at its middle in each block.
    runs_per_day : int, optional
        Instead of what the log shows.
    block_by : str, optional
        What a block is; left out, a day or a week, as `weakstep.trials.pace.pace_of` chooses.
    chips : int, optional
        A run; default what the log's runs hold.
    seed : int

    Returns
    -------
    TrialPlan

    Raises
    ------
    LogError
        Three levels of several parameters, no design that small, or a question that does not fit
        its outcome.
    NotEnoughError
        Nothing has failed, or more runs would be needed than anyone makes.
    """
    _check(levels, question, centre_runs, log)
    coded, generators, resolution = _combinations(levels, most_combinations)
    # The parameter with most levels has the fewest runs at each: the size must do for it, too.
    per_level = len(coded) // max(len(one.values) for one in levels)
    pace = pace_of(log, runs_per_day=runs_per_day, block_by=block_by)
    fits = max(1, (pace.runs - centre_runs) // len(coded))
    size = size_of(log, question, step=per_level, a_block=fits * per_level, chips=chips, seed=seed)
    runs = _in_blocks(levels, coded, size.at_a_level // per_level, fits, centre_runs, seed)
    return TrialPlan(
        columns=tuple(one.column for one in levels),
        levels=tuple(one.values for one in levels),
        outcome=question.outcome,
        generators=generators,
        resolution=resolution,
        runs=runs,
        blocks=runs[-1].block,
        block_by=pace.block_by,
        chips=size.chips,
        rates=size.rates,
        difference=size.difference,
        correlation=size.correlation,
        power=size.power,
        alpha=question.alpha,
        seed=seed,
        cautions=_cautions(log, [one.column for one in levels]),
        deviation=size.deviation,
        runs_a_day=pace.a_day,
        correlation_seen=size.correlation_seen,
    )


def _check(levels: tuple[Levels, ...], question: Question, centre_runs: int, log: RunLog) -> None:
    """Refuse what contradicts itself."""
    names = [one.column for one in levels]
    measured = question.outcome in log.runs.numbers.columns
    twice = next((name for name in names if names.count(name) > 1), None)
    msg = ""
    if twice is not None:
        msg = f"'{twice}' is to be varied twice; name it once, with its levels."
    elif question.outcome in names:
        msg = f"'{question.outcome}' cannot be varied and be the outcome; name another outcome."
    elif measured and question.rates is not None:
        msg = f"'{question.outcome}' is measured: say --difference instead of failure rates."
    elif not measured and question.difference is not None:
        msg = "A difference is for a measured outcome; say --rates, or name the outcome."
    elif centre_runs and any(len(one.values) == 3 for one in levels):
        msg = "Runs at the middle go with two levels; a third level shows a bend by itself."
    elif centre_runs and (no_middle := [one for one in names if _is_yes_no(log, one)]):
        msg = f"'{no_middle[0]}' is yes or no and has no middle; leave out the runs at the middle."
    if msg:
        raise LogError(msg)


def _is_yes_no(log: RunLog, column: str) -> bool:
    return log.process.has(column) and log.process.parameter(column).kind == "yes_no"


def _in_blocks(
    levels: tuple[Levels, ...],
    coded: np.ndarray,
    repeats: int,
    fits: int,
    centre_runs: int,
    seed: int,
) -> tuple[PlannedRun, ...]:
    """Spread the repeats of all combinations evenly over as few blocks as hold them, by lot."""
    rng = np.random.default_rng(seed)
    blocks = -(-repeats // fits)
    block_of = np.arange(repeats) * blocks // repeats
    centre = np.zeros((centre_runs, len(levels)))
    runs: list[PlannedRun] = []
    for block in range(blocks):
        rows = np.vstack([np.tile(coded, (int((block_of == block).sum()), 1)), centre])
        for row in rows[rng.permutation(len(rows))]:
            settings = tuple(_setting(one, float(c)) for one, c in zip(levels, row, strict=True))
            name = f"T{len(runs) + 1:03d}"
            runs.append(PlannedRun(name, block + 1, tuple(map(float, row)), settings))
    return tuple(runs)


def _combinations(levels: tuple[Levels, ...], most: int | None) -> tuple[np.ndarray, str, str]:
    """Coded rows of every combination to be run, generators and resolution."""
    counts = [len(one.values) for one in levels]
    if max(counts) == 2:
        try:
            design: Design = (
                suitable(len(levels), most) if most or len(levels) > 2 else two_level(len(levels))
            )
        except ValueError as reason:
            msg = f"{str(reason)[:1].upper()}{str(reason)[1:]}. Name fewer, or allow more."
            raise LogError(msg) from reason
        return design.coded, design.generators, design.resolution_numeral
    if len(levels) > 2:
        msg = "Three levels are planned for at most two parameters at once; use two levels."
        raise LogError(msg)
    every = product(*([-1.0, 0.0, 1.0] if count == 3 else [-1.0, 1.0] for count in counts))
    return np.array(list(every)), "", "full"


def _setting(levels: Levels, coded: float) -> float:
    """Value of a parameter at a coded level; 0 is the middle of a two-level one."""
    values = levels.values
    if len(values) == 3:
        return values[round(coded) + 1]
    if coded == 0.0:
        return (values[0] + values[1]) / 2.0
    return values[0] if coded < 0 else values[1]


def _cautions(log: RunLog, columns: list[str]) -> tuple[str, ...]:
    """Texts of the cautions that go with the parameters varied, and of those that always hold."""
    wanted = {key for column in columns for key in log.process.parameter(column).cautions}
    wanted |= {limit.caution for limit in log.process.rated_limits if limit.parameter in columns}
    return tuple(
        caution.text for caution in log.process.cautions if caution.always or caution.name in wanted
    )
