"""Where on the chip failures lie: places as written, and cells of a 3 x 3 grid."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from weakstep.failures.model import PlaceCount
from weakstep.failures.wilson import wilson

if TYPE_CHECKING:
    from weakstep.runlog.model import RunLog

COLUMN = "failure_location"
ROWS = (
    ("top", "upper", "oben", "haut", "arriba"),
    (),
    ("bottom", "lower", "unten", "bas", "abajo"),
)
SIDES = (("left", "links", "gauche", "izquierda"), (), ("right", "rechts", "droite", "derecha"))
MIDDLE = ("centre", "center", "middle", "mitte", "milieu", "centro")


def place_counts(log: RunLog) -> tuple[PlaceCount, ...]:
    """
    Count failed chips by the place that the log names.

    Parameters
    ----------
    log : RunLog

    Returns
    -------
    tuple of PlaceCount
        Most frequent first; empty when no place was logged.
    """
    chips = log.chips
    if COLUMN not in chips.columns:
        return ()
    counts: dict[str, int] = {}
    for words, failed in zip(chips[COLUMN], chips["failed"], strict=True):
        place = " ".join(str(words).lower().split()) if isinstance(words, str) else ""
        if place and int(failed):
            counts[place] = counts.get(place, 0) + int(failed)
    total = sum(counts.values())
    places = []
    for words, count in sorted(counts.items(), key=lambda item: (-item[1], item[0])):
        row, column = grid_cell(words) or (None, None)
        places.append(PlaceCount(words, count, row, column, wilson(count, total)))
    return tuple(places)


def grid_cell(words: str) -> tuple[int, int] | None:
    """
    Return row and column of the 3 x 3 grid that a place names, or None.

    Examples
    --------
    >>> grid_cell("top left"), grid_cell("centre"), grid_cell("right"), grid_cell("corner")
    ((0, 0), (1, 1), (1, 2), None)
    """
    found = set(re.findall(r"\w+", words.lower()))
    row = [i for i, names in enumerate(ROWS) if found & set(names)]
    side = [i for i, names in enumerate(SIDES) if found & set(names)]
    if len(row) > 1 or len(side) > 1 or not (row or side or found & set(MIDDLE)):
        return None
    return (row[0] if row else 1), (side[0] if side else 1)
