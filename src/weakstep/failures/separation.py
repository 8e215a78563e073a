"""Whether columns separate failed from good completely, and which ones."""

from __future__ import annotations

import numpy as np

SMALLEST = 1e-7
SAME = 1e-8
NEARLY_SAME = 30.0
LARGE_PART = 0.5


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


def dependent_columns(design: np.ndarray, names: list[str]) -> tuple[str, ...]:
    """
    Name the columns that say the same: those of a linear combination that is 0 in every run.

    Parameters
    ----------
    design : array, shape (n_runs, n_columns)
    names : list of str

    Returns
    -------
    tuple of str
        Empty when the columns have full rank.

    Examples
    --------
    >>> design = np.column_stack([np.ones(3), [0.0, 1.0, 1.0], [1.0, 0.0, 0.0], [1.0, 5.0, 2.0]])
    >>> dependent_columns(design, ["intercept", "A", "B", "delay"])
    ('intercept', 'A', 'B')
    """
    values, directions = _singular(design)
    null = directions[values <= SAME * values.max(initial=1.0)]
    taken = (np.abs(null) > 1e-6).any(axis=0)
    return tuple(name for name, part in zip(names, taken, strict=True) if part)


def nearly_dependent_columns(design: np.ndarray, names: list[str]) -> tuple[str, ...]:
    """
    Name the columns that nearly say the same, so that their coefficients cannot be told apart.

    Columns are scaled to length 1; where a singular value is more than 30 times smaller than the
    largest, those are named of which more than half of the variance belongs to it.

    Parameters
    ----------
    design : array, shape (n_runs, n_columns)
        Of full rank.
    names : list of str

    Returns
    -------
    tuple of str
        At least two, or none.

    References
    ----------
    Belsley, D. A., Kuh, E. & Welsch, R. E. (1980), Regression Diagnostics, section 3.2.
    """
    values, directions = _singular(design)
    parts = (directions / values[:, None]) ** 2
    parts /= parts.sum(axis=0)
    weak = values * NEARLY_SAME < values.max()
    taken = parts[weak].sum(axis=0) > LARGE_PART
    return tuple(np.array(names)[taken].tolist()) if taken.sum() > 1 else ()


def _singular(design: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return all singular values and right directions of the columns scaled to length 1."""
    size = np.sqrt((design.astype(float) ** 2).sum(axis=0))
    scaled = design / np.where(size > 0, size, 1.0)
    _, values, directions = np.linalg.svd(scaled)
    return np.pad(values, (0, len(directions) - len(values))), directions
