"""What the parameters, levels, effects and the outcome of a trial are called."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.failures.words import failures_words, in_sentence, named, number_words, percent
from weakstep.trials.planned import FAILURES

if TYPE_CHECKING:
    from weakstep.process.model import Process
    from weakstep.trials.designs import Word
    from weakstep.trials.planned import TrialPlan


def value_words(process: Process, column: str, value: float) -> str:
    """Return a value as a sheet holds it: yes or no, or a number as precise as it is set."""
    parameter = process.parameter(column)
    if parameter.kind == "yes_no":
        return "yes" if value > 0.5 else "no"
    text = f"{value:.{parameter.decimals}f}"
    return text if float(text) == value else f"{value:.6g}"


def setting_words(process: Process, column: str, value: float) -> str:
    """
    Return a value as a sentence says it: yes or no, or a number with its unit.

    Examples
    --------
    >>> from weakstep.process.load import load_process
    >>> setting_words(load_process(), "delay_s", 36.0)
    '36 s'
    >>> [setting_words(load_process(), "touched", share) for share in (0.0, 1.0, 1 / 3)]
    ['no', 'yes', '33 % yes']
    """
    parameter = process.parameter(column)
    if parameter.kind != "yes_no":
        return number_words(value, parameter)
    if 0.0 < value < 1.0:  # chips of one run that were not treated alike
        return f"{percent(value)} yes"
    return value_words(process, column, value)


def effect_name(word: Word, labels: tuple[str, ...]) -> str:
    """
    Return the name of an effect: a parameter, or several "with" each other.

    Examples
    --------
    >>> effect_name(frozenset({1, 3}), ("delay", "exposure", "wait"))
    'delay with wait'
    """
    return " with ".join(labels[factor - 1] for factor in sorted(word))


def effect_names(words: tuple[Word, ...], labels: tuple[str, ...]) -> str:
    """
    Return an effect with all that the design cannot tell from it.

    Examples
    --------
    >>> effect_names((frozenset({1}), frozenset({2, 3})), ("delay", "exposure", "wait"))
    'delay, or exposure with wait'
    """
    return ", or ".join(effect_name(word, labels) for word in words)


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
