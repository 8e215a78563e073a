"""`weakstep trial`: plan the smallest trial that would settle it, and read a finished one."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from weakstep.cli.numbers import number
from weakstep.cli.shared import CLEAN, Commands, add_process, command, read
from weakstep.errors import LogError, NotEnoughError

if TYPE_CHECKING:
    from weakstep.runlog.model import RunLog
    from weakstep.trials.levels import Levels
    from weakstep.trials.question import Question


SHARE = number(float, "a number between 0 and 1", lambda value: 0.0 < value < 1.0)
# Levels are dealt again 999 times, so that no chance below 0.001 comes out.
ALPHA = number(float, "a number from 0.005 to 0.5", lambda value: 0.005 <= value <= 0.5)
ABOVE_0 = number(float, "a number above 0", lambda value: 0.0 < value < float("inf"))
COUNT = number(int, "a whole number of at least 0", lambda value: value >= 0)
POSITIVE = number(int, "a whole number of at least 1", lambda value: value >= 1)


def add(commands: Commands[argparse.ArgumentParser]) -> None:
    """Add the command."""
    trial = command(
        commands,
        "trial",
        "plan the smallest trial that would settle the verdict, or read a finished one",
        "weakstep trial logs/ -o trial-delay",
        "Without --vary, the review of the log says what to vary.",
    )
    trial.add_argument("log", metavar="LOG", nargs="*", help="the log to plan from")
    add_process(trial)
    trial.add_argument(
        "--mapping",
        metavar="FILE",
        help="which header is which column, from 'check --save-mapping'",
    )
    trial.add_argument("-o", "--out", metavar="DIR", help="new folder for sheet and plan")
    trial.add_argument(
        "--analyse", metavar="SHEET", help="the filled sheet; its trial.json lies beside it"
    )
    trial.add_argument(
        "--vary",
        metavar="NAME[=V:V[:V]]",
        action="append",
        type=varied,
        default=[],
        help="a parameter to vary, with two or three levels of your own; several are crossed",
    )
    trial.add_argument(
        "--outcome",
        metavar="NAME",
        default=None,
        help="what the trial looks at: a failure family, 'failures' (all of them; the default), "
        "or a measured column",
    )
    trial.add_argument(
        "--rates",
        metavar="P:P",
        type=rates,
        help="failure rates to tell apart, such as 0.3:0.1 (default: by the review, or one twice "
        "the other)",
    )
    trial.add_argument(
        "--difference",
        type=ABOVE_0,
        metavar="D",
        help="difference of a measured outcome to see, in its unit (default: one standard "
        "deviation of run means)",
    )
    trial.add_argument(
        "--power",
        type=SHARE,
        default=0.8,
        metavar="P",
        help="chance to show an effect of that size (default: %(default)s)",
    )
    trial.add_argument(
        "--alpha",
        type=ALPHA,
        default=0.05,
        metavar="P",
        help="chance to show one where there is none (default: %(default)s)",
    )
    trial.add_argument(
        "--combinations",
        type=POSITIVE,
        metavar="N",
        help="at most N combinations of levels, for several parameters",
    )
    trial.add_argument(
        "--centre",
        type=COUNT,
        default=0,
        metavar="N",
        help="runs with all at the middle in each block (default: %(default)s)",
    )
    trial.add_argument(
        "--chips", type=POSITIVE, metavar="N", help="chips of a run (default: as in the log)"
    )
    trial.add_argument(
        "--runs-per-day", type=POSITIVE, metavar="N", help="a block is a day of N runs"
    )
    trial.add_argument(
        "--block-by",
        metavar="WORD",
        help="day, week, operator ... (default: a day where the log has four runs and more, "
        "else a week)",
    )
    trial.add_argument(
        "--seed", type=int, default=0, help="seed of the order of runs (default: %(default)s)"
    )
    trial.set_defaults(run=run)


YES_NO = {"yes": 1.0, "no": 0.0}


def varied(text: str) -> tuple[str, tuple[float, ...] | None]:
    """
    Read a parameter and its levels.

    Examples
    --------
    >>> varied("delay_s=30:60"), varied("touched=no:yes"), varied("delay_s")
    (('delay_s', (30.0, 60.0)), ('touched', (0.0, 1.0)), ('delay_s', None))
    """
    name, given, levels = text.partition("=")
    if not given:
        return name, None
    try:
        words = [level.strip().lower() for level in levels.split(":")]
        return name, tuple(YES_NO[word] if word in YES_NO else float(word) for word in words)
    except ValueError:
        message = f"found {text!r}, expected NAME, or with levels NAME=30:60 or NAME=no:yes"
        raise argparse.ArgumentTypeError(message) from None


def rates(text: str) -> tuple[float, float]:
    """Read two different failure rates."""
    first, _, second = text.partition(":")
    try:
        found = (float(first), float(second))
    except ValueError:
        found = (0.0, 0.0)
    if found[0] == found[1] or not (min(found) > 0.0 and max(found) < 1.0):
        message = f"found {text!r}, expected two different rates between 0 and 1, such as 0.3:0.1"
        raise argparse.ArgumentTypeError(message)
    return found


def run(options: argparse.Namespace) -> int:
    """Plan a trial, or read a finished one."""
    if options.analyse:
        return _analyse(options)
    if not options.log or not options.out:
        message = (
            "Name the LOG to plan from and a new folder with -o; or a filled sheet with --analyse."
        )
        raise LogError(message)
    from weakstep.trials.plan import plan_trial
    from weakstep.trials.plan_words import plan_text
    from weakstep.trials.sheet import write_trial
    from weakstep.trials.sizing import seen_with

    log = read(options.log, options.process, options.mapping)
    levels, question = _asked(log, options)
    plan = plan_trial(
        log,
        levels,
        question,
        most_combinations=options.combinations,
        centre_runs=options.centre,
        runs_per_day=options.runs_per_day,
        block_by=options.block_by or None,
        chips=options.chips,
        seed=options.seed,
    )
    table = seen_with(plan)
    written = write_trial(plan, log.process, Path(options.out), table)
    print(plan_text(plan, log.process, table))
    print(f"The sheet: {written[0].resolve()} (also .xlsx and .html); read it with --analyse.")
    return CLEAN


def _asked(log: RunLog, options: argparse.Namespace) -> tuple[tuple[Levels, ...], Question]:
    from weakstep.trials.levels import choose_levels
    from weakstep.trials.question import Question, question_of

    if options.vary:
        question = Question(
            options.outcome or "failures",
            options.rates,
            options.difference,
            options.power,
            options.alpha,
        )
        levels = [choose_levels(log, name, asked=given) for name, given in options.vary]
        return tuple(levels), question
    if options.outcome or options.difference:
        message = "--outcome and --difference need --vary; without it the review says both."
        raise LogError(message)
    from weakstep.failures.analysis import analyse
    from weakstep.reviewing import require_runs

    require_runs(log)
    found = analyse(log, seed=options.seed, ranking_only=True)
    if not found.factors:  # the verdict may rest on a measured outcome
        found = analyse(log, seed=options.seed)
    level, question = question_of(log, found, options.power, options.alpha)
    return (level,), replace(question, rates=options.rates or question.rates)


def _analyse(options: argparse.Namespace) -> int:
    from weakstep.trials.finished import analyse_trial
    from weakstep.trials.finished_words import finished_text
    from weakstep.trials.planned import read_plan

    if options.log or options.out or options.vary:
        message = "--analyse reads a filled sheet with its plan; leave out LOG, -o and --vary."
        raise LogError(message)
    sheet = Path(options.analyse)
    if sheet.is_dir():
        message = f"{sheet}: is a folder; name the sheet in it that you filled in."
        raise LogError(message)
    plan = read_plan(sheet.with_name("trial.json"))
    log = read([str(sheet)], options.process, options.mapping)
    wrong = _problems(log)
    try:
        found = analyse_trial(log, plan, seed=options.seed)
    except (LogError, NotEnoughError):
        print(wrong, file=sys.stderr, end="")
        raise
    print(finished_text(found, log.process))
    if found.effects:
        from weakstep.report.trial_figure import write_half_normal

        figure = write_half_normal(found, log.process, sheet.parent).resolve()
        print(f"\nThe half-normal plot: {figure}")
    if wrong:
        print(
            f"\nCells of the sheet to look at; once they are mended, read it again.\n{wrong}",
            end="",
        )
    return CLEAN


def _problems(log: RunLog) -> str:
    """Return what `check` would list of the sheet, without its notes; empty when there is none."""
    from weakstep.runlog.listing import problems_text

    asked = tuple(problem for problem in log.problems if problem.severity != "note")
    return f"{problems_text(replace(log, problems=asked))}\n" if asked else ""
