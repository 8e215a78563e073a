"""The marks of a figure as SVG path data: shapes that differ without colour."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from weakstep.report.plot import Shape


@dataclass(frozen=True)
class Path:
    """
    A shape to draw.

    Attributes
    ----------
    d : str
        SVG path data.
    classes : str
        What colours it: "fill", "line" or "dot" with a tone.
    width : float
        Stroke width where the class does not set it; 0 leaves it to the class.
    """

    d: str
    classes: str
    width: float = 0.0


def marks(shape: Shape, x: np.ndarray, y: np.ndarray, size: float, tone: str) -> Path:
    """
    Return one path that holds a mark of a shape at every point.

    Parameters
    ----------
    shape : Shape
    x, y : array, shape (n_points,)
        In pixels; finite.
    size : float
        Half the width of the mark, in pixels.
    tone : str
        Class that colours it.

    Examples
    --------
    >>> marks("dot", np.array([1.0]), np.array([2.0]), 3.0, "main")
    Path(d='M1 2h0', classes='dot main', width=6.0)
    """
    if shape == "dot":
        # A zero-length line with a round cap is the shortest way to write a disc.
        d = "".join(f"M{a:g} {b:g}h0" for a, b in zip(x, y, strict=True))
        return Path(d, f"dot {tone}", 2 * size)
    offset, outline = _outline(shape, size)
    starts = zip(x + offset[0], y + offset[1], strict=True)
    d = "".join(f"M{a:g} {b:g}{outline}" for a, b in np.round(list(starts), 1))
    kind = "line open" if shape in ("ring", "cross") else "fill mark"
    return Path(d, f"{kind} {tone}")


def _outline(shape: Shape, s: float) -> tuple[tuple[float, float], str]:
    if shape == "diamond":
        return (0.0, -s), f"l{s:g} {s:g}l{-s:g} {s:g}l{-s:g} {-s:g}z"
    if shape == "square":
        side = 1.7 * s
        return (-side / 2, -side / 2), f"h{side:g}v{side:g}h{-side:g}z"
    if shape == "triangle":
        return (0.0, -s), f"l{s:g} {1.8 * s:g}h{-2 * s:g}z"
    if shape == "cross":
        return (-s, -s), f"l{2 * s:g} {2 * s:g}m{-2 * s:g} 0l{2 * s:g} {-2 * s:g}"
    r = 0.8 * s
    return (-r, 0.0), f"a{r:g} {r:g} 0 1 0 {2 * r:g} 0a{r:g} {r:g} 0 1 0 {-2 * r:g} 0"
