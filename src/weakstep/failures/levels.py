"""What keeping to, or away from, one level of a category would prevent."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.null_model import NullFit, logistic
from weakstep.failures.posterior import ShapeFits, draw_effects, draw_null
from weakstep.failures.shares import NULL_DRAWS, Draws
from weakstep.failures.windows import FEWEST_INSIDE, Choice

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate


def simulate_levels(
    candidate: Candidate,
    fits: ShapeFits,
    null: NullFit,
    effect_mass: float,
    tested: np.ndarray,
    draws: int,
    rng: np.random.Generator,
) -> Draws:
    """
    Draw a category's effect and what avoiding, or keeping to, each tried level would prevent.

    Parameters
    ----------
    candidate : Candidate
        A category.
    fits : ShapeFits
    null : NullFit
    effect_mass : float
    tested : array of int, shape (n_runs,)
    draws : int
    rng : Generator

    Returns
    -------
    Draws
        One "limit" per shape: `from_below` when its level is avoided (those runs become like the
        rest), `from_above` when every run has it.
    """
    logged = candidate.logged
    chips = tested[logged].astype(float)
    z = null.background.columns[logged]
    shape, coefficients = draw_effects(fits, draws, rng)
    base = coefficients[:, 1:] @ z.T
    columns = candidate.columns[logged]
    now = logistic(base + coefficients[:, :1] * columns.T[shape]) * chips
    count = len(candidate.shapes)
    avoided, kept, at = (np.zeros((draws, count)) for _ in range(3))
    for index, one in enumerate(candidate.shapes):
        mine = shape == index
        has = candidate.values[logged] == one.knot
        rest, level = (one.evaluate(np.array([value])) for value in (one.knot + 1.0, one.knot))
        effect = coefficients[mine, :1]
        as_rest = logistic(base[mine] + effect * rest) * chips
        as_level = logistic(base[mine] + effect * level) * chips
        avoided[mine, index] = (now[mine] - as_rest) @ has
        kept[mine, index] = (now[mine] - as_level) @ ~has
        at[mine, index] = as_level.sum(axis=1)
    without = logistic(draw_null(null, NULL_DRAWS, rng) @ z.T) @ chips
    return Draws(effect_mass, now.sum(axis=1), avoided, kept, at, without, float(chips.sum()))


def best_level(candidate: Candidate, draws: Draws) -> Choice:
    """
    Choose the level whose avoiding, or keeping, prevents most on average.

    Parameters
    ----------
    candidate : Candidate
        A category.
    draws : Draws
        From `simulate_levels`.

    Returns
    -------
    Choice
        Without a window; `level` says what is avoided ("without M3") or kept ("with M1 alone").
    """
    values = candidate.values[candidate.logged]
    share = np.array([float((values == one.knot).mean()) for one in candidate.shapes])
    avoiding = draws.mean_share(draws.from_below)
    # Keeping to a level that few runs had would be a guess beyond the log.
    keeping = np.where(share >= FEWEST_INSIDE, draws.mean_share(draws.from_above), -np.inf)
    if avoiding.max() >= keeping.max():
        best = int(np.argmax(avoiding))
        words = f"without {_level(candidate, best)}"
        return Choice(None, draws.from_below[:, best], 1.0 - float(share[best]), words)
    best = int(np.argmax(keeping))
    words = f"with {_level(candidate, best)} alone"
    return Choice(None, draws.from_above[:, best], float(share[best]), words)


def _level(candidate: Candidate, shape: int) -> str:
    return candidate.levels[int(candidate.shapes[shape].knot)]
