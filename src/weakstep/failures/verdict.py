"""The verdict in one sentence, in words that promise no more than the log can."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from weakstep.failures.model import Factor, Needed, Verdict
from weakstep.failures.words import (
    chance_words,
    failures_words,
    in_sentence,
    named,
    percent,
    share_words,
    window_words,
)

if TYPE_CHECKING:
    from weakstep.process.model import Parameter, Process

TIMES_LONGER_AT_MOST = 40


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
        how = f"look into {_label(factor, process)} ({_shape(factor)})"
        linked = "it"
    share = f"{share_words(factor.preventable_share)} of {_family(factor, process)}"
    return (
        f"{how}{_or_alike(factor, process)}; {share} are linked to {linked} (strong evidence: a "
        f"link as clear as this turns up by luck in {chance_words(factor.p)} of logs)"
    )


def _shape(factor: Factor) -> str:
    """Say how failures depend on it: "failures fall above 1900"."""
    way, _, rest = factor.shape.partition(" ")
    verb = {"rises": "failures rise", "falls": "failures fall"}.get(way)
    return f"{verb} {rest}".rstrip() if verb else factor.shape


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
    ranked: int, runs: int, needed: Needed | None, leading: Factor | None, process: Process
) -> Verdict:
    """
    Say that nothing stands out, and how many more runs would show a doubling.

    Parameters
    ----------
    ranked : int
        Factors that were judged.
    runs : int
    needed : Needed or None
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
    return Verdict("log_more", None, None, None, None, f"{words}: {_how_many_more(needed)}.")


def _how_many_more(needed: Needed | None) -> str:
    if needed is None:
        return "log more runs"
    if needed.further is None:
        return (
            f"a log even {TIMES_LONGER_AT_MOST} times as long would hardly show "
            f"{_doubling(needed)}; vary one parameter on purpose instead"
        )
    few, many = (round_runs(end) for end in (needed.further.lower, needed.further.upper))
    if needed.further.estimate > 0:
        more = round_runs(needed.further.estimate)
        return (
            f"log about {more} more runs ({few} to {many}) to have an {percent(needed.power)} "
            f"chance to see {_doubling(needed)}"
        )
    return (
        f"{_doubling(needed)} would most likely have shown (a chance of "
        f"{percent(needed.power_now)} with these runs); keep logging to see smaller ones"
    )


def _doubling(needed: Needed) -> str:
    times = "twice" if needed.ratio == 2.0 else f"{needed.ratio:g} times"
    return f"a parameter whose upper half of values fails {times} as often as its lower half"


def round_runs(runs: float) -> int:
    """
    Return a number of runs to two digits, upwards: more would claim too much.

    Examples
    --------
    >>> round_runs(7.2), round_runs(133.0), round_runs(1204.0)
    (8, 140, 1300)
    """
    size = int(10 ** max(0, len(str(math.ceil(runs))) - 2))
    return math.ceil(runs / size) * size
