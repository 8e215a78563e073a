"""What a log of a given length can and cannot see, from simulated screens."""

from __future__ import annotations

import numpy as np

# Share of simulated screens that call a shifted parameter strong: independent normal values, three
# of 20 parameters shifted by so many standard deviations (one by each size) from the middle of the
# log on; 200 semesters a number, so standard errors are up to 0.035. Made by
#   python tests/benchmark/drifts.py --cells power
_RUNS = (25, 40, 60, 80, 110, 150, 200, 300)
_FOUND = {
    0.5: (0.000, 0.020, 0.035, 0.090, 0.115, 0.275, 0.450, 0.715),
    1.0: (0.040, 0.190, 0.500, 0.700, 0.935, 0.975, 1.000, 1.000),
    2.0: (0.325, 0.905, 0.995, 1.000, 1.000, 1.000, 1.000, 1.000),
}
_SHIFTS = (2.0, 1.0, 0.5)
_WORTH_SAYING = 0.95  # a larger shift is named only where the smaller one may be missed


def chance_found(n_runs: int, shift: float) -> float:
    """
    Chance that the screen calls a shift halfway through the log, one of 20 parameters.

    Interpolated between simulated lengths of log, in the logarithm of the length.

    Parameters
    ----------
    n_runs : int
        Runs in the log.
    shift : float
        In standard deviations: 0.5, 1 or 2.

    Returns
    -------
    float

    Raises
    ------
    ValueError
        No screens were simulated for that *shift*.

    Examples
    --------
    >>> chance_found(10, 1.0)
    0.0
    """
    if shift not in _FOUND:
        msg = f"shift must be 0.5, 1 or 2 standard deviations, got {shift}"
        raise ValueError(msg)
    if n_runs < _RUNS[0]:
        return 0.0
    return float(np.interp(np.log(n_runs), np.log(_RUNS), _FOUND[shift]))


def power_note(n_runs: int) -> str:
    """
    Say what size of shift a log of *n_runs* runs shows, and what it does not.

    Parameters
    ----------
    n_runs : int
        Runs in the log.

    Returns
    -------
    str
        One sentence.

    Examples
    --------
    >>> power_note(12)
    'With 12 runs nothing can be judged; at least 25 are needed.'
    """
    if n_runs < _RUNS[0]:
        runs = "1 run" if n_runs == 1 else f"{n_runs} runs"
        return f"With {runs} nothing can be judged; at least {_RUNS[0]} are needed."
    larger = chance_found(n_runs, 1.0) < _WORTH_SAYING
    first, second = _SHIFTS[:2] if larger and n_runs < 100 else _SHIFTS[1:]
    return (
        f"With {n_runs} runs, a shift of {_size(first)} halfway through the log is found "
        f"{_in_ten(chance_found(n_runs, first))}; a shift of {second:g} "
        f"{_in_ten(chance_found(n_runs, second))}."
    )


def _size(shift: float) -> str:
    return f"{shift:g} standard deviation{'s' * (shift != 1.0)}"


def _in_ten(share: float) -> str:
    if share < 0.05:
        return "hardly ever"
    if share > 0.95:
        return "nearly always"
    return f"about {max(1, min(9, round(10 * share)))} times in 10".replace("1 times", "1 time")
