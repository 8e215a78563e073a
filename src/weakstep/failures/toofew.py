"""When a log holds too little to rank anything: what to say, and how much more is needed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.model import Verdict
from weakstep.failures.words import counted, failures_words, in_sentence, named

if TYPE_CHECKING:
    from weakstep.failures.model import MeasuredOutcome
    from weakstep.process.model import Process
    from weakstep.runlog.model import RunTable

FEWEST_FAILURES = 5
FEWEST_RUNS = 15
FRAGILE = 8


def too_little(label: str, failed: np.ndarray, tested: np.ndarray) -> str | None:
    """
    Say why a family cannot be ranked yet.

    Parameters
    ----------
    label : str
        Of the family.
    failed, tested : array of int, shape (n_runs,)

    Returns
    -------
    str or None
        None when there are at least 15 runs, 5 failures and 5 chips that did not fail.
    """
    start = f"Not enough yet to rank what {failures_words(label)} are linked to"
    runs, failures, good = len(tested), int(failed.sum()), int((tested - failed).sum())
    if runs < FEWEST_RUNS:
        return (
            f"{start}: {counted(runs, 'run')} with a known outcome, {FEWEST_RUNS - runs} more "
            "needed."
        )
    if failures < FEWEST_FAILURES:
        return f"{start}: {failures} so far, {FEWEST_FAILURES - failures} more needed."
    if not good:
        return f"{start}: all failed that way, {FEWEST_FAILURES} that did not are needed."
    if good < FEWEST_FAILURES:
        return (
            f"{start}: only {good} did not fail that way, {FEWEST_FAILURES - good} more needed to "
            "compare with."
        )
    return None


def runs_missing(failed: Mapping[str, np.ndarray], tested: np.ndarray) -> int:
    """
    Return how many more runs would make the first family rankable, at the failure rates so far.

    Parameters
    ----------
    failed : mapping of family name to array of int, shape (n_runs,)
    tested : array of int, shape (n_runs,)

    Returns
    -------
    int
        At least 1.
    """
    runs = max(len(tested), 1)
    needs = []
    for counts in failed.values():
        failures, good = int(counts.sum()), int((tested - counts).sum())
        waits = [FEWEST_RUNS - runs]
        for seen in (failures, good):
            waits.append(math.ceil((FEWEST_FAILURES - seen) * runs / max(seen, 0.5)))
        needs.append(max(waits))
    return max(1, min(needs, default=FEWEST_RUNS))


def nothing_to_rank(
    process: Process, runs: RunTable, measured: tuple[MeasuredOutcome, ...], *, rankable: bool
) -> Verdict:
    """
    Give the verdict of a log in which no failures could be ranked.

    Parameters
    ----------
    process : Process
    runs : RunTable
        Only runs with tested chips.
    measured : tuple of MeasuredOutcome
        What was ranked instead, if anything.
    rankable : bool
        Whether some family had enough failures, so that only parameters are lacking.

    Returns
    -------
    Verdict
    """
    for outcome in measured:
        if outcome.links and outcome.links[0].evidence != "none":
            return _of_measured(process, outcome)
    tested, failed, item, items = runs.tested, runs.failed, process.item, process.items
    chips = int(tested.sum())
    failures = sum(int(counts.sum()) for counts in failed.values())
    if rankable:
        words = "No parameter varies enough in this log to be ranked: log the settings of each run."
    elif not chips:
        words = f"No {item} in this log has a known outcome: log what became of each one first."
    elif not failures:
        all_good = (
            f"The only tested {item} did not fail"
            if chips == 1
            else f"No failure among {chips} tested {items}"
        )
        words = (
            f"{all_good}: there is nothing to tighten; check that failed {items} are logged too."
        )
    elif failures == chips:
        all_failed = f"The only tested {item}" if chips == 1 else f"All {chips} tested {items}"
        words = (
            f"{all_failed} failed: without a good one to compare with, no step stands out; "
            f"check that good {items} are logged too."
        )
    else:
        more = counted(runs_missing(failed, tested), "more run")
        words = (
            "Not enough yet to say which step to tighten "
            f"({counted(failures, 'failure')} in {counted(len(tested), 'run')}): log about {more}."
        )
    return Verdict("log_more", None, None, None, None, words)


def notes_on_measured(process: Process, measured: tuple[MeasuredOutcome, ...]) -> tuple[str, ...]:
    """Say what low measured outcomes are linked to, a sentence each, beside another verdict."""
    notes = []
    for outcome in measured:
        if not outcome.links or outcome.links[0].evidence not in ("strong", "calendar"):
            continue
        low, name = _low_and_linked(process, outcome)
        sure = (
            " (strong evidence)"
            if outcome.links[0].evidence == "strong"
            else ", but anything unlogged that changed at the same time would look the same"
        )
        notes.append(f"{low[0].upper()}{low[1:]} is linked to {name}{sure}.")
    return tuple(notes)


def _low_and_linked(process: Process, outcome: MeasuredOutcome) -> tuple[str, str]:
    """Name a low measured outcome, and what it is most linked to with all that is alike."""
    first, label = outcome.links[0], process.parameter(outcome.column).label
    name = named(process.parameter(first.column))
    if first.alike:
        others = " or ".join(named(process.parameter(other)) for other in first.alike)
        name += f" (or it may be {others}: this log cannot tell)"
    return f"low {in_sentence(label)}", name


def _of_measured(process: Process, outcome: MeasuredOutcome) -> Verdict:
    """Say what a low measured outcome is linked to, where failures cannot be ranked."""
    first = outcome.links[0]
    low, name = _low_and_linked(process, outcome)
    if first.evidence == "some":
        words = (
            f"Nothing stands out yet: {low} goes most with {name}, but that may well be luck; "
            "log more runs."
        )
        return Verdict("log_more", None, None, None, None, words)
    proof = "vary it on purpose within one day to know whether it is the reason."
    if first.evidence == "calendar":
        proof = f"but anything unlogged that changed at the same time would look the same; {proof}"
    step = (
        in_sentence(process.step(first.step).label)
        if first.step
        else named(process.parameter(first.column))
    )
    words = f"Look closer at {step}: {low} is linked to {name}; {proof}"
    return Verdict("look_closer", None, first.step or None, first.column, None, words)
