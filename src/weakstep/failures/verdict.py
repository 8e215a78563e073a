"""The verdict in one sentence, in words that promise no more than the log can."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.failures.model import Factor, Verdict
from weakstep.failures.words import (
    chance_words,
    failures_words,
    in_sentence,
    named,
    share_words,
    window_words,
)

if TYPE_CHECKING:
    from weakstep.failures.enough import Enough
    from weakstep.process.model import Parameter, Process


def _linked_to(factor: Factor, parameter: Parameter) -> str:
    window = factor.window
    if window is None or parameter.kind == "category":
        return factor.shape
    if parameter.kind == "yes_no":
        return "yes" if window.lower is None else "no"
    if window.lower is None:
        return "higher values"
    if window.upper is None:
        return "lower values"
    return "values outside it"


def _label(factor: Factor, process: Process) -> str:
    return named(process.parameter(factor.column))


def _or_alike(factor: Factor, process: Process) -> str:
    """Name the factors that the log cannot tell from this one, as words that follow it."""
    others = [named(process.parameter(name)) for name in factor.alike]
    if not others:
        return ""
    return f" (or it may be {' or '.join(others)}: this log cannot tell)"


def _place(factor: Factor, process: Process) -> str:
    if factor.step:
        return in_sentence(process.step(factor.step).label)
    return in_sentence(process.parameter(factor.column).label)


def _family(factor: Factor, process: Process) -> str:
    labels = {family.name: family.label for family in process.families}
    return failures_words(labels.get(factor.family, factor.family))


def tighten(factor: Factor, process: Process) -> Verdict:
    """Say which step to tighten first, to what window, how much it may save and how surely."""
    sentence = f"Tighten {_place(factor, process)} first: {_how(factor, process)}."
    return Verdict(
        "tighten", factor.family, factor.step or None, factor.column, factor.window, sentence
    )


def next_after(factor: Factor, process: Process) -> str:
    """Say the same of a further factor with strong evidence, as a note."""
    return f"Next after that comes {_place(factor, process)}: {_how(factor, process)}."


def _how(factor: Factor, process: Process) -> str:
    parameter = process.parameter(factor.column)
    if factor.window is not None:
        how = f"hold {_label(factor, process)} {window_words(factor.window, parameter)}"
        linked = _linked_to(factor, parameter)
    else:
        how = f"look into {_label(factor, process)}, which shows {factor.shape}"
        linked = "it"
    share = f"{share_words(factor.preventable_share)} of {_family(factor, process)}"
    return (
        f"{how}{_or_alike(factor, process)}; {share} are linked to {linked} (strong evidence: a "
        f"link as clear as this turns up by luck in {chance_words(factor.p)} of logs)"
    )


def look_closer(factor: Factor, process: Process) -> Verdict:
    """Say what is linked to failures but also to the calendar, and how to find out."""
    sentence = (
        f"Look closer at {_place(factor, process)}: {_family(factor, process)} are linked "
        f"to {_label(factor, process)}{_or_alike(factor, process)}, but anything unlogged that "
        "changed at the same time would look the same; vary it on purpose within one day to know."
    )
    return Verdict(
        "look_closer", factor.family, factor.step or None, factor.column, factor.window, sentence
    )


def log_more(
    ranked: int, runs: int, enough: Enough | None, leading: Factor | None, process: Process
) -> Verdict:
    """
    Say that nothing stands out, and how many more runs would show a doubling.

    Parameters
    ----------
    ranked : int
        Factors that were judged.
    runs : int
    enough : Enough or None
    leading : Factor or None
        First of the ranking, if it has some evidence.
    process : Process

    Returns
    -------
    Verdict
    """
    words = f"Nothing stands out yet among {ranked} factors in {runs} runs"
    if leading is not None:
        words += f" ({_label(leading, process)} comes first, but it may well be luck)"
    if enough is None:
        words += ": log more runs."
    elif enough.further > 0:
        words += (
            f": log about {enough.further} more runs to have an 80 % chance to see a factor that "
            "doubles the failure rate."
        )
    else:
        words += (
            ": a factor that doubles the failure rate would most likely have shown; keep logging "
            "to see smaller ones."
        )
    return Verdict("log_more", None, None, None, None, words)
