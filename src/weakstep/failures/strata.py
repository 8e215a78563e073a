"""Runs within groups of operators: who belongs together, and values less their group's mean."""

from __future__ import annotations

import numpy as np


def stratum_members(strata: np.ndarray) -> np.ndarray:
    """Return 1 where a run, numbered across, belongs to a stratum, shape (n_strata, n_runs)."""
    return np.asarray(strata[None, :] == np.arange(strata.max() + 1)[:, None], dtype=float)


def centred_within(columns: np.ndarray, strata: np.ndarray) -> np.ndarray:
    """
    Return *columns*, shape (n_runs, k), less their means within each stratum.

    Examples
    --------
    >>> centred_within(np.array([[1.0], [3.0], [5.0]]), np.array([0, 0, 1])).ravel()
    array([-1.,  1.,  0.])
    """
    members = stratum_members(strata)
    return np.asarray(columns - ((members @ columns) / members.sum(axis=1)[:, None])[strata])
