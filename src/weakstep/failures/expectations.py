"""What the description expects of a parameter, as a mild prior on shapes and directions."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from weakstep.failures.shapes import Shape
    from weakstep.process.model import WorseWhen

ODDS = 3.0
"""An expected direction is this many times as probable as the other one. Not fitted to anything:
a description that errs in one parameter of four deserves no more."""
RISING = ("line", "above", "bend")
FALLING = ("below",)
FROM_THE_MIDDLE = ("away", "outside")


def expecting(shapes: tuple[Shape, ...], worse_when: WorseWhen) -> tuple[Shape, ...]:
    """
    Return the shapes of a parameter as probable as the description expects.

    Permutations judge what comes of it by the same rule, so an expectation, right or wrong, costs
    no false alarm; it moves where the power lies, and leans shares by the same odds.

    Parameters
    ----------
    shapes : tuple of Shape
    worse_when : WorseWhen
        "high" or "low": shapes with that direction are 3 times as probable as the opposite;
        "both_ends": shapes that rise away from a middle are 3 times as probable as otherwise;
        the empty string leaves all as it is.

    Returns
    -------
    tuple of Shape
    """
    if worse_when == "both_ends":
        return tuple(
            replace(shape, likely=shape.likely * ODDS) if shape.kind in FROM_THE_MIDDLE else shape
            for shape in shapes
        )
    if worse_when not in ("high", "low"):
        return shapes
    agrees = ODDS / (1.0 + ODDS)
    rising = agrees if worse_when == "high" else 1.0 - agrees
    positive = dict.fromkeys(RISING, rising) | dict.fromkeys(FALLING, 1.0 - rising)
    return tuple(
        replace(shape, positive=positive.get(shape.kind, shape.positive)) for shape in shapes
    )


def against(shape: Shape, z: float, worse_when: WorseWhen) -> bool:
    """
    Say whether a link goes against what the description expects.

    Parameters
    ----------
    shape : Shape
        The one that tells the link.
    z : float
        Its signed score.
    worse_when : WorseWhen

    Returns
    -------
    bool
        True when failures rise in the direction opposite to the expected one; never where nothing
        is expected, nor for shapes with a middle, nor for a category.
    """
    if worse_when not in ("high", "low") or shape.kind not in (*RISING, *FALLING):
        return False
    worse_high = (z > 0.0) == (shape.kind in RISING)
    return worse_high != (worse_when == "high")
