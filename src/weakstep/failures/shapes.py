"""The ways in which failures may depend on one parameter, each a standardised column."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from weakstep.failures.scales import Scale, quantiles

ShapeKind = Literal["line", "above", "below", "away", "level", "bend", "outside"]

KNOTS = (0.2, 0.4, 0.6, 0.8)
MIDDLES = (0.5, 0.3, 0.7)
GENTLE, SHARP = 0.5, 0.15
SHARP_KNOTS = tuple(place / 20.0 for place in range(1, 20))
NEAREST = (0.6, 0.8)
NEARLY_STRAIGHT = 3.0
LINE, HINGES, SQUARES = 0.40, 0.12, 0.20
GENTLE_BENDS, SHARP_BENDS, STRAIGHT_AWAY, CLIFFS_AWAY = 0.07, 0.06, 0.09, 0.06
"""How probable each kind of shape is beforehand, shared equally among its members: the mixture
that gave the true cause of simulated weak effects the largest posterior probability, rounded
(development seeds of tests/benchmark). Alike weights for all members would let the many bends,
which follow noise most easily, drown the one line."""
FEWEST_RUNS = 5


@dataclass(frozen=True)
class Shape:
    """
    One column of the screen: (raw(u) - mean) / sd.

    Attributes
    ----------
    kind : ShapeKind
        line: u; above: (u - knot)+; below: (knot - u)+; away: (u - knot)^2, which counts only
        when failures rise away from the knot; level: 1 where a category's code equals the knot;
        bend: tanh((u - knot) / width), which levels off on both sides; outside: the same of the
        distance |u - knot| less `inner`, one-sided like away.
    knot : float
        On the scale of u, or the code of a category's level.
    scale : Scale or None
        None for categories.
    mean, sd : float
        Of the raw column over the runs in which the parameter was logged.
    width, inner : float
        Of a bend, on the scale of u; distance from the knot at which an outside bend lies.
    likely : float
        How probable its kind is beforehand, up to a factor that all shapes of a parameter share.
    siblings : int
        Shapes of its kind, itself included; they share what is likely.
    positive : float
        How probable it is beforehand that an effect has a positive coefficient: 0.5 when either
        may be, 1 for `away` and `outside`, which count only when positive.
    """

    kind: ShapeKind
    knot: float
    scale: Scale | None
    mean: float = 0.0
    sd: float = 1.0
    width: float = 1.0
    inner: float = 0.0
    likely: float = 1.0
    siblings: int = 1
    positive: float = 0.5

    @property
    def weight(self) -> float:
        """How probable it is beforehand, up to a factor that all shapes of a parameter share."""
        return self.likely / self.siblings

    def evaluate(self, values: np.ndarray) -> np.ndarray:
        """Return the standardised column for *values* (any array shape) in the parameter's unit."""
        return np.asarray((self._raw(values) - self.mean) / self.sd)

    def _raw(self, values: np.ndarray) -> np.ndarray:
        if self.scale is None:
            return np.asarray(values == self.knot, dtype=float)
        away = self.scale.apply(values) - self.knot
        return _curved(self.kind, away, self.width, self.inner)


def evaluate_all(shapes: tuple[Shape, ...] | list[Shape], values: np.ndarray) -> np.ndarray:
    """
    Evaluate the shapes of one parameter, all on the same scale, at once.

    Parameters
    ----------
    shapes : sequence of Shape
    values : array, shape (n,)
        In the parameter's unit; or codes of a category's level.

    Returns
    -------
    array, shape (n_shapes, n)
        As `Shape.evaluate` gives one by one.
    """
    knot, width, inner, mean, sd = (
        np.array([getattr(one, name) for one in shapes])[:, None]
        for name in ("knot", "width", "inner", "mean", "sd")
    )
    kinds = np.array([one.kind for one in shapes])
    scale = shapes[0].scale
    if scale is None:
        return np.asarray(((values == knot) - mean) / sd)
    raw = scale.apply(values) - knot
    for kind in set(kinds.tolist()) - {"line"}:
        mine = kinds == kind
        raw[mine] = _curved(kind, raw[mine], width[mine], inner[mine])
    return np.asarray((raw - mean) / sd)


def _curved(
    kind: str, away: np.ndarray, width: np.ndarray | float, inner: np.ndarray | float
) -> np.ndarray:
    """Return the raw column of a shape at distances *away* from its knot, on the scale of u."""
    if kind == "above":
        return np.asarray(np.maximum(away, 0.0))
    if kind == "below":
        return np.asarray(np.maximum(-away, 0.0))
    if kind == "bend":
        return np.asarray(np.tanh(away / width))
    if kind == "outside":
        return np.asarray(np.tanh((np.abs(away) - inner) / width))
    return np.asarray(away**2 if kind == "away" else away)


def number_shapes(values: np.ndarray, scale: Scale) -> tuple[Shape, ...]:
    """
    Return the shapes of a number: a line, eight hinges and three squared distances.

    Parameters
    ----------
    values : array, shape (n_logged,)
        In the parameter's unit, no NaN.
    scale : Scale

    Returns
    -------
    tuple of Shape
        Hinges at the 20, 40, 60 and 80 % quantiles, both ways; squared distances from the 50, 30
        and 70 % quantile. A shape that fewer than 5 runs carry, or that repeats another, is left
        out.
    """
    u = scale.apply(values)
    shapes = [Shape("line", 0.0, scale, likely=LINE)]
    hinges: tuple[ShapeKind, ...] = ("above", "below")
    shapes += [
        Shape(kind, float(knot), scale, likely=HINGES, siblings=2 * len(KNOTS))
        for knot in quantiles(u, KNOTS)
        for kind in hinges
    ]
    shapes += [
        Shape("away", float(middle), scale, likely=SQUARES, siblings=len(MIDDLES), positive=1.0)
        for middle in quantiles(u, MIDDLES)
    ]
    return _standardised(shapes, values)


def bends(values: np.ndarray, scale: Scale) -> tuple[Shape, ...]:
    """
    Return shapes that level off, gently or like a cliff, and straight distances.

    Hinges cannot level off, so with them alone the share of a cliff comes out too low.

    Parameters
    ----------
    values : array, shape (n_logged,)
        In the parameter's unit, no NaN.
    scale : Scale

    Returns
    -------
    tuple of Shape
        Half a standard deviation wide at the 20, 40, 60 and 80 % quantiles, and 0.15 wide at every
        5 %; nearly straight rises away from the 50, 30 and 70 % quantile, and cliffs beyond the
        60 and 80 % of runs nearest to each of these.
    """
    u = scale.apply(values)
    sd = float(u.std())
    shapes = [
        Shape("bend", float(knot), scale, width=width * sd, likely=likely, siblings=len(knots))
        for knots, width, likely in (
            (KNOTS, GENTLE, GENTLE_BENDS),
            (SHARP_KNOTS, SHARP, SHARP_BENDS),
        )
        for knot in quantiles(u, knots)
    ]
    for middle in (float(one) for one in quantiles(u, MIDDLES)):
        straight = Shape("outside", middle, scale, width=NEARLY_STRAIGHT * sd, positive=1.0)
        cliff = Shape("outside", middle, scale, width=SHARP * sd, positive=1.0)
        shapes.append(replace(straight, likely=STRAIGHT_AWAY, siblings=len(MIDDLES)))
        shapes += [
            replace(
                cliff,
                inner=float(inner),
                likely=CLIFFS_AWAY,
                siblings=len(MIDDLES) * len(NEAREST),
            )
            for inner in quantiles(np.abs(u - middle), NEAREST)
        ]
    return _standardised(shapes, values)


def yes_no_shapes(values: np.ndarray) -> tuple[Shape, ...]:
    """Return the one shape of a yes/no column, given as shares of yes."""
    return _standardised([Shape("line", 0.0, Scale(False, 0.0, 1.0))], values)


def level_shapes(codes: np.ndarray, levels: int) -> tuple[Shape, ...]:
    """Return one-against-rest shapes of a category for levels with 5 runs on either side."""
    shapes = [Shape("level", float(code), None) for code in range(levels)]
    return _standardised(shapes, codes)


def _standardised(shapes: list[Shape], values: np.ndarray) -> tuple[Shape, ...]:
    """Finish the shapes that enough runs carry and that repeat no earlier one."""
    if not shapes or len(values) < 2 * FEWEST_RUNS:
        return ()
    raw = evaluate_all(shapes, values)
    mean, sd = raw.mean(axis=1), raw.std(axis=1)
    ordered = np.sort(raw, axis=1)
    # All but 4 runs share one value when some value stands again n - 5 places further on.
    lonely = (ordered[:, :FEWEST_RUNS] == ordered[:, -FEWEST_RUNS:]).any(axis=1)
    usable = (sd > 1e-12 * np.maximum(1.0, np.abs(raw).max(axis=1))) & ~lonely
    columns = (raw - mean[:, None]) / np.where(usable, sd, 1.0)[:, None]
    same = np.abs(columns @ columns.T) / len(values) > 1.0 - 1e-9
    kept: list[int] = []
    for index in np.flatnonzero(usable):
        if not same[index, kept].any():
            kept.append(int(index))
    return tuple(replace(shapes[i], mean=float(mean[i]), sd=float(sd[i])) for i in kept)
