"""CUSUM charts of counts (faults, failed items, single items), with exact run lengths."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.chain import told
from weakstep.charts.checks import real, whole_counts, whole_number
from weakstep.charts.frozen import constant_line, frozen
from weakstep.charts.model import Chart, Limits, Signal
from weakstep.charts.row_checks import one_row
from weakstep.charts.run_length_laws import RunLengthLaw, law_of
from weakstep.charts.slow_chains import LONGEST_LAW, survivals_of_chain

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_FINEST = 1000  # parts of one count that a reference value may have
_MOST_STATES = 4000


@dataclass(frozen=True)
class CountScheme:
    """
    Reference value, limit and head start of a CUSUM of counts, in parts of one count.

    Attributes
    ----------
    parts : int
        Parts of one count: all sums are whole numbers of them.
    reference, least_signal, start : int
        Reference value, smallest sum that signals, and first sum.
    upward : bool
    """

    parts: int
    reference: int
    least_signal: int
    start: int
    upward: bool

    @classmethod
    def of(
        cls, reference: float, decision: float, head_start: float, *, upward: bool
    ) -> CountScheme:
        """Build the scheme; raise where sums could not be told apart."""
        exact = _fraction("reference", real("reference", reference, above=0.0, most=1e4))
        first = _fraction("head_start", real("head_start", head_start, least=0.0, most=1e4))
        real("decision", decision, above=0.0, most=1e4)
        parts = math.lcm(exact.denominator, first.denominator)
        least_signal = math.ceil(decision * parts - 1e-9)
        start = int(first * parts)
        if least_signal > _MOST_STATES:
            msg = (
                f"decision must be at most {_MOST_STATES / parts:g} for sums in parts of "
                f"1/{parts} count, got {decision}"
            )
            raise ValueError(msg)
        if not start < least_signal:
            msg = f"head_start must be below decision, got {head_start} and {decision}"
            raise ValueError(msg)
        return cls(parts, int(exact * parts), least_signal, start, upward)

    def moves(self, chances: Floats) -> Floats:
        """Chance of each sum without signal after each; shape (n_sums, n_sums)."""
        gain = self.parts * np.arange(len(chances)) - self.reference
        gain = gain if self.upward else -gain
        sums = np.arange(self.least_signal)
        after = np.maximum(sums[:, None] + gain, 0)
        kept = after < self.least_signal
        table = np.zeros((len(sums), len(sums)))
        np.add.at(
            table,
            (np.broadcast_to(sums[:, None], after.shape)[kept], after[kept]),
            np.broadcast_to(chances, after.shape)[kept],
        )
        return table


def count_cusum_law(
    mean: float,
    reference: float,
    decision: float,
    *,
    head_start: float = 0.0,
    tested: int | None = None,
    upward: bool = True,
) -> RunLengthLaw:
    r"""
    Distribution of the run length of a CUSUM of counts, exactly.

    Sums :math:`S_i = \max(0, S_{i-1} + x_i - k)`, downwards :math:`\max(0, S_{i-1} - x_i + k)`,
    signal when they reach *h*. With *k* a fraction the sums are whole numbers of its parts, so a
    finite Markov chain holds all.

    Parameters
    ----------
    mean : float
        True mean count of a point, above 0.
    reference, decision : float
        *k* and *h*, in counts. Best for a change of a Poisson mean from :math:`a` to :math:`b` is
        :math:`k = (b - a) / \ln(b / a)`, and of a share from :math:`p` to :math:`q`, each of *n*
        items, :math:`k = n \ln\frac{1 - p}{1 - q} / \ln\frac{q (1 - p)}{p (1 - q)}`; rounded to a
        simple fraction.
    head_start : float, default 0
        First sum, in counts; half of *decision* is the fast initial response.
    tested : int, optional
        Items in each point: counts are binomial of that size and share *mean* / *tested* (1 gives
        the Bernoulli CUSUM of single items). Default Poisson counts.
    upward : bool, default True

    Returns
    -------
    RunLengthLaw
        In points.

    Raises
    ------
    ValueError
        An argument is out of range, or *reference* is no simple fraction.

    References
    ----------
    D. Brook and D. A. Evans (1972), An approach to the probability distribution of CUSUM run
    length, Biometrika 59, 539-549. J. M. Lucas (1985), Counted data CUSUM's, Technometrics 27,
    129-144. M. R. Reynolds and Z. G. Stoumbos (1999), A CUSUM chart for monitoring a proportion
    when inspecting continuously, Journal of Quality Technology 31, 87-108.

    Examples
    --------
    >>> law = count_cusum_law(1.0, 2.0, 3.0)
    >>> round(law.average, 2), law.quantile(0.5)
    (151.61, 105)
    """
    scheme = CountScheme.of(reference, decision, head_start, upward=upward)
    moves = scheme.moves(_chances(mean, tested))
    try:
        lengths = np.linalg.solve(np.eye(len(moves)) - moves, np.ones(len(moves)))
        average = told(float(lengths[scheme.start]))
    except np.linalg.LinAlgError:
        average = math.inf

    left = survivals_of_chain(moves, np.eye(1, len(moves), scheme.start)[0])
    next(left)  # before the first point
    return law_of(left, average, longest=LONGEST_LAW)


def count_cusum_run_length(
    mean: float,
    reference: float,
    decision: float,
    *,
    head_start: float = 0.0,
    tested: int | None = None,
    upward: bool = True,
) -> float:
    """
    Average run length of a CUSUM of counts: the average of `count_cusum_law`.

    Parameters
    ----------
    mean, reference, decision, head_start, tested, upward
        As for `count_cusum_law`.

    Returns
    -------
    float
        In points; infinite where it is beyond 1e12.

    Raises
    ------
    ValueError
        As for `count_cusum_law`.

    Examples
    --------
    >>> round(count_cusum_run_length(0.01, 1 / 40, 2.0, tested=1), 1)
    1901.1
    """
    return count_cusum_law(
        mean, reference, decision, head_start=head_start, tested=tested, upward=upward
    ).average


def count_cusum(
    counts: ArrayLike,
    *,
    mean: float,
    reference: float,
    decision: float,
    head_start: float = 0.0,
    tested: int | None = None,
    upward: bool = True,
) -> Chart:
    r"""
    CUSUM chart of counts, upwards or downwards.

    :math:`S_i = \max(0, S_{i-1} + x_i - k)`, downwards :math:`\max(0, S_{i-1} - x_i + k)`, with a
    signal when a sum reaches *h*. A missing count leaves the sum where it was.

    Parameters
    ----------
    counts : array_like of int, shape (n_points,)
        Faults or failed items of each point; NaN is a gap.
    mean : float
        Mean count of a stable point, for the chance of a false alarm.
    reference, decision, head_start, tested, upward
        As for `count_cusum_law`.

    Returns
    -------
    Chart
        Sums in counts; a sum on the upper limit signals.

    Raises
    ------
    ValueError
        Counts are not whole or negative, more than *tested*, or an argument is out of range.

    References
    ----------
    As for `count_cusum_law`.

    Examples
    --------
    >>> chart = count_cusum([1, 3, 4, 0], mean=1.0, reference=2.0, decision=3.0)
    >>> chart.values.tolist(), [signal.at for signal in chart.signals]
    ([0.0, 1.0, 3.0, 1.0], [2])
    """
    shown = one_row(counts)
    logged = np.flatnonzero(~np.isnan(shown))
    known = whole_counts("counts", shown[logged])
    scheme = CountScheme.of(reference, decision, head_start, upward=upward)
    law = count_cusum_law(
        mean, reference, decision, head_start=head_start, tested=tested, upward=upward
    )
    if tested is not None and (known > tested).any():
        msg = f"counts must be at most tested ({tested}), found {known.max():g}"
        raise ValueError(msg)
    way = 1 if upward else -1
    total, sums = scheme.start, np.full(shown.shape, np.nan)
    for place, count in zip(logged, known, strict=True):
        total = max(0, total + way * (scheme.parts * int(count) - scheme.reference))
        sums[place] = total / scheme.parts
    reached = logged[sums[logged] * scheme.parts >= scheme.least_signal - 1e-6]
    spread = mean if tested is None else mean * (1.0 - mean / tested)
    return Chart(
        kind="CUSUM of counts " + ("up" if upward else "down"),
        values=frozen(sums),
        limits=Limits(
            centre=0.0,
            lower=constant_line(0.0, shown),
            upper=constant_line(decision, shown),
            sigma=math.sqrt(spread),
            sigma_from="Poisson" if tested is None else "binomial",
            degrees_of_freedom=math.inf,
        ),
        signals=tuple(Signal("beyond_limit", "beyond a limit", (int(place),)) for place in reached),
        false_alarm=1.0 - law.survival(len(logged)),
    )


def _chances(mean: float, tested: int | None) -> Floats:
    """Chance of each count from 0 on."""
    from scipy.stats import binom, poisson

    real("mean", mean, above=0.0, most=1e4)
    if tested is None:
        most = _most(mean)
        return np.asarray(poisson.pmf(np.arange(most + 1), mean), dtype=float)
    size = whole_number("tested", tested, 1)
    if not mean <= size:
        msg = f"mean must be at most tested ({size}), got {mean}"
        raise ValueError(msg)
    most = min(size, _most(mean))
    return np.asarray(binom.pmf(np.arange(most + 1), size, mean / size), dtype=float)


def _fraction(name: str, value: float) -> Fraction:
    """Return *value* as a simple fraction; raise where it is none."""
    exact = Fraction(value).limit_denominator(_FINEST)
    if abs(float(exact) - value) > 1e-9 * max(1.0, value):
        msg = f"{name} must be a fraction with a divisor up to {_FINEST}, got {value}"
        raise ValueError(msg)
    return exact


def _most(mean: float) -> int:
    """Count that a stable point passes with a chance of less than 1e-18."""
    return math.ceil(mean + 10.0 * math.sqrt(mean) + 30.0)
