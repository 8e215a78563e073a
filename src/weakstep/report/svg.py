"""A figure as SVG: geometry here, markup in templates/figure.svg, colours in report.css."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from weakstep.report.lettering import fitted, shortened, text_width, wrapped
from weakstep.report.marks import Path, marks, polyline, rug
from weakstep.report.plot import (
    Axis,
    Band,
    Bars,
    Layer,
    Line,
    Mark,
    Plot,
    Points,
    Rug,
    Span,
    Whiskers,
)

LINE_HEIGHT = 17.0
PLOT_HEIGHT = 190.0
MANY = 100
RUG = 9.0
ROW = 20.0
ROW_BELOW_LABEL = 36.0
WIDEST_LABEL = 300.0


@dataclass(frozen=True)
class Words:
    """A text at a place; anchor is start, middle or end."""

    x: float
    y: float
    text: str
    anchor: str = "start"
    classes: str = ""

    @property
    def style(self) -> str:
        """The classes that colour and anchor it, as the style sheet knows them."""
        anchor = "" if self.anchor == "start" else self.anchor
        return f"{self.classes} {anchor}".strip()


@dataclass(frozen=True)
class Drawing:
    """A drawn figure: size in pixels, its accessible name, its shapes and words."""

    width: float
    height: float
    title: str
    paths: tuple[Path, ...]
    words: tuple[Words, ...]


@dataclass
class _Canvas:
    plot: Plot
    left: float
    top: float
    right: float
    bottom: float
    paths: list[Path] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)

    def x(self, values: np.ndarray | float) -> np.ndarray:
        return _place(values, self.plot.x, self.left, self.right)

    def y(self, values: np.ndarray | float) -> np.ndarray:
        if self.plot.y.rows:
            return _place(values, self.plot.y, self.top, self.bottom)
        return _place(values, self.plot.y, self.bottom, self.top)


def draw(plot: Plot, width: float, *, labels_above: bool = False) -> Drawing:
    """
    Lay a figure out for a width in pixels.

    Parameters
    ----------
    plot : Plot
    width : float
        In pixels; text is as tall as `lettering.TEXT` says.
    labels_above : bool
        Row labels stand above their row instead of left of it: for narrow screens, and everywhere
        where some label is too long to stand beside its row.

    Returns
    -------
    Drawing
    """
    labels_above = labels_above or _too_long(plot)
    left = _left_margin(plot, labels_above)
    key, top = _key(plot, width)
    label_line = LINE_HEIGHT if plot.y.label else 0.0
    top += label_line + 6.0
    row = ROW
    if labels_above:
        row = ROW_BELOW_LABEL
        lines = [len(fitted(text, width - 22.0)) for _, text in plot.y.ticks]
        row += LINE_HEIGHT * (max(lines, default=1) - 1)
    height = row * len(plot.y.ticks) if plot.y.rows else PLOT_HEIGHT
    tick_lines = max([text.count("\n") + 1 for _, text in plot.x.ticks], default=1)
    canvas = _Canvas(plot, left, top, width - 14.0, top + height)
    _axes(canvas, labels_above)
    for layer in plot.layers:
        _layer(canvas, layer)
    below = top + height + 5.0 + LINE_HEIGHT * tick_lines
    if plot.y.label:
        y_label = shortened(plot.y.label, width - 8.0)
        canvas.words.append(Words(4.0, top - 9.0, y_label, "start", "axis"))
    for line in wrapped(plot.x.label, width - 20.0) if plot.x.label else []:
        below += LINE_HEIGHT
        canvas.words.append(Words(width - 14.0, below, line, "end", "axis"))
    return Drawing(
        width,
        round(below + 8.0, 1),
        plot.title,
        (*(path for path, _ in key if path), *canvas.paths),
        (*(words for _, words in key), *canvas.words),
    )


def _place(values: np.ndarray | float, axis: Axis, start: float, end: float) -> np.ndarray:
    inside = np.clip(np.asarray(values, dtype=float), axis.low, axis.high)
    if axis.log:
        share = np.log(inside / axis.low) / np.log(axis.high / axis.low)
    else:
        share = (inside - axis.low) / (axis.high - axis.low)
    placed: np.ndarray = np.round(start + share * (end - start), 1)
    return placed


def _too_long(plot: Plot) -> bool:
    return plot.y.rows and any(text_width(text) > WIDEST_LABEL for _, text in plot.y.ticks)


def _left_margin(plot: Plot, labels_above: bool) -> float:
    if plot.y.rows and labels_above:
        return 8.0
    widest = max([text_width(text) for _, text in plot.y.ticks], default=0.0)
    return float(np.ceil(min(widest, WIDEST_LABEL))) + 14.0


def _key(plot: Plot, width: float) -> tuple[list[tuple[Path | None, Words]], float]:
    found: list[tuple[Path | None, Words]] = []
    x, y = 4.0, 14.0
    for layer in plot.layers:
        if not layer.name:
            continue
        name = shortened(layer.name, width - 30.0)
        wide = float(np.ceil(26.0 + text_width(name)))
        if x > 4.0 and x + wide > width:
            x, y = 4.0, y + LINE_HEIGHT
        found.append((_symbol(layer, x + 8.0, y - 4.5), Words(x + 22.0, y, name)))
        x += wide + 12.0
    return found, (y + 9.0 if found else 4.0)


def _symbol(layer: Layer, x: float, y: float) -> Path:
    if isinstance(layer, Band | Span | Bars):
        return Path(f"M{x - 8:g} {y - 5:g}h16v10h-16z", f"fill {layer.tone}")
    if isinstance(layer, Line):
        dash = " dashed" if layer.dashed else ""
        return Path(f"M{x - 8:g} {y:g}h16", f"line {layer.tone}{dash}")
    if isinstance(layer, Mark):
        return Path(f"M{x:g} {y - 7:g}v14", f"line heavy {layer.tone} {layer.dashes}".strip())
    if isinstance(layer, Rug):
        return Path(f"M{x:g} {y - 6:g}v12", f"line {layer.tone}")
    size = layer.size if isinstance(layer, Points) else 5.0
    return marks(layer.shape, np.array([x]), np.array([y]), size, layer.tone)


def _axes(canvas: _Canvas, labels_above: bool) -> None:
    plot = canvas.plot
    grid = []
    free_from = -np.inf
    for place, text in plot.x.ticks:
        x = float(canvas.x(place))
        grid.append(f"M{x:g} {canvas.top:g}V{canvas.bottom:g}")
        anchor = "start" if x - canvas.left < 14 else "end" if canvas.right - x < 14 else "middle"
        wide = max(text_width(line) for line in text.split("\n"))
        starts = x - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        if starts < free_from:
            continue
        free_from = starts + wide + 4.0
        for number, line in enumerate(text.split("\n")):
            y = canvas.bottom + 5 + LINE_HEIGHT * (number + 0.7)
            canvas.words.append(Words(x, round(y, 1), line, anchor, "tick"))
    for place, text in plot.y.ticks:
        y = float(canvas.y(place))
        if not plot.y.rows:
            grid.append(f"M{canvas.left:g} {y:g}H{canvas.right:g}")
        if plot.y.rows and labels_above:
            for above, line in enumerate(reversed(fitted(text, canvas.right - canvas.left))):
                over = y - 6.0 - LINE_HEIGHT * above
                canvas.words.append(Words(canvas.left, over, line, "start", "row"))
        else:
            line = shortened(text, WIDEST_LABEL)
            kind = "row" if plot.y.rows else "tick"
            canvas.words.append(Words(canvas.left - 8.0, y + 4.5, line, "end", kind))
    canvas.paths.insert(0, Path("".join(grid), "line grid"))
    frame = f"M{canvas.left:g} {canvas.bottom:g}H{canvas.right:g}"
    canvas.paths.insert(1, Path(frame, "line edge"))


def _layer(canvas: _Canvas, layer: Layer) -> None:
    if isinstance(layer, Band):
        _band(canvas, layer)
    elif isinstance(layer, Span):
        _span(canvas, layer)
    elif isinstance(layer, Line):
        x, y = layer.x, layer.y
        if len(x) > 2 and np.ptp(y) == 0:
            x, y = x[[0, -1]], y[[0, -1]]
        dash = " dashed" if layer.dashed else ""
        canvas.paths.append(Path(polyline(canvas.x(x), canvas.y(y)), f"line {layer.tone}{dash}"))
    elif isinstance(layer, Points):
        _marks(canvas, layer.x, layer.y, layer)
    elif isinstance(layer, Whiskers):
        _whiskers(canvas, layer)
    elif isinstance(layer, Bars):
        start, end, y = float(canvas.x(0.0)), canvas.x(layer.length), _row_y(canvas, layer.row)
        d = "".join(
            f"M{start:g} {b - 6:g}H{a:g}v12H{start:g}z" for a, b in zip(end, y, strict=True)
        )
        canvas.paths.append(Path(d, f"fill {layer.tone}"))
    elif isinstance(layer, Rug):
        _rug(canvas, layer)
    else:
        at = float(canvas.x(layer.x))
        d = f"M{at:g} {canvas.top:g}V{canvas.bottom:g}"
        canvas.paths.append(Path(d, f"line heavy {layer.tone} {layer.dashes}".strip()))


def _whiskers(canvas: _Canvas, layer: Whiskers) -> None:
    lower, upper, y = canvas.x(layer.lower), canvas.x(layer.upper), _row_y(canvas, layer.row)
    d = "".join(f"M{a:g} {b:g}H{c:g}" for a, b, c in zip(lower, y, upper, strict=True))
    canvas.paths.append(Path(d, f"line heavy {layer.tone}"))
    canvas.paths.append(marks(layer.shape, canvas.x(layer.estimate), y, 5.5, layer.tone))


def _rug(canvas: _Canvas, layer: Rug) -> None:
    # Two ticks within a pixel of each other would look like one anyway.
    x = np.unique(np.rint(canvas.x(layer.x)))
    if len(x):
        y = canvas.top + RUG / 2 if layer.top else canvas.bottom - RUG / 2
        canvas.paths.append(rug(x, y, canvas.right, layer.tone))


def _row_y(canvas: _Canvas, row: np.ndarray) -> np.ndarray:
    below = canvas.bottom - canvas.top > (ROW + 1) * len(canvas.plot.y.ticks)
    return canvas.y(row) + (6.0 if below else 0.0)


def _marks(canvas: _Canvas, x: np.ndarray, y: np.ndarray, layer: Points) -> None:
    known = np.isfinite(x) & np.isfinite(y)
    if not known.any():
        return
    across = canvas.x(x[known])
    down = _row_y(canvas, y[known]) if canvas.plot.y.rows else canvas.y(y[known])
    if len(across) > MANY:
        # In a crowd, marks within a pixel of each other look like one.
        across, down = np.unique(np.rint(np.column_stack([across, down])), axis=0).T
    canvas.paths.append(marks(layer.shape, across, down, layer.size, layer.tone))


def _band(canvas: _Canvas, layer: Band) -> None:
    known = np.isfinite(layer.x) & ~np.isnan(layer.lower) & ~np.isnan(layer.upper)
    x, lower, upper = layer.x[known], layer.lower[known], layer.upper[known]
    if not len(x):
        return
    if not layer.stepped and len(x) > 2 and np.ptp(lower) == 0 and np.ptp(upper) == 0:
        x, lower, upper = x[[0, -1]], lower[[0, -1]], upper[[0, -1]]
    x_upper, upper = _stepped(x, upper) if layer.stepped else (x, upper)
    x_lower, lower = _stepped(x, lower) if layer.stepped else (x, lower)
    there = polyline(canvas.x(x_upper), canvas.y(upper))
    back = polyline(canvas.x(x_lower[::-1]), canvas.y(lower[::-1]))
    canvas.paths.append(Path(f"{there}L{back[1:]}z", f"fill {layer.tone}"))


def _span(canvas: _Canvas, layer: Span) -> None:
    low = canvas.left if layer.low is None else float(canvas.x(layer.low))
    high = canvas.right if layer.high is None else float(canvas.x(layer.high))
    d = f"M{low:g} {canvas.top:g}H{high:g}V{canvas.bottom:g}H{low:g}z"
    canvas.paths.append(Path(d, f"fill {layer.tone}"))


def _stepped(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    edges = np.concatenate([[x[0] - 0.5], (x[1:] + x[:-1]) / 2, [x[-1] + 0.5]])
    return np.repeat(edges, 2)[1:-1], np.repeat(y, 2)
