"""The verdict in one sentence, in words that promise no more than the log can."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.model import Factor, Needed, TighteningCurve, Verdict, Window
from weakstep.failures.words import (
    chance_words,
    counted,
    failures_words,
    in_sentence,
    named,
    percent,
    share_words,
    window_words,
)
from weakstep.interval import Interval

if TYPE_CHECKING:
    from weakstep.process.model import Parameter, Process

TIMES_LONGER_AT_MOST = 40
FEW, TIMES_MORE = 0.1, 3.0
NEXT_TO_NOTHING = 0.01
RUNS_THERE, KEPT = 0.1, 0.85


def _linked_to(factor: Factor, parameter: Parameter) -> str:
    window = factor.window
    if window is None or parameter.kind == "category":
        return factor.shape
    if parameter.kind == "yes_no":
        return "a yes" if window.lower is None else "a no"
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
    if factor.window is None:
        # Nothing to tighten: a mould or a lot, or no window would prevent anything.
        start = f"Look into {_label(factor, process)} first ({_shape(factor)})"
    elif factor.surprising:
        start = f"Check {_place(factor, process)} first, before you {_hold(factor, process)}"
    else:
        place = f"{_place(factor, process)} first{_unsure(factor, process)}"
        start = f"Tighten {place}: {_hold(factor, process)}"
    sentence = f"{start}{_or_alike(factor, process)}; {_linked(factor, process)}."
    return Verdict(
        "tighten", factor.family, factor.step or None, factor.column, factor.window, sentence
    )


def next_after(factor: Factor, process: Process) -> str:
    """Say the same of a further factor with strong evidence, as a note."""
    if factor.window is None:
        how = f"look into {_label(factor, process)} ({_shape(factor)})"
    else:
        how = f"{'check before you ' if factor.surprising else ''}{_hold(factor, process)}"
    how += _or_alike(factor, process)
    place = f"{_place(factor, process)}{_unsure(factor, process)}"
    return f"Next after that comes {place}: {how}; {_linked(factor, process)}."


def _hold(factor: Factor, process: Process) -> str:
    parameter = process.parameter(factor.column)
    words = "" if factor.window is None else window_words(factor.window, parameter)
    return f"hold {_label(factor, process)} {words}"


def _unsure(factor: Factor, process: Process) -> str:
    """Say, as words that follow the step, that a clear link need not mean a large gain."""
    share, parameter = factor.preventable_share, process.parameter(factor.column)
    if factor.window is None or factor.surprising or _further_out(factor, parameter):
        return ""
    if share.upper < FEW:
        return ", though that would prevent little"
    return ", though how much that prevents is unsure" if share.lower < NEXT_TO_NOTHING else ""


def _linked(factor: Factor, process: Process) -> str:
    """Say how many failures are linked to it, and where the gain lies when these are few."""
    parameter = process.parameter(factor.column)
    linked = "it" if factor.window is None else _linked_to(factor, parameter)
    further = _further_out(factor, parameter)
    against = ", against what the description expects" if factor.surprising else ""
    share = f"{share_words(factor.preventable_share)} of {_family(factor, process)}"
    said = f"{'only ' if further else ''}{share} are linked to {linked}{further}{against}"
    if factor.level and factor.preventable_share.upper < FEW:
        # Several moulds or lots may differ, and no single one of them account for much.
        said = f"even {factor.level} only {share} might not have happened"
    return (
        f"{said} (strong evidence: a link as clear as this turns up by luck in "
        f"{chance_words(factor.p)} of logs)"
    )


def _further_out(factor: Factor, parameter: Parameter) -> str:
    """
    Say where the gain lies when a window that most runs met prevents hardly anything.

    A window holds at least half of the runs, so that it can be kept; failures may get rarer only
    beyond. Told is the widest limit that at least a tenth of the runs met and that keeps 85 % of
    what the best one would gain; nothing when that is not much either.
    """
    share = factor.preventable_share.estimate
    gains = {curve.side: _gains(curve) for curve in factor.tightening}
    best = max(factor.tightening, key=lambda curve: gains[curve.side].max(), default=None)
    if best is None or share >= FEW or gains[best.side].max() < max(FEW, TIMES_MORE * share):
        return ""
    gain = gains[best.side]
    enough = np.flatnonzero(gain >= KEPT * gain.max())
    widest = int(enough[np.argmax(best.share_met[enough])])
    limit = float(best.limits[widest])
    lower, upper = (limit, None) if best.side == "lower" else (None, limit)
    words = window_words(Window(lower, upper, parameter.unit), parameter)
    rate, least, most = (float(one[widest]) for one in (best.rate, best.lower, best.upper))
    expected = share_words(Interval(rate, least, most, best.level))
    return (
        f", because the gain lies further out: with every run {words}, as "
        f"{percent(float(best.share_met[widest]))} of them were, "
        f"{expected} would be expected to fail that way instead of {percent(_rate_now(best))}"
    )


def _rate_now(curve: TighteningCurve) -> float:
    """Return the failure rate at the loosest limit, which changes nothing."""
    return float(curve.rate[np.argmax(curve.share_met)])


def _gains(curve: TighteningCurve) -> np.ndarray:
    """Return the share of failures that each limit prevents, 0 where hardly a run met it."""
    gain = 1.0 - curve.rate / _rate_now(curve)
    return np.asarray(np.where(curve.share_met >= RUNS_THERE, gain, 0.0))


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
    words = f"Nothing stands out yet among {counted(ranked, 'factor')} in {counted(runs, 'run')}"
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
