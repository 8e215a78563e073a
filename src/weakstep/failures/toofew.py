"""When a log holds too little to rank anything: what to say, and how much more is needed."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from weakstep.failures.model import Verdict
from weakstep.failures.words import counted, failures_words

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
            f"{start}: {counted(runs, 'run')} with tested chips, {FEWEST_RUNS - runs} more needed."
        )
    if failures < FEWEST_FAILURES:
        return f"{start}: {failures} so far, {FEWEST_FAILURES - failures} more needed."
    if good < FEWEST_FAILURES:
        return (
            f"{start}: only {counted(good, 'chip')} did not fail that way, "
            f"{FEWEST_FAILURES - good} more needed to compare with."
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
    tested: np.ndarray, failed: Mapping[str, np.ndarray], *, rankable: bool
) -> Verdict:
    """
    Give the verdict of a log in which nothing could be ranked.

    Parameters
    ----------
    tested : array of int, shape (n_runs,)
        Of runs with tested chips.
    failed : mapping of family name to array of int, shape (n_runs,)
    rankable : bool
        Whether some family had enough failures, so that only parameters are lacking.

    Returns
    -------
    Verdict
    """
    chips = int(tested.sum())
    failures = sum(int(counts.sum()) for counts in failed.values())
    if rankable:
        words = "No parameter varies enough in this log to be ranked: log the settings of each run."
    elif not chips:
        words = "No chip in this log has a known outcome: log what became of each one first."
    elif not failures:
        words = (
            f"No failure among {counted(chips, 'tested chip')}: there is nothing to tighten; check "
            "that failed chips are logged too."
        )
    elif failures == chips:
        words = (
            f"All {counted(chips, 'tested chip')} failed: without a good one to compare with, no "
            "step stands out; check that good chips are logged too."
        )
    else:
        more = counted(runs_missing(failed, tested), "more run")
        words = (
            "Not enough yet to say which step to tighten "
            f"({counted(failures, 'failure')} in {counted(len(tested), 'run')}): log about {more}."
        )
    return Verdict("log_more", None, None, None, None, words)
