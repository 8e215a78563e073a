"""Counting outcomes: by mode and by family, each share with its interval."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.groups import group_counts
from weakstep.failures.model import ModeCount, Tally
from weakstep.failures.places import place_counts
from weakstep.failures.wilson import wilson
from weakstep.failures.yields import step_yields

if TYPE_CHECKING:
    from weakstep.runlog.model import RunLog


def tally(log: RunLog) -> Tally:
    """
    Count tested, failed and untested chips: by mode, family, group, place on the chip and step.

    Parameters
    ----------
    log : RunLog
        Chips without a known outcome are counted apart and belong to no share.

    Returns
    -------
    Tally
        Shares are of the tested chips, with Wilson intervals at 95 %. They describe this log's
        chips one by one; chips of one run fail together, so the ranking works on runs.
    """
    chips, runs = log.chips, log.runs
    tested = int(runs.tested.sum())
    untested = int(chips["made"].sum()) - tested if len(chips) else 0
    by_family = {
        name: wilson(int(failed.sum()), tested)
        for name, failed in runs.failed.items()
        if tested and int(failed.sum())
    }
    counts: dict[str, int] = {}
    for mode, failed in zip(chips["mode"], chips["failed"], strict=True):
        if int(failed) and mode:
            counts[str(mode)] = counts.get(str(mode), 0) + int(failed)
    families = {mode.name: mode.family for mode in log.process.modes}
    modes = tuple(
        ModeCount(mode, families.get(mode, ""), count, wilson(count, tested))
        for mode, count in sorted(counts.items(), key=lambda item: (-item[1], item[0]))
        if tested
    )
    failed_chips = int(chips["failed"].sum()) if len(chips) else 0
    rate = wilson(failed_chips, tested) if tested else None
    failed_in_run = np.sum(list(runs.failed.values()), axis=0) if runs.failed else 0 * runs.tested
    return Tally(
        tested,
        failed_chips,
        max(untested, 0),
        rate,
        modes,
        by_family,
        group_counts(log.process, runs, failed_in_run) if failed_chips else (),
        place_counts(log),
        step_yields(log.process, counts, tested),
    )
