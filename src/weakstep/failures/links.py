"""What the screen is asked, what it answers, and which parameters go together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.strata import centred_within

if TYPE_CHECKING:
    from weakstep.failures.model import Evidence


@dataclass(frozen=True, eq=False)
class Outcomes:
    """
    What the screen explains, per run in time order.

    Attributes
    ----------
    tested : array of int, shape (n_runs,)
        At least 1 each.
    failed : mapping of family name to array of int, shape (n_runs,)
        Families with enough failures.
    operator : array of str, shape (n_runs,)
    week : array of int, shape (n_runs,)
    """

    tested: np.ndarray
    failed: Mapping[str, np.ndarray]
    operator: np.ndarray
    week: np.ndarray


@dataclass(frozen=True)
class Link:
    """
    What the screen says of one factor in one family.

    Attributes
    ----------
    factor : int
        Index among the candidates.
    shape : int
        Index of its best shape among its own shapes.
    z, strength : float
        Signed score of that shape, and T.
    p : float
        Family-wise.
    p_week, p_calendar : float or None
        Gates, for factors that were claimed.
    evidence : Evidence
    claimed : int or None
        Order in which it was claimed, from 0; None for the others.
    alike : tuple of int
        Candidates that the log cannot tell from it.
    """

    factor: int
    shape: int
    z: float
    strength: float
    p: float
    p_week: float | None
    p_calendar: float | None
    evidence: Evidence
    claimed: int | None
    alike: tuple[int, ...]


def correlations_within(columns: np.ndarray, strata: np.ndarray) -> np.ndarray:
    """
    Return the correlations of *columns*, shape (n_runs, k), with each other within strata.

    All values less their stratum's mean; 0 where nothing varies within strata. Shape (k, k).
    """
    centred = centred_within(columns, strata)
    size = np.sqrt((centred**2).sum(axis=0))
    varies = size > 1e-6
    centred = np.where(varies, centred / np.where(varies, size, 1.0), 0.0)
    return np.asarray(centred.T @ centred)
