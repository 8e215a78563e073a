"""The plan of a trial in words, written before there are any data."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.failures.words import (
    counted,
    failures_words,
    in_sentence,
    named,
    number_words,
    percent,
)
from weakstep.trials.designs import SCREENING, aliases, from_generators
from weakstep.trials.pace import DAY, WEEK
from weakstep.trials.planned import FAILURES
from weakstep.trials.sizing import pairs_within_runs

if TYPE_CHECKING:
    from weakstep.process.model import Process
    from weakstep.trials.designs import Word
    from weakstep.trials.planned import TrialPlan
    from weakstep.trials.sizing import SeenWith

_ALPHABET = "ABCDEFGHJKLMNOP"  # I stands for the mean


def value_words(process: Process, column: str, value: float) -> str:
    """Return a value as a sheet holds it: yes or no, or a number as precise as it is set."""
    parameter = process.parameter(column)
    if parameter.kind == "yes_no":
        return "yes" if value > 0.5 else "no"
    text = f"{value:.{parameter.decimals}f}"
    return text if float(text) == value else f"{value:.6g}"


def effect_name(word: Word, labels: tuple[str, ...]) -> str:
    """
    Return the name of an effect: a parameter, or several "with" each other.

    Examples
    --------
    >>> effect_name(frozenset({1, 3}), ("delay", "exposure", "wait"))
    'delay with wait'
    """
    return " with ".join(labels[factor - 1] for factor in sorted(word))


def labels_of(plan: TrialPlan, process: Process) -> tuple[str, ...]:
    """Return the labels of the parameters varied, as they stand in a sentence."""
    return tuple(in_sentence(process.parameter(name).label) for name in plan.columns)


def outcome_words(plan: TrialPlan, process: Process) -> str:
    """Return what the trial looks at ("bond failures", "the burst pressure")."""
    if plan.outcome == FAILURES:
        return "failures"
    for family in process.families:
        if family.name == plan.outcome:
            return failures_words(family.label)
    return named(process.parameter(plan.outcome))


def plan_text(plan: TrialPlan, process: Process, table: tuple[SeenWith, ...]) -> str:
    """
    Return the plan as Markdown: what, how, how it will be read, what it can see, cautions.

    Parameters
    ----------
    plan : TrialPlan
    process : Process
    table : tuple of SeenWith
        From `weakstep.trials.sizing.seen_with`.
    """
    parts = [
        f"# Trial: {process.title}",
        "Written before the data. Change nothing in it once the first run is done.",
        "## What is varied",
        *_varied(plan, process),
        "## How it is carried out",
        _carried_out(plan, process),
        "## How it will be read",
        _read(plan, process),
        "## What it can see",
        _sees(plan, process, table),
        "## Cautions",
        "\n".join(f"- {text}" for text in plan.cautions)
        + ("\n" if plan.cautions else "")
        + "- Your lab's safety rules, the equipment's manual and the people responsible come "
        "first. No level lies outside what the log has seen or beyond a rated limit.",
    ]
    return "\n\n".join(parts) + "\n"


def _varied(plan: TrialPlan, process: Process) -> list[str]:
    lines = []
    for name, values in zip(plan.columns, plan.levels, strict=True):
        parameter = process.parameter(name)
        told = ", ".join(
            value_words(process, name, value)
            if parameter.kind == "yes_no"
            else number_words(value, parameter)
            for value in values
        )
        lines.append(f"- {parameter.label}: {told}")
    text = "\n".join(lines)
    if plan.two_levels and len(plan.columns) > 1:
        what = "all combinations" if not plan.generators else "a fraction of the combinations"
        name = "" if plan.resolution == "full" else f", resolution {plan.resolution}"
        text += f"\n\nTwo levels each, {what}{name}: {_meaning(plan)}."
        mixed = _mixed(plan, process)
        text += f" {mixed}" if mixed else ""
    return [text]


def _meaning(plan: TrialPlan) -> str:
    """Say in plain words what a resolution means."""
    return {
        "III": "a clear effect of a parameter may be that of a pair instead",
        "IV": "parameters are told from pairs, pairs not all from each other",
    }.get(plan.resolution, "parameters and pairs are all told apart")


def _mixed(plan: TrialPlan, process: Process) -> str:
    """Name the effects that the design cannot tell apart."""
    if not plan.generators:
        return ""
    if plan.generators.startswith(SCREENING):
        return (
            "It is the Plackett-Burman design: a part of every pair of parameters is added to the "
            "effect of each other one, so it screens, and a smaller trial of what it finds settles."
        )
    count = len(plan.columns)
    names = labels_of(plan, process)
    groups = aliases(from_generators(count, plan.generators), count)
    told = [
        " = ".join(effect_name(word, names) for word in group) for group in groups if len(group) > 1
    ]
    if not told:
        return ""
    letters = " ".join(_letters(entry) for entry in plan.generators.split())
    listed = "\n".join(f"- {one}" for one in told)
    named_so = ", ".join(_ALPHABET[:count])
    return (
        f"Generated by {letters}, the parameters above being {named_so}. It cannot tell apart:"
        f"\n\n{listed}"
    )


def _letters(generator: str) -> str:
    made, _, parts = generator.partition("=")
    return f"{_ALPHABET[int(made) - 1]}={''.join(_ALPHABET[int(part) - 1] for part in parts)}"


def _carried_out(plan: TrialPlan, process: Process) -> str:
    chips = f"{plan.chips} {process.item if plan.chips == 1 else process.items}"
    text = f"{counted(len(plan.runs), 'run')} of {chips} each"
    if plan.blocks > 1:
        sizes = sorted({sum(run.block == block for run in plan.runs) for block in _blocks(plan)})
        held = f"{sizes[0]} to {sizes[-1]}" if len(sizes) > 1 else str(sizes[0])
        text += (
            f", in {plan.blocks} blocks of {held} runs ({_block_words(plan)}) that hold every "
            "combination equally often"
        )
    text += f", in the order of the sheet, which was drawn by lot (seed {plan.seed})."
    if plan.centre_runs:
        text += f" {counted(plan.centre_runs, 'run')} with all at the middle show whether it bends."
    return (
        text + " Everything else as usual. Finish every block that is begun; log every chip, above "
        "all those that failed."
    )


def _blocks(plan: TrialPlan) -> range:
    return range(1, plan.blocks + 1)


def _block_words(plan: TrialPlan) -> str:
    """Say what a block is, and how long the lab takes for it at its own pace."""
    if plan.block_by not in (DAY, WEEK):
        return f"one {plan.block_by} each"
    settings = {tuple(run.coded) for run in plan.runs}
    if plan.block_by == WEEK and len(plan.runs) / plan.blocks < 2 * len(settings):
        return "one of each combination; a week where the lab makes as many in one, else longer"
    if plan.block_by == WEEK:
        return "about a week each, as many runs as the log shows in one"
    pace = plan.runs_a_day
    if pace is not None and len(plan.runs) / plan.blocks > pace:
        return f"several days each, at the {pace:.3g} runs a day of the log"
    return "one day each"


def _read(plan: TrialPlan, process: Process) -> str:
    outcome = outcome_words(plan, process)
    alpha = percent(plan.alpha)
    if len(plan.columns) == 1:
        return (
            f"The trial shows a difference of {outcome} when levels dealt again by lot within "
            f"blocks give one as large at most {alpha} of the time (two-sided). The difference is "
            "told with a 95 % interval that takes chips of one run together. Runs count at the "
            "level that was planned."
        )
    alone = plan.generators.startswith(SCREENING)
    method = (
        f"a linear model of run means with all parameters{'' if alone else ' and pairs'}"
        if plan.rates is None
        else "penalised logistic models (Firth) of all parameters together"
        f"{'' if alone else ' and of each pair beside them'}, counts divided by how much "
        f"{process.items} of a run fail together"
    )
    return (
        f"Effects on {outcome} with 95 % intervals from {method}. A parameter has an effect when "
        f"levels dealt again by lot within blocks give one as large at most {alpha} of the time "
        "(two-sided)."
    )


def _sees(plan: TrialPlan, process: Process, table: tuple[SeenWith, ...]) -> str:
    if plan.rates is None:
        parameter = process.parameter(plan.outcome)
        text = (
            f"A difference of {number_words(float(f'{plan.difference:.3g}'), parameter)} in "
            f"{named(parameter)} between the levels: {percent(plan.power)} chance (t test of run "
            "means)."
        )
    else:
        text = (
            f"A fall of {outcome_words(plan, process)} from {percent(max(plan.rates))} at one "
            f"level to {percent(min(plan.rates))} at the other: {percent(plan.power)} chance, by "
            "carrying the trial out on paper many times with the log's own correlation within runs "
            f"({plan.correlation:.2f})."
        )
        text += _lost(plan, process) + _paired(plan, process)
    return f"{text}\n\n{_table(plan, process, table)}" if table else text


def _lost(plan: TrialPlan, process: Process) -> str:
    """Say what the trial costs."""
    if plan.rates is None or len(plan.columns) > 1:
        return ""
    worse = sum(run.coded[0] == plan.runs[0].coded[0] for run in plan.runs) * plan.chips
    return (
        f" Expect about {round(max(plan.rates) * worse)} of the {worse} {process.items} at the "
        "worse level to fail: that is its price."
    )


def _paired(plan: TrialPlan, process: Process) -> str:
    """Tell the trial that would do where a run can hold both levels."""
    pairs = pairs_within_runs(plan)
    if pairs is None:
        return ""
    runs = -(-pairs // (plan.chips // 2))
    return (
        f" Where one run can hold both levels, {process.item} by {process.item} and drawn by lot, "
        f"about {pairs} pairs side by side would do as well ({counted(runs, 'run')} of "
        f"{plan.chips} {process.items})."
    )


def _table(plan: TrialPlan, process: Process, table: tuple[SeenWith, ...]) -> str:
    """Return runs needed against the effect that could be seen."""
    levels = len(plan.levels[0])
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
    return "more than 400 | more than 800" if runs is None else f"{runs} | {levels * runs}"
