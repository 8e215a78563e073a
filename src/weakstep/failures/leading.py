"""What a ranking would put first, without working out any share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.belief import belief_in
from weakstep.failures.family import FamilyEffects
from weakstep.failures.model import Evidence
from weakstep.failures.steps import ORDER

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate
    from weakstep.failures.links import Link
    from weakstep.process.model import Process
    from weakstep.runlog.model import RunTable

WEIGHED = 3
FAR_BEHIND = 8.0
"""Difference in T that belief does not turn round."""


@dataclass(frozen=True)
class Leader:
    """
    What comes first in one family of one log.

    Attributes
    ----------
    column : str
    alike : tuple of str
        Columns that the log cannot tell from it.
    evidence : Evidence
    """

    column: str
    alike: tuple[str, ...]
    evidence: Evidence


def leader(
    process: Process,
    runs: RunTable,
    failed: np.ndarray,
    candidates: tuple[Candidate, ...],
    links: tuple[Link, ...],
) -> Leader:
    """
    Name what the ranking puts first: the most evidence, then the most belief.

    Belief is asked only of the three highest T of the best evidence: T looks up to the peaks of the
    likelihood, which belief weighs in full.

    Parameters
    ----------
    process : Process
    runs : RunTable
    failed : array of int, shape (n_runs,)
        In the family.
    candidates : tuple of Candidate
    links : tuple of Link
        Of the family, one per candidate.

    Returns
    -------
    Leader
    """
    evidence = min((link.evidence for link in links), key=ORDER.index)
    level = [link for link in links if link.evidence == evidence]
    top = max(link.strength for link in level)
    # Claimed factors were judged one beside the other: their T cannot be compared.
    close = (one for one in level if one.claimed is not None or one.strength > top - FAR_BEHIND)
    best, *others = sorted(close, key=lambda link: -link.strength)[:WEIGHED]
    if others:
        beliefs = _Beliefs(process, runs, candidates, links, failed)
        best = max((best, *others), key=lambda link: beliefs.of(link.factor))
    alike = tuple(candidates[other].name for other in best.alike)
    return Leader(candidates[best.factor].name, alike, evidence)


class _Beliefs(FamilyEffects):
    """What orders factors of the same evidence in the ranking, without the draws of shares."""

    def of(self, factor: int) -> float:
        """Return the log Bayes factor of a mild effect, beside the other claimed factors."""
        counts = self.failed / self._phi, self.runs.tested / self._phi
        return belief_in(self.candidates[factor], self._null(factor), *counts)
