"""Lines and marks as short SVG path data; the shapes of marks differ without colour."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from weakstep.report.plot import Shape

STRAIGHT = 0.2  # pixels that nobody sees


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
    dashes : str
        SVG dash array, "" for an unbroken line.
    """

    d: str
    classes: str
    width: float = 0.0
    dashes: str = ""


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
    >>> marks("dot", np.array([1.0, 4.0]), np.array([2.0, 1.5]), 3.0, "main")
    Path(d='M1 2h0m3-.5h0', classes='dot main', width=6.0, dashes='')
    """
    if shape == "dot":
        # A zero-length line with a round cap is the shortest way to write a disc.
        return Path(repeated(x, y, "h0"), f"dot {tone}", 2 * size)
    (right, down), outline = _outline(shape, size)
    kind = "line open" if shape == "ring" else "fill mark"
    return Path(repeated(x + right, y + down, outline), f"{kind} {tone}")


def rug(x: np.ndarray, y: float, end: float, tone: str) -> Path:
    """
    Return one path that stands for a short tick at every x.

    It is a single thick line, dashed so that only the ticks are inked: a third of the length of
    as many strokes.

    Parameters
    ----------
    x : array of whole numbers, shape (n_ticks,)
        In pixels, rising; at least one.
    y : float
        Middle of the ticks.
    end : float
        Where the line ends, right of every tick.
    tone : str
        Class that colours it.

    Examples
    --------
    >>> rug(np.array([3.0, 5.0, 9.0]), 20.0, 12.0, "good")
    Path(d='M3 20H12', classes='rug good', width=0.0, dashes='1 1 1 3 1 12')
    """
    gaps = [*(np.diff(x) - 1.0), end]
    dashes = " ".join(f"1 {gap:g}" for gap in gaps)
    return Path(f"M{x[0]:g} {_short(y)}H{end:g}", f"rug {tone}", dashes=dashes)


def repeated(x: np.ndarray, y: np.ndarray, outline: str, rise: float = 0.0) -> str:
    """
    Return the same outline drawn from every point.

    Parameters
    ----------
    x, y : array, shape (n_points,)
        Where each outline starts.
    outline : str
        Relative path data; ends *rise* pixels below where it started (0 for a closed one).
    rise : float
    """
    return "".join(
        f"{'M' if first else 'm'}{pair(a, b if first else b - rise)}{outline}"
        for first, a, b in _moves(x, y)
    )


def polyline(x: np.ndarray, y: np.ndarray) -> str:
    """
    Return a line through points; NaN breaks it.

    Points that lie on the straight line between others, to a fifth of a pixel, are left out.

    Examples
    --------
    >>> polyline(np.array([0.0, 10.0, 20.0]), np.array([5.0, 4.0, 6.5]))
    'M0 5l10-1 10 2.5'
    >>> polyline(np.array([0.0, 10.0, 20.0]), np.array([5.0, 6.0, 7.0]))
    'M0 5l20 2'
    """
    known = np.isfinite(x) & np.isfinite(y)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(int)))
    text = ""
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        bends = start + _bends(x[start:end], y[start:end])
        text += _unbroken(x[bends], y[bends])
    return text


def _bends(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return the places a line cannot do without (Douglas and Peucker 1973), in order."""
    kept = {0, len(x) - 1}
    open_ends = [(0, len(x) - 1)]
    while open_ends:
        first, last = open_ends.pop()
        if last - first < 2:
            continue
        across, down = x[first + 1 : last] - x[first], y[first + 1 : last] - y[first]
        to_x, to_y = x[last] - x[first], y[last] - y[first]
        length = np.hypot(to_x, to_y)
        away = np.abs(to_x * down - to_y * across) / length if length else np.hypot(across, down)
        furthest = int(np.argmax(away))
        if away[furthest] > STRAIGHT:
            bend = first + 1 + furthest
            kept.add(bend)
            open_ends += [(first, bend), (bend, last)]
    return np.array(sorted(kept))


def pair(a: float, b: float) -> str:
    """Return two numbers as path data, as short as they can be written."""
    second = _short(b)
    return f"{_short(a)}{'' if second.startswith('-') else ' '}{second}"


def _unbroken(x: np.ndarray, y: np.ndarray) -> str:
    text = ""
    for first, a, b in _moves(x, y):
        step = pair(a, b)
        if first:
            text = f"M{step}l"
        else:
            text += step if text.endswith("l") or step.startswith("-") else f" {step}"
    return text.removesuffix("l")


def _moves(x: np.ndarray, y: np.ndarray) -> Iterator[tuple[bool, float, float]]:
    # Tenths of a pixel as integers, so that rounding does not add up along the path.
    tenths = np.rint(np.column_stack([x, y]) * 10).astype(int)
    steps = np.diff(tenths, axis=0, prepend=np.zeros((1, 2), dtype=int))
    for number, (a, b) in enumerate(steps.tolist()):
        yield number == 0, a / 10, b / 10


def _short(value: float) -> str:
    text = f"{value:g}"
    if text.startswith("0."):
        return text[1:]
    return f"-{text[2:]}" if text.startswith("-0.") else text


def _outline(shape: Shape, s: float) -> tuple[tuple[float, float], str]:
    if shape == "diamond":
        return (0.0, -s), f"l{s:g} {s:g}{-s:g} {s:g}{-s:g}{-s:g}z"
    if shape == "square":
        side = 1.7 * s
        return (-side / 2, -side / 2), f"h{side:g}v{side:g}h{-side:g}z"
    if shape == "triangle":
        return (0.0, -s), f"l{s:g} {1.8 * s:g}h{-2 * s:g}z"
    r = 0.8 * s
    return (-r, 0.0), f"a{r:g} {r:g} 0 1 0 {2 * r:g} 0a{r:g} {r:g} 0 1 0 {-2 * r:g} 0z"
