"""A figure for plotly: the same description as the still figure, with zoom and values on hover."""

from __future__ import annotations

import base64
import gzip
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from weakstep.report.colours import LIGHT, PAGE
from weakstep.report.lettering import wrapped
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

if TYPE_CHECKING:
    import plotly.graph_objects as go

# Stands for the names of all runs, which the page carries once.
RUNS = "@runs"
LONGEST_LABEL = 330.0
WIDEST_ROW = 230.0
SYMBOLS: Mapping[str, str] = {
    "dot": "circle",
    "ring": "circle-open",
    "diamond": "diamond",
    "square": "square",
    "triangle": "triangle-up",
}


def figure(plot: Plot, runs: Sequence[str] = (), colours: Mapping[str, str] = LIGHT) -> go.Figure:
    """Return a figure as a plotly Figure, for a notebook or to check the page's own."""
    import plotly.graph_objects as go

    made = spec(plot, colours)
    for trace in made["data"]:
        if trace.get("hovertext") == RUNS:
            trace["hovertext"] = [_inert(label) for label in runs]
    return go.Figure(made)


def spec(plot: Plot, colours: Mapping[str, str] = PAGE) -> dict[str, Any]:
    """
    Return what plotly draws, as plain dictionaries and lists.

    Parameters
    ----------
    plot : Plot
    colours : mapping of tone to colour

    Returns
    -------
    dict
        Keys `data` and `layout`.
    """
    traces: list[dict[str, Any]] = []
    shapes: list[dict[str, Any]] = []
    for layer in plot.layers:
        if isinstance(layer, Span | Mark):
            shapes.append(_shape(plot, layer, colours))
            if isinstance(layer, Mark) and layer.hover:
                traces.append(_flag(plot, layer, colours))
            elif layer.name:
                traces.append(_key_only(layer, colours))
        else:
            traces += _traces(plot, layer, colours)
    rows = len(plot.y.ticks) if plot.y.rows else 0
    lines = max([len(wrapped(text, WIDEST_ROW)) for _, text in plot.y.ticks], default=1)
    layout = {
        "height": 150 + (9 + 17 * lines) * rows if rows else 420,
        "margin": {"l": 10, "r": 16, "t": 16, "b": 10},
        "paper_bgcolor": colours["paper"],
        "plot_bgcolor": colours["paper"],
        "font": {"color": colours["ink"], "size": 13},
        "hovermode": "closest",
        "hoverlabel": {
            "bgcolor": colours["paper"],
            "bordercolor": colours["ink"],
            "font": {"color": colours["ink"]},
        },
        "dragmode": "zoom",
        "legend": {"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0},
        "shapes": shapes,
        "xaxis": _axis(plot.x, colours),
        "yaxis": _axis(plot.y, colours),
    }
    return {"data": traces, "layout": layout}


def packed(text: str) -> str:
    """
    Return text as base64 of its gzip, without a clock in it: the page unpacks it on demand.

    Examples
    --------
    >>> gzip.decompress(base64.b64decode(packed("abc")))
    b'abc'
    """
    # The highest level takes half as long again and saves two parts in a thousand.
    return base64.b64encode(gzip.compress(text.encode(), 6, mtime=0)).decode("ascii")


def packed_specs(plots: Iterable[Plot], runs: Iterable[str], operators: Iterable[str] = ()) -> str:
    """Return the descriptions of all figures by name, and what they share of the runs, packed."""
    specs = {
        "figures": {plot.name: spec(plot) for plot in plots},
        "runs": [_inert(label) for label in runs],
        "operators": [_inert(name) for name in operators],
    }
    return packed(json.dumps(specs, ensure_ascii=False, separators=(",", ":"), allow_nan=False))


def _axis(axis: Axis, colours: Mapping[str, str]) -> dict[str, Any]:
    low, high = (math.log10(axis.low), math.log10(axis.high)) if axis.log else (axis.low, axis.high)
    return {
        "type": "log" if axis.log else "linear",
        "range": [high, low] if axis.rows else [low, high],
        "tickvals": [place for place, _ in axis.ticks],
        "ticktext": [_lines(text, WIDEST_ROW if axis.rows else math.inf) for _, text in axis.ticks],
        "title": {
            "text": _lines(axis.label, LONGEST_LABEL),
            "font": {"size": 13, "color": colours["muted"]},
        },
        "automargin": True,
        "gridcolor": colours["grid"],
        "zeroline": False,
        "linecolor": colours["muted"],
        "ticks": "" if axis.rows else "outside",
    }


def _lines(text: str, width: float) -> str:
    """Return a text whose lines, and those it is wrapped into, plotly breaks."""
    lines = [part for line in text.split("\n") for part in wrapped(line, width)]
    return "<br>".join(map(_inert, lines))


def _inert(text: str) -> str:
    # plotly reads a few tags in texts; nothing from a log may be one of them.
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _list(values: np.ndarray) -> list[float | None]:
    return [float(f"{value:.7g}") if math.isfinite(value) else None for value in values.tolist()]


def _named(layer: Layer) -> dict[str, Any]:
    return {"name": _inert(layer.name), "showlegend": bool(layer.name)}


def _hover(texts: Iterable[str]) -> dict[str, Any]:
    said = [_inert(text) for text in texts]
    if not said:
        return {"hoverinfo": "skip"}
    return {"hovertext": said, "hovertemplate": "%{hovertext}<extra></extra>"}


def _said(layer: Points) -> dict[str, Any]:
    if not layer.run_value:
        return _hover(layer.hover)
    return {"hovertext": RUNS, "hovertemplate": f"%{{hovertext}}, {layer.run_value}<extra></extra>"}


def _x(x: np.ndarray) -> dict[str, Any]:
    if len(x) > 2 and np.array_equal(x, np.arange(len(x)) + x[0]):
        return {"x0": float(x[0]), "dx": 1}
    return {"x": _list(x)}


def _shape(plot: Plot, layer: Span | Mark, colours: Mapping[str, str]) -> dict[str, Any]:
    if isinstance(layer, Mark):
        edges = (layer.x, layer.x)
        dash = {"": "solid", "dashed": "dash", "dotted": "dot"}[layer.dashes]
        look: dict[str, Any] = {"line": {"color": colours[layer.tone], "width": 2, "dash": dash}}
    else:
        edges = (
            plot.x.low if layer.low is None else layer.low,
            plot.x.high if layer.high is None else layer.high,
        )
        look = {"fillcolor": colours[layer.tone], "line": {"width": 0}, "layer": "below"}
    return {
        "type": "line" if isinstance(layer, Mark) else "rect",
        "x0": edges[0],
        "x1": edges[1],
        "y0": 0,
        "y1": 1,
        "yref": "paper",
        **look,
    }


def _key_only(layer: Span | Mark, colours: Mapping[str, str]) -> dict[str, Any]:
    return {
        "type": "scatter",
        "x": [None],
        "y": [None],
        "mode": "markers",
        "marker": {"color": colours[layer.tone], "symbol": "square", "size": 11},
        "hoverinfo": "skip",
        **_named(layer),
    }


def _flag(plot: Plot, layer: Mark, colours: Mapping[str, str]) -> dict[str, Any]:
    """Return a mark on top of a line, which a line alone has not: something to point at."""
    symbol = {"": "triangle-down", "dashed": "square", "dotted": "diamond-tall"}[layer.dashes]
    look = {"marker": {"color": colours[layer.tone], "symbol": symbol, "size": 10}}
    place = {"x": [layer.x], "y": [plot.y.high], "mode": "markers", "cliponaxis": False}
    return {"type": "scatter", **place, **look, **_hover([layer.hover]), **_named(layer)}


def _traces(plot: Plot, layer: Layer, colours: Mapping[str, str]) -> list[dict[str, Any]]:
    if isinstance(layer, Band):
        return _band(layer, colours)
    if isinstance(layer, Line):
        line = {"color": colours[layer.tone], "dash": "dash" if layer.dashed else "solid"}
        trace = {**_x(layer.x), "y": _list(layer.y), "mode": "lines", "line": line}
        return [{"type": "scatter", **trace, "hoverinfo": "skip", **_named(layer)}]
    if isinstance(layer, Points):
        marker = _marker(layer.shape, layer.size, colours[layer.tone])
        trace = {**_x(layer.x), "y": _list(layer.y), "mode": "markers", "marker": marker}
        return [{"type": "scatter", **trace, **_said(layer), **_named(layer)}]
    if isinstance(layer, Whiskers):
        return [_whiskers(layer, colours)]
    if isinstance(layer, Bars):
        bar = {"x": _list(layer.length), "y": _list(layer.row), "orientation": "h", "width": 0.6}
        look = {"marker": {"color": colours[layer.tone]}}
        return [{"type": "bar", **bar, **look, **_hover(layer.hover), **_named(layer)}]
    if isinstance(layer, Rug):
        high = layer.top
        at = np.full(len(layer.x), plot.y.high if high else plot.y.low)
        marker = {"symbol": "line-ns-open", "size": 14, "color": colours[layer.tone]}
        trace = {"x": _list(layer.x), "y": _list(at), "mode": "markers", "marker": marker}
        return [{"type": "scatter", **trace, "hoverinfo": "x", **_named(layer)}]
    return []


def _marker(shape: str, size: float, colour: str) -> dict[str, Any]:
    return {"symbol": SYMBOLS[shape], "size": 2 * size, "color": colour}


def _band(layer: Band, colours: Mapping[str, str]) -> list[dict[str, Any]]:
    line = {"width": 0, "shape": "hvh" if layer.stepped else "linear"}
    common = {"type": "scatter", "mode": "lines", "line": line, "hoverinfo": "skip"}
    under = {**common, **_x(layer.x), "y": _list(layer.lower), "showlegend": False}
    over = {
        **common,
        **_x(layer.x),
        "y": _list(layer.upper),
        "fill": "tonexty",
        "fillcolor": colours[layer.tone],
        **_named(layer),
    }
    return [under, over]


def _whiskers(layer: Whiskers, colours: Mapping[str, str]) -> dict[str, Any]:
    return {
        "type": "scatter",
        "x": _list(layer.estimate),
        "y": _list(layer.row),
        "mode": "markers",
        "marker": _marker(layer.shape, 5.5, colours[layer.tone]),
        "error_x": {
            "type": "data",
            "symmetric": False,
            "array": _list(layer.upper - layer.estimate),
            "arrayminus": _list(layer.estimate - layer.lower),
            "color": colours[layer.tone],
        },
        **_hover(layer.hover),
        **_named(layer),
    }
