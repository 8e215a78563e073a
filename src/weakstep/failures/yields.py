"""Yield of each step, and modes against steps, from the suspicions that the description names."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from weakstep.failures.model import StepRank, StepYield, Suspicion
from weakstep.failures.wilson import wilson
from weakstep.interval import Interval

if TYPE_CHECKING:
    from weakstep.failures.by_mode import ModeLink
    from weakstep.process.model import Process

LEVEL = 0.95


def step_yields(process: Process, counts: Mapping[str, int], tested: int) -> tuple[StepYield, ...]:
    r"""
    Share failures out over the suspected steps, and roll the yields through the steps.

    With :math:`n_s` chips entering step s and :math:`d_s` of them lost there, its yield is
    :math:`1 - d_s / n_s` and the next step gets :math:`n_s - d_s`; the rolled yield is the product
    of the yields so far. Modes without a suspected step stay out of the steps.

    Parameters
    ----------
    process : Process
    counts : mapping of mode name to int
        Failed chips.
    tested : int
        Chips with a known outcome.

    Returns
    -------
    tuple of StepYield
        In working order.
    """
    lost = dict.fromkeys((step.name for step in process.steps), 0.0)
    for mode in process.modes:
        total = sum(mode.likely_steps.values())
        for step, strength in mode.likely_steps.items():
            lost[step] += counts.get(mode.name, 0) * strength / total
    if not tested or not any(lost.values()):
        return ()
    yields = []
    entering, rolled = float(tested), 1.0
    for step, gone in lost.items():
        share = (
            wilson(max(entering - gone, 0.0), entering)
            if entering > 0.0
            else Interval(0.0, 0.0, 1.0, LEVEL)
        )
        rolled *= share.estimate
        yields.append(StepYield(step, gone, share, rolled))
        entering -= gone
    return tuple(yields)


def suspicions(
    process: Process,
    modes: tuple[str, ...],
    steps: tuple[StepRank, ...],
    by_mode: Mapping[tuple[str, str], ModeLink],
) -> tuple[Suspicion, ...]:
    """
    Set the trade's suspicions beside what the log says, mode by mode and step by step.

    Parameters
    ----------
    process : Process
    modes : tuple of str
        Modes that occurred.
    steps : tuple of StepRank
    by_mode : mapping of (mode, step) to ModeLink
        What each mode alone is linked to, where it has enough failures.

    Returns
    -------
    tuple of Suspicion
        Pairs that the description suspects, or for which the log has some evidence.
    """
    said = {(one.family, one.step): one for one in steps}
    table = []
    for name in modes:
        mode = process.mode(name)
        for step in process.steps:
            suspected = mode.likely_steps.get(step.name, 0)
            rank = said.get((mode.family, step.name))
            link = by_mode.get((name, step.name))
            evidence = link.evidence if link else rank.evidence if rank else "none"
            if not suspected and evidence == "none":
                continue
            table.append(
                Suspicion(
                    name,
                    mode.family,
                    step.name,
                    suspected,
                    None if rank is None else rank.evidence,
                    None if rank is None else rank.preventable_share,
                    None if link is None else link.column,
                    None if link is None else link.p,
                    None if link is None else link.evidence,
                )
            )
    return tuple(table)
