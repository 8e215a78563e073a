"""A column of cells, each different text kept once: what is read once need not be read again."""

from __future__ import annotations

from array import array
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np

ABSENT = -1  # the code of a row whose file has no such column


@dataclass(frozen=True, eq=False)
class Texts:
    """
    The cells of one column.

    Attributes
    ----------
    codes : array of int32, shape (n_rows,)
        Index of each row's text in `distinct`; -1 where the row's file has no such column.
    distinct : tuple of str
        The different texts, in the order they first stand in the column.
    """

    codes: np.ndarray
    distinct: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.codes)

    def __getitem__(self, row: int) -> str:
        code = self.codes[row]
        return "" if code == ABSENT else self.distinct[code]

    def __iter__(self) -> Iterator[str]:
        return iter(self.spread(self.distinct).tolist())

    def map(self, change: Callable[[str], str]) -> Texts:
        """Return the column with each different text changed."""
        return Texts(self.codes, tuple(map(change, self.distinct)))

    def take(self, rows: np.ndarray) -> Texts:
        """Return the chosen rows: indices, or a mask."""
        return Texts(self.codes[rows], self.distinct)

    def filled(self) -> np.ndarray:
        """Return the rows, as a mask, that hold any text."""
        holds: np.ndarray = self.codes != ABSENT
        if "" in self.distinct:
            holds &= self.codes != self.distinct.index("")
        return holds

    def holding(self, chosen: Sequence[int]) -> np.ndarray:
        """Return the rows, as a mask, that hold one of the different texts with these indices."""
        import numpy as np

        mask = np.zeros(len(self.distinct) + 1, dtype=bool)
        mask[list(chosen)] = True
        rows: np.ndarray = mask[self.codes]
        return rows

    def where(self, holds: Callable[[str], Any]) -> np.ndarray:
        """Return the rows, as a mask, whose text satisfies *holds*."""
        import numpy as np

        told = np.array(list(map(bool, map(holds, self.distinct))), dtype=bool)
        rows: np.ndarray = np.append(told, False)[self.codes]
        return rows

    def spread(self, of_distinct: Sequence[Any], absent: Any = "") -> np.ndarray:
        """Return *of_distinct*, one object per different text, row by row."""
        import numpy as np

        objects = np.empty(len(self.distinct) + 1, dtype=object)
        objects[:-1] = of_distinct
        objects[-1] = absent
        rows: np.ndarray = objects[self.codes]
        return rows

    def counts(self) -> np.ndarray:
        """Return how many rows hold each of the different texts."""
        import numpy as np

        return np.bincount(self.codes[self.codes >= 0], minlength=len(self.distinct))


class TextsBuilder:
    """Gathers a column block by block."""

    def __init__(self) -> None:
        # A text that is new gets the next number by being looked up: one step per cell.
        self._index: defaultdict[str, int] = defaultdict()
        self._index.default_factory = self._index.__len__
        self._codes = array("i")

    def add(self, cells: Iterable[str]) -> None:
        """Append cells."""
        self._codes.extend(map(self._index.__getitem__, cells))

    def built(self) -> Texts:
        """Return the column."""
        import numpy as np

        return Texts(np.array(self._codes, dtype=np.int32), tuple(self._index))


def of_cells(cells: Sequence[str]) -> Texts:
    """
    Return a column of the given cells.

    Examples
    --------
    >>> column = of_cells(["b", "a", "b"])
    >>> column.distinct, column.codes.tolist(), column[2]
    (('b', 'a'), [0, 1, 0], 'b')
    """
    builder = TextsBuilder()
    builder.add(cells)
    return builder.built()


def joined(columns: Iterable[Texts | int]) -> Texts:
    """Return columns under one another; a number stands for that many rows without the column."""
    import numpy as np

    parts = list(columns)
    if len(parts) == 1 and isinstance(parts[0], Texts):
        return parts[0]
    index: dict[str, int] = {}
    blocks = []
    for column in parts:
        if isinstance(column, int):
            blocks.append(np.full(column, ABSENT, np.int32))
            continue
        for text in column.distinct:
            index.setdefault(text, len(index))
        place = np.array([*(index[text] for text in column.distinct), ABSENT], dtype=np.int32)
        blocks.append(place[column.codes])
    return Texts(np.concatenate(blocks) if blocks else np.zeros(0, np.int32), tuple(index))
