"""Numbers and intervals as findings.json writes them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from weakstep.interval import Interval


def number(value: float | None) -> float | None:
    """Return *value* as a plain float, None when it is missing or not finite."""
    if value is None or not math.isfinite(value):
        return None
    return float(value)


def interval(value: Interval | None) -> dict[str, float | None] | None:
    """Return INTERVAL as the README documents it, or None."""
    if value is None:
        return None
    return {key: number(part) for key, part in value.to_dict().items()}
