"""A change that was found, in the parameter's own unit: form, since when, before and after."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.fitness import suits_log_scale
from weakstep.drift.splits import (
    LEAST_SEGMENT,
    centred_within,
    split_norms,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from weakstep.drift.model import Form

    Floats = NDArray[np.float64]
    Places = NDArray[np.intp]

# Twice the log likelihood that a 95 % interval for the place of a change may lose. For a jump 7.35
# is the 95 % point of the limiting distribution; the start of a ramp takes more than its limit
# (3.84). Where the intervals of several forms are united nine tenths of it are enough: intervals
# of found changes then cover 92 to 98 % in simulated logs of 80 to 300 runs.
_JUMP_DROP = 7.35
_HINGE_DROP = 5.55
_SPREAD_DROP = 7.35
_UNITED = 0.9
AS_GOOD = 6.0  # BIC units within which forms fit about as well
PSEUDO_RUNS = 3.0  # runs of variance 1 added to each side when variances are compared
_FAR_OUT = 3.0  # interquartile ranges beyond the quartiles at which values are pulled in


@dataclass(frozen=True)
class Description:
    """
    What changed, when, and from where to where; see `weakstep.drift.model.Drift`.

    Attributes
    ----------
    form : str
    since : int
    since_interval : tuple of int
        Among all runs.
    before, after : float
    other_forms : tuple of str
    """

    form: Form
    since: int
    since_interval: tuple[int, int]
    before: float
    after: float
    other_forms: tuple[Form, ...]


@dataclass(frozen=True, eq=False)
class Profile:
    """
    How much better a form fits than "no change", for each first changed value.

    Attributes
    ----------
    form : str
    first : array of int, shape (n_places,)
        Place of the first changed value, among the logged values.
    gain : array, shape (n_places,)
        Twice the gain in log likelihood, reduced for likeness of neighbours.
    drop : float
        How much less than the best gain still belongs to the 95 % interval.
    """

    form: Form
    first: Places
    gain: Floats
    drop: float

    @property
    def best(self) -> float:
        """Largest gain."""
        return float(self.gain.max())

    @property
    def standing(self) -> float:
        """
        Largest gain plus twice the log of the sum of its likelihood over places.

        A jump has its best place, the start of a ramp is spread over many: the largest gain alone
        favours jumps, the sum alone ramps.
        """
        spread_out = np.log(np.exp(0.5 * (self.gain - self.best)).sum())
        return 2.0 * (self.best + float(spread_out))

    @property
    def start(self) -> int:
        """Place of the first changed value at the largest gain."""
        return int(self.first[self.gain.argmax()])

    @property
    def middle(self) -> int:
        """Place with half of the likelihood before it: off by less on average than `start`."""
        reached = np.cumsum(np.exp(0.5 * (self.gain - self.best)))
        return int(self.first[np.searchsorted(reached, 0.5 * reached[-1])])

    @property
    def interval(self) -> tuple[int, int]:
        """First and last place the change may have begun at, if it is of this form."""
        return self.within(self.drop)

    def within(self, loss: float) -> tuple[int, int]:
        """First and last place at which no more than *loss* of the best gain is lost."""
        inside = self.first[self.gain >= self.best - loss]
        return int(inside.min()), int(inside.max())


def profiles(values: Floats, strata: Places, phi: float) -> tuple[Profile, Profile, Profile]:
    r"""
    Profile likelihood of a step, a ramp and a change of spread over all starts.

    Each form adds two numbers (where, how much) to one mean per stratum, so differences of gains
    are differences of BIC. Gains in location,
    :math:`n \log(RSS_0 / RSS)`, are divided by :math:`(1 + \phi) / (1 - \phi)`; gains in spread by
    the same with :math:`\phi^2`.

    Parameters
    ----------
    values : array, shape (n_values,)
        On the scale of the description; no NaN.
    strata : array of int, shape (n_values,)
    phi : float
        Lag-1 correlation of what the change leaves over.

    Returns
    -------
    tuple of Profile
        Step, ramp, spread.

    References
    ----------
    D. V. Hinkley (1970), Inference about the change-point in a sequence of random variables,
    Biometrika 57, 1-17.
    """
    count = len(values)
    off = centred_within(values[None, :], strata)[0]
    off /= np.abs(off).max()  # gains do not depend on the unit, and squares cannot run over
    total = float(off @ off)
    norms = split_norms(strata, np.ones(int(strata.max()) + 1))
    splits = np.arange(LEAST_SEGMENT, count - LEAST_SEGMENT + 1)
    splits = splits[norms[splits] > 0.5] if (norms[splits] > 0.5).any() else splits
    explained = np.cumsum(off)[splits - 1] ** 2 / np.maximum(norms[splits], 1e-9)
    likeness = (1.0 + phi) / (1.0 - phi)

    starts = np.arange(max(count - 2 * LEAST_SEGMENT, 1))
    hinges = centred_within(np.maximum(0.0, np.arange(count) - starts[:, None]), strata)
    length = (hinges**2).sum(axis=1)
    usable = length > 1e-6 * length.max()
    ramped = (hinges[usable] @ off) ** 2 / length[usable]

    return (
        Profile("step", splits, _location_gain(explained, total, count) / likeness, _JUMP_DROP),
        Profile(
            "ramp",
            starts[usable] + 1,
            _location_gain(ramped, total, count) / likeness,
            _HINGE_DROP,
        ),
        Profile("spread", splits, _spread_gain(off, splits, phi), _SPREAD_DROP),
    )


def _location_gain(explained: Floats, total: float, count: int) -> Floats:
    gain: Floats = -count * np.log1p(-np.minimum(explained / total, 1.0 - 1e-9))
    return gain


def _spread_gain(off: Floats, splits: Places, phi: float) -> Floats:
    count = len(off)
    squares = np.cumsum(off**2) * (count / float(off @ off))
    before = (squares[splits - 1] + PSEUDO_RUNS) / (splits + PSEUDO_RUNS)
    after = (count - squares[splits - 1] + PSEUDO_RUNS) / (count - splits + PSEUDO_RUNS)
    gain = -(splits * np.log(before) + (count - splits) * np.log(after))
    return np.asarray(gain * (1.0 - phi**2) / (1.0 + phi**2), dtype=float)


def describe(
    values: Floats, runs: Places, strata: Places, *, phi: float, log_scale: bool
) -> Description:
    """
    Describe the change in a parameter that was found to have moved.

    The form is the one that stands best (`Profile.standing`); the interval for its start unites
    the 95 % intervals of all forms within 6 BIC units of it, because the form is not known either.

    Parameters
    ----------
    values : array, shape (n_values,)
        Logged values in time order, in the parameter's unit.
    runs : array of int, shape (n_values,)
        Index of each value's run among all runs of the log.
    strata : array of int, shape (n_values,)
        Who made each run; all 0 when runs are compared without strata.
    phi : float
        Lag-1 correlation of the scores.
    log_scale : bool
        Whether differences by a factor matter; right-skewed positive values are described on that
        scale in any case.

    Returns
    -------
    Description

    Examples
    --------
    >>> level = np.r_[np.zeros(20), np.full(20, 9.0)] + np.tile([0.0, 1.0], 20)
    >>> found = describe(level, np.arange(40), np.zeros(40, int), phi=0.0, log_scale=False)
    >>> found.form, found.since, found.since_interval, found.before, found.after
    ('step', 20, (20, 20), 0.5, 9.5)
    """
    logs = bool(values.min() > 0.0) and (log_scale or suits_log_scale(values))
    scaled = np.log(values) if logs else values
    without_far_out = pulled_in(scaled)
    if centred_within(without_far_out[None, :], strata).any():  # else only they vary
        scaled = without_far_out
    every = profiles(scaled, strata, phi)
    best = max(every, key=lambda profile: profile.standing)
    as_good = [profile for profile in every if profile.best >= best.best - AS_GOOD]
    intervals = [profile.within(_UNITED * profile.drop) for profile in as_good]
    earliest, latest = min(first for first, _ in intervals), max(last for _, last in intervals)
    # Where the run before is not logged, the change may have begun there.
    earliest_run = int(runs[earliest - 1]) + 1 if earliest > 0 else 0
    before, after = _levels(values, scaled, best, logs=logs)
    return Description(
        form=best.form,
        since=int(runs[best.start]),
        since_interval=(earliest_run, int(runs[latest])),
        before=before,
        after=after,
        other_forms=tuple(profile.form for profile in as_good if profile is not best),
    )


def pulled_in(values: Floats) -> Floats:
    """Values with those far out (3 interquartile ranges beyond the quartiles) moved to there."""
    lower, upper = np.quantile(values, [0.25, 0.75])
    reach = _FAR_OUT * (upper - lower)
    return np.clip(values, lower - reach, upper + reach) if reach > 0.0 else values


def usual_level(values: Floats) -> Callable[[Floats], float]:
    """
    How to take the level of parts of *values*: the median, of yes and no (1 and 0) the mean.

    Examples
    --------
    >>> usual_level(np.array([0.0, 0.0, 1.0, 0.0]))(np.array([0.0, 0.0, 0.0, 1.0]))
    0.25
    """
    shares = float(((values == 0.0) | (values == 1.0)).mean()) > 0.5
    return lambda part: float(part.mean() if shares else np.median(part))


def _levels(values: Floats, scaled: Floats, profile: Profile, *, logs: bool) -> tuple[float, float]:
    """Level (or standard deviation, for spread) before and after, in the parameter's unit."""
    start = profile.start
    if profile.form == "spread":
        return float(values[:start].std(ddof=1)), float(values[start:].std(ddof=1))
    if profile.form == "step":
        level = usual_level(values)
        return level(values[:start]), level(values[start:])
    hinge = np.maximum(0.0, np.arange(len(values)) - (start - 1.0))
    slope, level = np.polyfit(hinge, scaled, 1)
    ends = np.array([level, level + slope * hinge[-1]])
    before, after = np.exp(ends) if logs else ends
    return float(before), float(after)
