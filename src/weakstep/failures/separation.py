"""Whether columns separate failed from good completely, and which ones."""

from __future__ import annotations

import numpy as np

SMALLEST = 1e-7


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
        Columns that separate alone; if there are none, those that separate together. Empty when
        the ordinary fit exists.

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
    used = tested > 0
    x, k, m = design[used].astype(float), failed[used], tested[used]
    alone = [
        name
        for column, name in enumerate(names[1:], start=1)
        if _direction(x[:, [0, column]], k, m)[1:].any()
    ]
    if alone:
        return tuple(alone)
    together = _direction(x, k, m)
    named = [name for name, part in zip(names[1:], together[1:], strict=True) if part]
    return tuple(named) if named or not together.any() else (names[0],)


def _direction(x: np.ndarray, failed: np.ndarray, tested: np.ndarray) -> np.ndarray:
    """Return which columns take part in a separating direction; none where there is none."""
    from scipy.optimize import linprog

    size = np.abs(x).max(axis=0)
    scaled = x / np.where(size > 0, size, 1.0)
    pure = (failed == 0) | (failed == tested)
    sided = scaled[pure] * np.where(failed == 0, -1.0, 1.0)[pure][:, None]
    mixed = scaled[~pure]
    result = linprog(
        -sided.sum(axis=0),
        A_ub=-sided if len(sided) else None,
        b_ub=np.zeros(len(sided)) if len(sided) else None,
        A_eq=mixed if len(mixed) else None,
        b_eq=np.zeros(len(mixed)) if len(mixed) else None,
        bounds=[(-1.0, 1.0)] * x.shape[1],
        method="highs",
    )
    if result.status != 0 or -result.fun < SMALLEST:
        return np.zeros(x.shape[1], dtype=bool)
    return np.asarray(np.abs(result.x) > SMALLEST)
