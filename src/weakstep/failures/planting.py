"""A doubling planted in one parameter of a log: which runs, and how often they then fail."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.enough import LARGEST_RATE
from weakstep.failures.null_model import NullFit, overdispersion

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate

LEAST_HALF = 0.25


def upper_half(candidate: Candidate) -> np.ndarray | None:
    """
    Return which runs lie in the upper half of a parameter's logged values, as nearly as ties allow.

    1 above, 0 below, NaN where not logged; None for categories, and when one half holds less than
    a quarter of the logged runs.
    """
    if candidate.kind == "category":
        return None
    values = candidate.values
    known = np.sort(values[candidate.logged])
    cuts = np.unique(known)[:-1]
    if not len(cuts):
        return None
    above = 1.0 - np.searchsorted(known, cuts, side="right") / len(known)
    best = int(np.argmin(np.abs(above - 0.5)))
    if min(above[best], 1.0 - above[best]) < LEAST_HALF:
        return None
    return np.where(candidate.logged, values > cuts[best], np.nan)


def planted_rate(
    rate: np.ndarray, tested: np.ndarray, upper: np.ndarray, ratio: float
) -> np.ndarray:
    """Return failure rates with *ratio* between the halves and as many failures expected as before.

    Runs that did not log the parameter (NaN in *upper*) keep theirs.
    """
    known = ~np.isnan(upper)
    if not known.any():
        return rate
    times = np.where(known, np.where(upper > 0, ratio, 1.0), 1.0)
    before = float((tested * rate)[known].sum())
    times[known] *= before / float((tested * rate * times)[known].sum())
    return np.asarray(np.minimum(rate * times, LARGEST_RATE))


def correlation_beside(null: NullFit, tested: np.ndarray) -> float:
    """Return how chips of one run fail together beyond who ran it: (phi - 1) / (m - 1)."""
    typical = float((tested**2).sum() / tested.sum())
    return 0.0 if typical <= 1.0 else min(1.0, (overdispersion(null) - 1.0) / (typical - 1.0))
