"""Two-level designs for many factors in few runs: each effect clear of every other single one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

# First rows by number of runs; the others are this row turned round, and one row of low levels.
FIRST_ROWS = {
    8: "+++-+--",
    12: "++-+++---+-",
    16: "++++-+-++--+---",
    20: "++--++++-+-+----++-",
    24: "+++++-+-++--++--+-+----",
}


def plackett_burman(runs: int) -> NDArray[np.float64]:
    r"""
    Build the Plackett-Burman design: one factor less than runs, all columns orthogonal.

    Row *i* is the first row turned *i* places to the right, and the last row is all low. Each pair
    of factors is spread over every other factor, by a third of its effect in 12 runs: a clear
    effect may be made of several pairs, so that the design screens and does not settle.

    Parameters
    ----------
    runs : int
        8, 12, 16, 20 or 24.

    Returns
    -------
    array, shape (runs, runs - 1)
        -1 for the low and +1 for the high level.

    Raises
    ------
    ValueError
        Another number of runs.

    References
    ----------
    Plackett, R. L. & Burman, J. P. (1946), The design of optimum multifactorial experiments,
    Biometrika 33, 305-325; NIST/SEMATECH e-Handbook of Statistical Methods, 5.3.3.5.

    Examples
    --------
    >>> plackett_burman(12)[0].tolist()
    [1.0, 1.0, -1.0, 1.0, 1.0, 1.0, -1.0, -1.0, -1.0, 1.0, -1.0]
    """
    if runs not in FIRST_ROWS:
        msg = f"no screening design of {runs} runs is listed; there are {list(FIRST_ROWS)}"
        raise ValueError(msg)
    first = np.array([1.0 if sign == "+" else -1.0 for sign in FIRST_ROWS[runs]])
    turned = [np.roll(first, shift) for shift in range(runs - 1)]
    return np.vstack([*turned, np.full(runs - 1, -1.0)])
