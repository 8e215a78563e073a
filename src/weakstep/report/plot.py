"""
A figure as plain data, before anything draws it.

Every figure is described once; `svg` draws it into the page, so that it is there without
JavaScript and in print, and `zoom` hands the same description to plotly for zooming and hover.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from markupsafe import Markup

if TYPE_CHECKING:
    import numpy as np

Tone = Literal["ink", "muted", "band", "main", "signal", "good", "window", "fourth", "fifth"]
Shape = Literal["dot", "ring", "diamond", "square", "triangle"]
Dashes = Literal["", "dashed", "dotted"]


@dataclass(frozen=True)
class Axis:
    """
    One axis.

    Attributes
    ----------
    label : str
    low, high : float
        Range shown, in data units; both positive on a log axis.
    ticks : sequence of (position, text)
    log : bool
    rows : bool
        True when the ticks name rows, counted from 0 at the top.
    """

    label: str
    low: float
    high: float
    ticks: Sequence[tuple[float, str]]
    log: bool = False
    rows: bool = False


@dataclass(frozen=True, eq=False)
class Band:
    """Area between two curves over x; shape (n_points,) each."""

    x: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    tone: Tone
    name: str = ""
    stepped: bool = False


@dataclass(frozen=True)
class Span:
    """Shaded stretch of the x axis from *low* to *high*; None is the end of the axis."""

    low: float | None
    high: float | None
    tone: Tone
    name: str = ""


@dataclass(frozen=True, eq=False)
class Line:
    """A line through points; NaN breaks it."""

    x: np.ndarray
    y: np.ndarray
    tone: Tone
    name: str = ""
    dashed: bool = False


@dataclass(frozen=True, eq=False)
class Points:
    """
    Marks at points; NaN is left out.

    *hover* has a text per point, or none at all. Where each point is a run, *run_value* says how
    its value is written instead, and the names of the runs are shared by all figures.
    """

    x: np.ndarray
    y: np.ndarray
    tone: Tone
    shape: Shape = "dot"
    size: float = 3.0
    name: str = ""
    hover: Sequence[str] = ()
    run_value: str = ""


@dataclass(frozen=True, eq=False)
class Whiskers:
    """Horizontal intervals, one per row, with a mark at the estimate."""

    row: np.ndarray
    estimate: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    tone: Tone
    shape: Shape = "dot"
    name: str = ""
    hover: Sequence[str] = ()


@dataclass(frozen=True, eq=False)
class Bars:
    """Horizontal bars from 0, one per row."""

    row: np.ndarray
    length: np.ndarray
    tone: Tone
    name: str = ""
    hover: Sequence[str] = ()


@dataclass(frozen=True, eq=False)
class Rug:
    """Short ticks along the bottom of the plot, or along its top."""

    x: np.ndarray
    tone: Tone
    top: bool = False
    name: str = ""


@dataclass(frozen=True)
class Mark:
    """A vertical line at x with a name; *hover* says more."""

    x: float
    tone: Tone
    name: str = ""
    dashes: Dashes = ""
    hover: str = ""


Layer = Band | Span | Line | Points | Whiskers | Bars | Rug | Mark


@dataclass(frozen=True)
class Table:
    """A table for reading and for screen readers: the first column heads its rows."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: tuple[bool, ...] = ()
    note: str = ""

    @property
    def mostly_numbers(self) -> bool:
        """Whether more columns hold numbers than texts, the first apart."""
        return 2 * sum(self.numeric[1:]) > len(self.head) - 1

    @property
    def classes(self) -> tuple[Markup, ...]:
        """The attribute of a body cell per column, short because it stands in every row."""
        found = (self.align(column) for column in range(len(self.head)))
        return tuple(Markup(f" class={name}" if name else "") for name in found)

    def align(self, column: int) -> str:
        """Return the class of a cell that differs from the table's usual: "n" or "t", or ""."""
        number = column < len(self.numeric) and self.numeric[column]
        usual = self.mostly_numbers and column > 0
        return "" if number == usual else "n" if number else "t"


@dataclass(frozen=True, eq=False)
class Plot:
    """
    A whole figure.

    Attributes
    ----------
    name : str
        Identifier within the page.
    title : str
        What it shows, a phrase: the figure's accessible name.
    see : str
        What to see in it, a sentence or two.
    x, y : Axis
    layers : tuple of Layer
        Drawn in this order.
    table : Table or None
        The numbers behind it.
    """

    name: str
    title: str
    see: str
    x: Axis
    y: Axis
    layers: tuple[Layer, ...]
    table: Table | None = field(default=None)


def row_axis(labels: Sequence[str]) -> Axis:
    """Return a vertical axis with one row per label, the first on top."""
    ticks = [(float(row), label) for row, label in enumerate(labels)]
    return Axis("", -0.5, len(labels) - 0.5, ticks, rows=True)
