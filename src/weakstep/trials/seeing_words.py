"""What a planned trial can see, and at what price, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.failures.words import counted, named, number_words, percent
from weakstep.trials.names import outcome_words
from weakstep.trials.power import MOST_RUNS
from weakstep.trials.sizing import pairs_within_runs

if TYPE_CHECKING:
    from weakstep.process.model import Process
    from weakstep.trials.planned import TrialPlan
    from weakstep.trials.sizing import SeenWith


def sees(plan: TrialPlan, process: Process, table: tuple[SeenWith, ...]) -> str:
    """
    Say which effect the plan shows with which chance, what it costs, and what other sizes would do.

    Parameters
    ----------
    plan : TrialPlan
    process : Process
    table : tuple of SeenWith
        From `weakstep.trials.sizing.seen_with`.
    """
    if plan.rates is None:
        parameter = process.parameter(plan.outcome)
        text = (
            f"A difference of {number_words(float(f'{plan.difference:.3g}'), parameter)} in "
            f"{named(parameter)} between the levels: {percent(plan.power)} chance, by carrying the "
            f"trial out on paper many times.{_scatter(plan, process)}"
        )
    else:
        place = "level" if plan.two_levels else "end"
        text = (
            f"A fall of {outcome_words(plan, process)} from {percent(max(plan.rates))} at one "
            f"{place} to {percent(min(plan.rates))} at the other: {percent(plan.power)} chance, by "
            f"carrying the trial out on paper many times{_together(plan, process)}."
        )
        text += _lost(plan, process) + _paired(plan, process)
    return f"{text}\n\n{_table(plan, process, table)}" if table else text


def _scatter(plan: TrialPlan, process: Process) -> str:
    """Say what the size of a trial with a measured outcome rests on."""
    if plan.deviation is None:
        return ""
    parameter = process.parameter(plan.outcome)
    one = process.item if plan.chips == 1 else process.items
    return (
        f" By the log, means of runs of {plan.chips} {one} scatter with a standard deviation of "
        f"{number_words(float(f'{plan.deviation:.3g}'), parameter)}{_together(plan, process)}."
    )


def _together(plan: TrialPlan, process: Process) -> str:
    """Say how far chips of one run are taken to go together; nothing where a run holds one."""
    if plan.chips == 1:
        return ""
    if plan.correlation_seen:
        return f" with the log's own correlation within runs ({plan.correlation:.2f})"
    return (
        f" with a correlation within runs of {plan.correlation:.2f}, for the log's runs hold one "
        f"{process.item} each and do not tell it"
    )


def _lost(plan: TrialPlan, process: Process) -> str:
    """Say what the trial costs."""
    if plan.rates is None or len(plan.columns) > 1:
        return ""
    worse = sum(run.coded[0] == 1.0 for run in plan.runs) * plan.chips
    return (
        f" Expect about {round(max(plan.rates) * worse)} of the {worse} {process.items} at the "
        "worse level to fail: that is its price."
    )


def _paired(plan: TrialPlan, process: Process) -> str:
    """Tell the trial that would do where a run can hold both levels, if it takes fewer runs."""
    pairs = pairs_within_runs(plan)
    if pairs is None:
        return ""
    runs = -(-pairs // (plan.chips // 2))
    if runs >= len(plan.runs):
        return ""
    return (
        f" Where one run can hold both levels, {process.item} by {process.item} and drawn by lot, "
        f"about {pairs} pairs side by side would do as well ({counted(runs, 'run')} of "
        f"{plan.chips} {process.items}); this sheet is not laid out for that."
    )


def _table(plan: TrialPlan, process: Process, table: tuple[SeenWith, ...]) -> str:
    """Return runs needed against the effect that could be seen."""
    levels = max(map(len, plan.levels))
    if plan.rates is None:
        parameter = process.parameter(plan.outcome)
        head = f"| difference of {named(parameter)} | runs at each level | runs in all |"
        firsts = [number_words(float(f"{one.effect:.3g}"), parameter) for one in table]
    else:
        head = "| failures at one level | at the other | runs at each level | runs in all |"
        high = percent(max(plan.rates))
        firsts = [f"{high} | {_tenths(one.effect)}" for one in table]
    rows = [
        f"| {first} | {_runs_cells(one.at_a_level, levels)} |"
        for first, one in zip(firsts, table, strict=True)
    ]
    line = "|" + "---|" * (head.count("|") - 1)
    return "\n".join(["About as many runs are needed for an 80 % chance:", "", head, line, *rows])


def _tenths(share: float) -> str:
    """Return a percentage, with a decimal where it is small."""
    return percent(share) if share >= 0.1 else f"{100.0 * share:.2g} %"


def _runs_cells(runs: int | None, levels: int) -> str:
    if runs is None:
        return f"more than {MOST_RUNS} | more than {levels * MOST_RUNS}"
    return f"{runs} | {levels * runs}"
