"""A table of subgroups: sizes, the spread within each, sigma from all, and the charts of both."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from weakstep.charts.checks import numbers, real
from weakstep.charts.factors import Constants, constants, range_cdf
from weakstep.charts.frozen import frozen
from weakstep.charts.looks import Look
from weakstep.charts.model import Chart, Limits
from weakstep.charts.patterns import find_signals
from weakstep.charts.row_checks import found_instead
from weakstep.charts.zone_chain import USUAL_WIDTH
from weakstep.errors import NotEnoughError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

SdBy = Literal[
    "mean standard deviation", "pooled standard deviation", "pooled standard deviation / c4"
]


@dataclass(frozen=True, eq=False)
class SubgroupTable:
    """
    Subgroups with the spread of each and sigma from all of them.

    Attributes
    ----------
    values : array, shape (n_subgroups, largest_size)
    sizes : array of int, shape (n_subgroups,)
    spreads : array, shape (n_subgroups,)
        Range or standard deviation of each; NaN below two values.
    factors : array, shape (n_subgroups, 2)
        Mean and standard deviation of that spread, in sigmas.
    alarms : tuple of float
        Chance that a stable spread of each subgroup of two or more lies beyond its limits.
    kind : str
        "range" or "standard deviation".
    sigma, freedom : float
        Of a single value, and its degrees of freedom.
    scales : array, shape (n_subgroups,)
        Sigma that the limits of each subgroup are made from: the same for all but by the textbook
        rule, which divides the pooled deviation by c4 of each size.
    sigma_from : str
        How sigma was found, a phrase.
    """

    values: Floats
    sizes: NDArray[np.intp]
    spreads: Floats
    factors: Floats
    alarms: tuple[float, ...]
    kind: str
    sigma: float
    freedom: float
    sigma_from: str
    scales: Floats

    @classmethod
    def with_ranges(cls, values: ArrayLike, sigma: float | None) -> SubgroupTable:
        """Build the table with ranges; sigma is known or comes from them."""
        table, sizes = _checked(values)
        spreads = np.full(len(table), np.nan)
        measured = sizes >= 2
        spreads[measured] = np.nanmax(table[measured], axis=1) - np.nanmin(table[measured], axis=1)
        points = [constants(int(size)) if size >= 2 else None for size in sizes]
        factors = np.array([(c.d2, c.d3) if c else (np.nan, np.nan) for c in points])
        alarms = tuple(_range_alarm(c) for c in points if c)
        found, freedom = _averaged(spreads, factors) if sigma is None else _known(sigma)
        phrase = "mean range of subgroups" if sigma is None else "given"
        scales = np.full(len(table), found)
        return cls(table, sizes, spreads, factors, alarms, "range", found, freedom, phrase, scales)

    @classmethod
    def with_sds(cls, values: ArrayLike, sigma: float | None, how: SdBy) -> SubgroupTable:
        """Build the table with standard deviations; sigma is known or comes from them."""
        table, sizes = _checked(values)
        spreads = np.full(len(table), np.nan)
        measured = sizes >= 2
        spreads[measured] = np.nanstd(table[measured], axis=1, ddof=1)
        points = [constants(int(size)) if size >= 2 else None for size in sizes]
        factors = np.array(
            [(c.c4, math.sqrt(1.0 - c.c4**2)) if c else (np.nan, np.nan) for c in points]
        )
        if sigma is not None:
            found, freedom, phrase = *_known(sigma), "given"
        elif how == "mean standard deviation":
            found, freedom, phrase = *_averaged(spreads, factors), f"{how} of subgroups"
        else:
            found, freedom = _pooled(spreads[measured], sizes[measured])
            phrase = "pooled standard deviation of subgroups"
        scales = np.full(len(table), found)
        if sigma is None and how == "pooled standard deviation / c4":
            root = found * constants(int(freedom) + 1).c4
            scales[measured] = root / factors[measured, 0]
            phrase += ", over c4 of each size"
        return cls(
            values=table,
            sizes=sizes,
            spreads=spreads,
            factors=factors,
            alarms=tuple(_sd_alarm(c) for c in points if c),
            kind="standard deviation",
            sigma=found,
            freedom=freedom,
            sigma_from=phrase,
            scales=scales,
        )

    @property
    def commonest(self) -> int:
        """Commonest size of the subgroups that have a spread."""
        return int(np.bincount(self.sizes[self.sizes >= 2]).argmax())

    @property
    def typical(self) -> int:
        """First subgroup of the commonest size."""
        return int(np.flatnonzero(self.sizes == self.commonest)[0])

    def mean_chart(self, centre: float | None, look: Look) -> Chart:
        """Chart of the means, each with limits for its own size."""
        used = self.sizes > 0
        means = np.full(len(self.values), np.nan)
        means[used] = np.nanmean(self.values[used], axis=1)
        if centre is None:
            middle = float(np.nansum(self.values) / self.sizes.sum())
        else:
            middle = real("centre", centre)
        error = self.scales / np.sqrt(np.where(used, self.sizes, np.nan))
        return Chart(
            kind="mean",
            values=frozen(means),
            limits=Limits(
                centre=middle,
                lower=frozen(middle - look.width * error),
                upper=frozen(middle + look.width * error),
                sigma=float(error[self.typical]),
                sigma_from=self.sigma_from,
                degrees_of_freedom=self.freedom,
            ),
            signals=look.signals((means - middle) / error),
            false_alarm=look.false_alarm(int(used.sum())),
        )

    def spread_chart(self) -> Chart:
        """Chart of the ranges or standard deviations, each with limits for its own size."""
        centre, spread = (self.scales[:, None] * self.factors).T
        typical = self.typical
        uneven = len(np.unique(self.sizes[self.sizes >= 2])) > 1
        note = (
            "Subgroups differ in size: each point has its own limits, and the centre line of this "
            f"chart is that of {self.commonest} values."
        )
        return Chart(
            kind=self.kind,
            values=frozen(self.spreads),
            limits=Limits(
                centre=float(centre[typical]),
                lower=frozen(np.maximum(centre - USUAL_WIDTH * spread, 0.0)),
                upper=frozen(centre + USUAL_WIDTH * spread),
                sigma=float(spread[typical]),
                sigma_from=self.sigma_from,
                degrees_of_freedom=self.freedom,
            ),
            signals=find_signals((self.spreads - centre) / spread, ("beyond_limit",)),
            false_alarm=float(1.0 - np.prod(1.0 - np.array(self.alarms))),
            notes=(note,) if uneven else (),
        )


def _checked(values: ArrayLike) -> tuple[Floats, NDArray[np.intp]]:
    """Return the table and the size of each subgroup; raise when no chart can be made."""
    table = numbers("values", values)
    if table.ndim != 2 or np.isinf(table).any():
        msg = f"values must be a table of finite numbers or NaN, {found_instead(table, 2)}"
        raise ValueError(msg)
    sizes = (~np.isnan(table)).sum(axis=1)
    if not (sizes >= 2).any():
        msg = "A chart of subgroups needs at least one subgroup of 2 or more values; there is none."
        raise NotEnoughError(msg)
    return table, sizes


def _known(sigma: float) -> tuple[float, float]:
    return real("sigma", sigma, above=0.0), math.inf


def _averaged(spreads: Floats, factors: Floats) -> tuple[float, float]:
    """Sigma and its degrees of freedom: the unbiased mean of the spreads of least variance."""
    mean, spread = factors[~np.isnan(spreads)].T
    known = spreads[~np.isnan(spreads)]
    weight = (mean / spread) ** 2
    sigma = float(weight @ (known / mean) / weight.sum())
    return _varied(sigma), float(weight.sum() / 2.0)


def _pooled(spreads: Floats, sizes: NDArray[np.intp]) -> tuple[float, float]:
    """Sigma and its degrees of freedom from the pooled variance, without bias."""
    behind = sizes - 1
    freedom = int(behind.sum())
    sigma = math.sqrt(float(behind @ spreads**2) / freedom) / constants(freedom + 1).c4
    return _varied(sigma), float(freedom)


def _varied(sigma: float) -> float:
    if sigma == 0.0:
        msg = "Within every subgroup all values are equal, so there is no variation to chart."
        raise NotEnoughError(msg)
    return sigma


def _range_alarm(point: Constants) -> float:
    """Chance that a stable range lies beyond its limits."""
    below, above = range_cdf([point.D1, point.D2], point.n)
    return float(below + 1.0 - above)


def _sd_alarm(point: Constants) -> float:
    """Chance that a stable standard deviation lies beyond its limits (chi-squared)."""
    from scipy.special import chdtr, chdtrc

    freedom = point.n - 1
    return float(chdtr(freedom, freedom * point.B5**2) + chdtrc(freedom, freedom * point.B6**2))
