"""What of a filled sheet does not fit its plan, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.failures.words import counted, failures_words, named
from weakstep.trials.names import outcome_words, setting_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from weakstep.process.model import Process
    from weakstep.trials.finished import Finished

_MOST_TOLD = 8
_UNFINISHED = 0.2  # of the runs without an outcome


def fit_words(found: Finished, process: Process) -> list[str]:
    """Return a paragraph for each way in which the sheet does not fit; none when it does."""
    fit = found.fit
    told = _missing(found)
    if fit.strangers:
        told.append(
            f"Left out, for the plan does not know {'it' if len(fit.strangers) == 1 else 'them'}: "
            f"{_listed(fit.strangers)}."
        )
    for column, runs in fit.not_written:
        label = named(process.parameter(column))
        told.append(
            f"{label[:1].upper()}{label[1:]} has no value that can be read in "
            f"{counted(runs, 'run')}, which count at the planned level all the same."
        )
    if fit.other_failed:
        others = [f"{_family(name, process)} ({count})" for name, count in fit.other_failed]
        told.append(
            f"Counted as not failed, for the trial asks for {outcome_words(found.plan, process)} "
            f"only: {', '.join(others)}."
        )
    if fit.only_bounds:
        told.append(
            f"Left out are cells that only bound {outcome_words(found.plan, process)}, such as "
            f"'> 300' ({fit.only_bounds}): a mean may be off to that side."
        )
    chips, failed = fit.unmeasured
    if failed:
        told.append(
            f"{chips} {process.item if chips == 1 else process.items} of these runs have no "
            f"{outcome_words(found.plan, process).removeprefix('the ')}, and {failed} of them "
            "failed: the means are of the others and flatter a level at which many fail."
        )
    return [*told, *_off_plan(found, process)]


def _missing(found: Finished) -> list[str]:
    missing = found.fit.missing
    if not missing:
        return []
    told = f"{counted(len(missing), 'planned run')} without an outcome: {_listed(missing)}."
    if len(missing) > _UNFINISHED * len(found.plan.runs):
        told += (
            " The reading that counts is that of the whole trial: who looks again and again and "
            "stops when it looks well takes luck for an effect more often than planned."
        )
    return [told]


def _listed(names: Sequence[str]) -> str:
    more = len(names) - _MOST_TOLD
    return ", ".join(names[:_MOST_TOLD]) + (f" and {more} more" if more > 0 else "")


def _family(name: str, process: Process) -> str:
    return failures_words(next(one.label for one in process.families if one.name == name))


def _off_plan(found: Finished, process: Process) -> list[str]:
    off_plan = found.fit.off_plan
    if not off_plan:
        return []
    told = [
        f"  {one.run_id}: {setting_words(process, one.column, one.found)} instead of "
        f"{setting_words(process, one.column, one.planned)} ({process.parameter(one.column).label})"
        for one in off_plan[:_MOST_TOLD]
    ]
    more = len(off_plan) - len(told)
    head = "Not set as planned (counted at the planned level all the same):"
    return ["\n".join([head, *told, *([f"  and {more} more"] if more else [])])]
