r"""
What stands behind the run lengths of CUSUM charts: the chain of one side, and both sides joined.

Where a sum stands after a point, *y*, is a state; average run lengths solve
:math:`A(s) = 1 + A(0) F(k - s) + \int A(y) f(y + k - s) dy` (E. S. Page 1954, Continuous inspection
schemes, Biometrika 41, 100-115), here at Gauss-Legendre nodes. With a limit *c* for single values
the integral ends at :math:`s - k + c`. All lengths are in sigmas.

Both sides join without loss. While both sums are above 0 they lose :math:`k^+ + k^-` together at
every point, so when one of them signals the other stands at 0 and begins anew. With
:math:`a_s, b_s` the chances that the upward and the downward sum alone, started at *s*, first
signal at each point, the chances :math:`g^\pm` that both run and one side signals first are

.. math::
    g^+(n) = a_s(n) - \sum_{m < n} g^-(m) a_0(n - m), \quad
    g^-(n) = b_s(n) - \sum_{m < n} g^+(m) b_0(n - m),

whose means are the relation :math:`1/A = 1/A^+ + 1/A^-` of K. W. Kemp (1961, The average run length
of the cumulative sum chart when a V-mask is used, Journal of the Royal Statistical Society B 23,
149-153), and with a head start that of Lucas and Crosier (1982). This is exact while
:math:`|h^+ - h^-| \le k^+ + k^-` and no limit for single values lies below :math:`h - k`; otherwise
the other sum may stand above 0 at a signal, and run lengths come out a little short. Measured
against a chain of both sums (tests/charts/test_both_sums.py, *k* 0.5, shifts from -2 to 1), average
run lengths stay within 0.01 % where both limits are at least 2.5; with limits as unlike as 1.5 and
5.5 they are up to 0.4 % short, and with 0.5 and 5.5 up to 3 %.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from weakstep.charts.chain import Chain, told
from weakstep.charts.checks import real
from weakstep.charts.normal import normal_cdf, normal_pdf
from weakstep.charts.panels import PanelGrid
from weakstep.charts.quadrature import gauss_legendre_panels

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Pair = tuple[Iterator[float], Iterator[float]]

Both = float | tuple[float, float]  # one number for both sides, or (up, down)
_NODES = 96  # in a panel: enough for eight digits of the run lengths in the published tables
_PER_SIGMA = 4.0  # nodes in a sigma, for limits far away
_WIDEST = 500.0  # sigmas; no decision limit beyond is asked for in earnest
_STEP, _MOST_STEPS = 0.2, 300  # in which the chance of going on of both sides is looked for
_GENERATIONS = 8  # each kink comes from one that is rougher; after so many it is smooth


@dataclass(frozen=True)
class Side:
    """
    One side of a CUSUM, lengths in sigmas.

    Attributes
    ----------
    allowance, decision, head_start : float
    single : float or None
        Limit for single values towards this side.
    """

    allowance: float
    decision: float
    head_start: float
    single: float | None = None

    @property
    def chain(self) -> Chain:
        """How the states of this side follow each other; the first is a sum of 0."""
        # A value so far off takes any sum beyond its limit, so that its own changes nothing.
        if self.single is None or self.single >= self.decision + self.allowance:
            return _plain_chain(self.allowance, self.decision)
        return _cut_chain(self.allowance, self.decision, self.single)


def _pair(name: str, value: Both) -> tuple[float, float]:
    """Values of both sides, from one for both or from (up, down)."""
    both = value if isinstance(value, tuple | list) else (value, value)
    if len(both) != 2:
        msg = f"{name} must be one number or a pair (up, down), got {value!r}"
        raise ValueError(msg)
    return real(name, both[0]), real(name, both[1])


def cusum_sides(
    allowance: Both, decision: Both, head_start: Both, single: float | None, *, two_sided: bool
) -> tuple[Side, ...]:
    """
    Return the upward side, and the downward one of two.

    Raises
    ------
    ValueError
        The numbers do not make a CUSUM whose run lengths are known.
    """
    pairs = {"allowance": allowance, "decision": decision, "head_start": head_start}
    ways = list(zip(*(_pair(name, value) for name, value in pairs.items()), strict=True))
    for k, h, start in ways:
        if not (k >= 0.0 and 0.0 < h <= _WIDEST and 0.0 <= start < h):
            msg = (
                f"allowance must not be negative, decision above 0 and at most {_WIDEST:g} and "
                f"head_start from 0 to below decision, got {k}, {h} and {start}"
            )
            raise ValueError(msg)
    cut = None if single is None else real("shewhart_limit", single, above=0.0)
    (k_up, h_up, up), (k_down, h_down, down) = ways
    most = (min(h_up, h_down) + k_up + k_down) / 2.0
    if two_sided and (up + down) / 2.0 > most + 1e-9:
        msg = (
            "with two sides head_start must be at most decision / 2 + allowance "
            f"({most:g}), got {(up + down) / 2.0:g}"
        )
        raise ValueError(msg)
    sides = (Side(k_up, h_up, up, cut), Side(k_down, h_down, down, cut))
    return sides if two_sided else sides[:1]


@lru_cache(maxsize=64)
def _plain_chain(allowance: float, decision: float) -> Chain:
    panels = math.ceil(_PER_SIGMA * decision / _NODES)
    nodes, weights = gauss_legendre_panels(0.0, decision, panels, _NODES)
    places = np.append(0.0, nodes)

    def step(states: Floats, shift: float) -> Floats:
        need = allowance - shift - states[:, None]
        density = normal_pdf(places + need)
        density[:, 0] = normal_cdf(need[:, 0])
        return density

    return Chain(places, np.append(1.0, weights), step)


@lru_cache(maxsize=64)
def _cut_chain(allowance: float, decision: float, single: float) -> Chain:
    """Build the chain of a side that single values above *single* end as well."""
    gain = single - allowance  # most that a value within its limit adds
    kinks = [end - gain * (1 + n) for end in (0.0, decision) for n in range(_GENERATIONS)]
    grid = PanelGrid.over(0.0, decision, kinks, 1.0)

    def step(states: Floats, shift: float) -> Floats:
        need = allowance - shift - states
        to_zero = normal_cdf(np.minimum(need, single - shift))
        within = grid.integrals(
            np.zeros(len(states)), states + gain, lambda y: normal_pdf(y + need[:, None])
        )
        return np.column_stack([to_zero, within])

    places = np.append(0.0, grid.places)
    return Chain(places, np.ones(len(places)), step)


def first_signals(survivals: Iterator[float], *, before: bool = False) -> Iterator[float]:
    """Chances of the first signal at points 1, 2, ...; *before*: survivals begin at point 0."""
    last = next(survivals) if before else 1.0
    for value in survivals:
        yield last - value
        last = value


def either_side(first: Pair, anew: Pair) -> Iterator[float]:
    """
    Chances of no signal on either side by points 1, 2, ...

    *first* are the chances of a first signal of each side alone, *anew* the same from 0.
    """
    size = 64
    won, fresh = np.zeros((2, size)), np.zeros((2, size))
    left, point = 1.0, 0
    while True:
        if point == size:
            won, fresh = (np.hstack([old, np.zeros_like(old)]) for old in (won, fresh))
            size *= 2
        fresh[:, point] = next(anew[0]), next(anew[1])
        backwards = fresh[:, :point][:, ::-1]
        alone = np.array([next(first[0]), next(first[1])])
        won[:, point] = alone - np.einsum("sm,sm->s", won[::-1, :point], backwards)
        left -= float(won[:, point].sum())
        point += 1
        yield left


def joined_average(first: list[float], anew: list[float]) -> float:
    """Average run length of both sides, from those of each alone at the start and from 0."""
    # Divided by the larger of the two, so that a very long one does not run over.
    long, short = (0, 1) if abs(anew[0]) >= abs(anew[1]) else (1, 0)
    if math.isinf(anew[long]):
        return told(first[short])
    share = anew[short] / anew[long]
    return told((first[long] * share + first[short] - anew[short]) / (1.0 + share))


def settled_between(chains: tuple[Chain, Chain]) -> tuple[Floats, Floats]:
    r"""
    Laws of both sums of a stable chart that has long been without a signal on either side.

    With :math:`\varphi^\pm(z)` the generating functions of the run lengths of each side, that of
    both is :math:`(\varphi^+ + \varphi^- - 2 \varphi^+ \varphi^-) / (1 - \varphi^+ \varphi^-)`; its
    nearest pole :math:`z_0 > 1`, where :math:`\varphi^+ \varphi^- = 1`, is 1 over the chance of
    going on. The law of each sum is :math:`e_0 (I - z_0 Q)^{-1}`, scaled to 1. Without allowances
    the sums together never fall, so there is no such pole and no law that they settle to.

    Raises
    ------
    ValueError
        There is no such law.
    """
    from scipy.optimize import brentq

    moves = [chain.moves(0.0).T for chain in chains]
    going_on = [
        float((one @ chain.settled()).sum()) for one, chain in zip(moves, chains, strict=True)
    ]

    def law(side: int, z: float) -> Floats:
        first = np.eye(1, len(moves[side]))[0]
        return np.linalg.solve(np.eye(len(first)) - z * moves[side], first).astype(np.float64)

    def excess(z: float) -> float:  # phi is 1 - (1 - z) x (sum of z^n S_n)
        up, down = (1.0 - (1.0 - z) * float(law(side, z).sum()) for side in (0, 1))
        return up * down - 1.0

    poles = [1.0 / chance for chance in going_on]
    furthest = max(poles)
    root = furthest + 1e-3 * (min(poles) - 1.0)
    if excess(root) > 0.0:  # else one side signals so seldom that the other decides alone
        beyond = root + _STEP * (furthest - 1.0) * np.arange(1.0, _MOST_STEPS)
        most = next((float(z) for z in beyond if excess(float(z)) <= 0.0), None)
        if most is None:
            msg = (
                "two sides with so small allowances and limits never settle, so they have no "
                "steady state: take a larger allowance, or steady_state=False"
            )
            raise ValueError(msg)
        root = float(brentq(excess, root, most, xtol=1e-14))
    up, down = (law(side, root) for side in (0, 1))
    return np.asarray(up / up.sum(), dtype=float), np.asarray(down / down.sum(), dtype=float)
