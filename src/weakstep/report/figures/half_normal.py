"""Sizes of a trial's effects against half-normal quantiles: what stands out is real."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.report.plot import Axis, Line, Plot, Points, Shape, Table, Tone
from weakstep.report.ticks import number_ticks
from weakstep.trials.lenth import pseudo_error

if TYPE_CHECKING:
    from collections.abc import Sequence

    from weakstep.trials.effects import Effect


_SHAPES: tuple[Shape, ...] = ("diamond", "square", "triangle", "ring")


def half_normal(effects: Sequence[Effect], names: Sequence[str], scale: str) -> Plot:
    """
    Return the half-normal plot of a trial.

    Parameters
    ----------
    effects : sequence of Effect
    names : sequence of str
        What each effect is called.
    scale : str
        What the sizes are ("log odds ratio").
    """
    size = np.array([abs(effect.estimate.estimate) for effect in effects])
    quantile = np.array([effect.half_normal for effect in effects])
    clear = np.array(
        [not effect.estimate.lower <= 0.0 <= effect.estimate.upper for effect in effects]
    )
    told = [f"{name}: {one:.3g}" for name, one in zip(names, size, strict=True)]
    layers: list[Points | Line] = [
        _points(size, quantile, np.flatnonzero(~clear), told, "main", "dot", "may be chance")
    ]
    # A clear effect has a mark of its own, so that its name stands in the key, in print too.
    by_size = [int(i) for i in np.argsort(-size) if clear[i]]
    for shape, i in zip(_SHAPES, by_size, strict=False):
        layers.append(_points(size, quantile, np.array([i]), told, "signal", shape, names[i]))
    rest = np.array(by_size[len(_SHAPES) :], dtype=int)
    layers.append(_points(size, quantile, rest, told, "signal", "dot", "further clear ones"))
    error, top = pseudo_error(size), float(quantile.max())
    if 0.0 < error * top <= 1.5 * float(size.max()):
        ends = np.array([0.0, 1.0])
        layers.insert(0, Line(error * top * ends, top * ends, "muted", "chance alone", dashed=True))
    wide = 1.08 * max(float(size.max()), *(float(one.x.max(initial=0.0)) for one in layers)) or 1.0
    high = 1.08 * top
    return Plot(
        "half-normal",
        "Sizes of the effects against half-normal quantiles",
        "Effects of chance alone lie on a line through the origin; real ones lie to its right.",
        Axis(f"size of the effect ({scale})", 0.0, wide, number_ticks(0.0, wide)),
        Axis("half-normal quantile", 0.0, high, number_ticks(0.0, high)),
        tuple(layer for layer in layers if len(layer.x)),
        Table(
            "Effects by size",
            ("effect", "size", "quantile"),
            tuple((names[i], f"{size[i]:.3g}", f"{quantile[i]:.2f}") for i in np.argsort(-size)),
            (False, True, True),
        ),
    )


def _points(
    size: np.ndarray,
    quantile: np.ndarray,
    some: np.ndarray,
    told: Sequence[str],
    tone: Tone,
    shape: Shape,
    name: str,
) -> Points:
    return Points(size[some], quantile[some], tone, shape, 4.0, name, [told[i] for i in some])
