"""Whether columns separate failed from good completely, and which ones."""

from __future__ import annotations

import numpy as np


def separating_columns(
    design: np.ndarray, names: list[str], failed: np.ndarray, tested: np.ndarray
) -> tuple[str, ...]:
    """
    Name the columns along which good and failed are separated, completely or but for ties.

    The ordinary fit has no finite maximum exactly when some direction b has x_i b >= 0 for all
    runs that only failed, <= 0 for all that only held and = 0 for mixed runs, and not 0 for all;
    the direction is found by linear programming within -1 <= b <= 1 on standardised columns.

    Parameters
    ----------
    design : array, shape (n_runs, n_columns)
        Intercept first.
    names : list of str
    failed, tested : array of int, shape (n_runs,)

    Returns
    -------
    tuple of str
        Empty when the ordinary fit exists.

    References
    ----------
    Albert, A. & Anderson, J. A. (1984), Biometrika 71, 1-10; Konis, K. (2007), Linear programming
    algorithms for detecting separated data, DPhil thesis, University of Oxford.

    Examples
    --------
    >>> design = np.column_stack([np.ones(4), [1.0, 2.0, 3.0, 4.0]])
    >>> separating_columns(design, ["intercept", "delay"], np.array([0, 0, 1, 1]), np.ones(4))
    ('delay',)
    """
    from scipy.optimize import linprog

    used = tested > 0
    x, k, m = design[used].astype(float), failed[used], tested[used]
    scale = np.abs(x).max(axis=0)
    x = x / np.where(scale > 0, scale, 1.0)
    sign = np.where(k == m, 1.0, -1.0)[(k == 0) | (k == m)]
    pure = x[(k == 0) | (k == m)] * sign[:, None]
    mixed = x[(k > 0) & (k < m)]
    result = linprog(
        -pure.sum(axis=0),
        A_ub=-pure if len(pure) else None,
        b_ub=np.zeros(len(pure)) if len(pure) else None,
        A_eq=mixed if len(mixed) else None,
        b_eq=np.zeros(len(mixed)) if len(mixed) else None,
        bounds=[(-1.0, 1.0)] * x.shape[1],
        method="highs",
    )
    if result.status != 0 or -result.fun < 1e-7:
        return ()
    named = [name for name, value in zip(names[1:], result.x[1:], strict=True) if abs(value) > 1e-7]
    return tuple(named or names[:1])
