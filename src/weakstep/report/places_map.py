"""Where on the item it failed, as a small map of 3 x 3 cells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from weakstep.report.names import Names
from weakstep.report.plot import Table
from weakstep.report.tallies import places
from weakstep.report.words import count, grouped, listed, sentence

if TYPE_CHECKING:
    from weakstep.failures.model import Tally

SIDE = 64
FAINTEST, DARKEST = 0.12, 0.55
ROWS, SIDES = ("top", "", "bottom"), ("left", "", "right")


@dataclass(frozen=True)
class Cell:
    """
    One cell of the map.

    Attributes
    ----------
    x, y : int
        Left upper corner, in pixels.
    count : int
        Failed items there.
    shade : float
        Opacity of the fill; 0 for a cell without failures.
    """

    x: int
    y: int
    count: int
    shade: float


@dataclass(frozen=True)
class PlacesMap:
    """
    The map, what it says in words, and the places as the log writes them.

    Attributes
    ----------
    cells : tuple of Cell
        Nine, row by row; empty when no place names a cell.
    side : int
        Of one cell, in pixels.
    title, words, elsewhere : str
        Heading; every cell with failures, for who cannot see the drawing; what names no cell.
    table : Table
    """

    cells: tuple[Cell, ...]
    side: int
    title: str
    words: str
    elsewhere: str
    table: Table


def places_map(names: Names, tally: Tally) -> PlacesMap | None:
    """
    Return the map of the places that the log names, None when it names none.

    Parameters
    ----------
    names : Names
    tally : Tally

    Returns
    -------
    PlacesMap or None
    """
    table = places(names, tally)
    if table is None:
        return None
    grid = [[0] * 3 for _ in range(3)]
    rest = []
    for place in tally.places:
        if place.row is None or place.column is None:
            rest.append(f"{place.words} {grouped(place.count)}")
        else:
            grid[place.row][place.column] += place.count
    most = max(max(row) for row in grid)
    cells = tuple(
        Cell(SIDE * column, SIDE * row, grid[row][column], _shade(grid[row][column], most))
        for row in range(3)
        for column in range(3)
    )
    said = [
        f"{cell_name(row, column)} {grouped(grid[row][column])}"
        for row in range(3)
        for column in range(3)
        if grid[row][column]
    ]
    drawn = count(sum(map(sum, grid)), f"failed {names.process.item}",
                  f"failed {names.process.items}")  # fmt: skip
    return PlacesMap(
        cells if most else (),
        SIDE,
        table.caption,
        sentence(f"{drawn} by place: {listed(said)}") if said else "",
        sentence(f"Not on the map: {listed(rest)}") if rest else "",
        table,
    )


def _shade(number: int, most: int) -> float:
    if not number:
        return 0.0
    return round(FAINTEST + (DARKEST - FAINTEST) * number / most, 3)


def cell_name(row: int, column: int) -> str:
    """
    Return the words of a cell.

    Examples
    --------
    >>> cell_name(0, 2), cell_name(1, 0), cell_name(1, 1)
    ('top right', 'left', 'centre')
    """
    return f"{ROWS[row]} {SIDES[column]}".strip() or "centre"
