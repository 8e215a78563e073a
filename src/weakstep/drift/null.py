"""What the statistics would be if nothing had moved: re-orderings of runs, and one scale."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Orders = NDArray[np.int32]


def shared_orders(strata: NDArray[np.intp], permutations: int, seed: int) -> Orders:
    """
    Random re-orderings of all runs within strata, shared by all parameters.

    Parameters
    ----------
    strata : array of int, shape (n_runs,)
    permutations, seed : int

    Returns
    -------
    array of int, shape (permutations, n_runs)
        Each row lists the runs stratum by stratum, at random within each.
    """
    keys = np.random.default_rng(seed).random((permutations, len(strata)))
    return np.argsort(keys + strata, axis=1).astype(np.int32)


def orders_of(shared: Orders, logged: NDArray[np.bool_], strata: NDArray[np.intp]) -> Orders:
    """
    Re-orderings of one parameter's logged values, in step with those of the other parameters.

    Parameters
    ----------
    shared : array of int, shape (permutations, n_runs)
        From `shared_orders`.
    logged : array of bool, shape (n_runs,)
    strata : array of int, shape (n_runs,)

    Returns
    -------
    array of int, shape (n_values, permutations)
        Which logged value takes each place.

    Examples
    --------
    >>> strata = np.array([0, 1, 0])
    >>> shared = np.array([[2, 0, 1]], dtype=np.int32)
    >>> orders_of(shared, np.array([True, True, True]), strata).ravel().tolist()
    [2, 1, 0]
    """
    count = int(logged.sum())
    number = (np.cumsum(logged) - 1).astype(np.int32)
    kept = number[shared[logged[shared]].reshape(len(shared), count)]
    places = np.argsort(strata[logged], kind="stable")
    orders = np.empty((count, len(shared)), dtype=np.int32)
    orders[places] = kept.T
    return orders


def tail_shares(values: Floats) -> Floats:
    """
    Share of the re-ordered values of all parameters that reach each value: one scale for all.

    Parameters
    ----------
    values : array, shape (n_parameters, 1 + permutations)
        Observed statistic first.

    Returns
    -------
    array, shape (n_parameters, 1 + permutations)
        Small where the statistic is large.

    Examples
    --------
    >>> tail_shares(np.array([[3.0, 1.0, 2.0]])).tolist()
    [[0.3333333333333333, 1.0, 0.6666666666666666]]
    """
    pool = np.sort(values.ravel())
    reached = len(pool) - np.searchsorted(pool, values.ravel(), side="left")
    return (reached / len(pool)).reshape(values.shape)


def step_down(shares: Floats) -> Floats:
    """
    Family-wise p-values over parameters by the step-down minimum of re-ordered tail shares.

    Parameters
    ----------
    shares : array, shape (n_parameters, 1 + permutations)
        Smallest tail share over the forms, observed first; columns share their re-ordering.

    Returns
    -------
    array, shape (n_parameters,)

    References
    ----------
    P. H. Westfall and S. S. Young (1993), Resampling-Based Multiple Testing, Wiley, algorithm 2.8.

    Examples
    --------
    >>> step_down(np.array([[0.1, 0.5, 0.9], [0.6, 0.7, 0.2]])).round(3).tolist()
    [0.333, 0.667]
    """
    order = np.argsort(shares[:, 0], kind="stable")
    sorted_shares = shares[order]
    smallest_left = np.minimum.accumulate(sorted_shares[::-1], axis=0)[::-1]
    reached = (smallest_left[:, 1:] <= sorted_shares[:, :1]).sum(axis=1)
    adjusted = np.maximum.accumulate((1 + reached) / shares.shape[1])
    p = np.empty(len(shares))
    p[order] = adjusted
    return p
