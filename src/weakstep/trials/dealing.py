"""What lots are dealt for: runs within operators, or whole operators where hands changed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Counts = NDArray[np.int_]
    Words = NDArray[np.str_]

HowDealt = Literal["runs within operators", "operators", "too few operators"]

_SAME_HANDS = 0.5  # of the runs of a period, by operators who worked in others, too
_FEWEST_DEALS = 200  # of operators; with fewer, no chance below about 1 % could come out


@dataclass(frozen=True, eq=False)
class Lots:
    """
    What is dealt to the periods, one entry a lot.

    Attributes
    ----------
    failed, tested : array of int, shape (n_lots,)
        Chips.
    period : array of int, shape (n_lots,)
    stratum : array of int, shape (n_lots,)
        Lots are dealt within it only.
    """

    failed: Counts
    tested: Counts
    period: Counts
    stratum: Counts


def same_hands(operator: Words, period: NDArray[np.bool_] | Counts) -> bool:
    """
    Whether half the runs of every period were made by operators who also worked in another.

    Where they were not, a new operator cannot be told from a new period.

    Parameters
    ----------
    operator : array of str, shape (n_runs,)
        One name for all where nobody is logged.
    period : array of bool or int, shape (n_runs,)

    Examples
    --------
    >>> same_hands(np.array(["a", "a", "b", "b"]), np.array([0, 0, 1, 1]))
    False
    >>> same_hands(np.array(["a", "b", "a", "b"]), np.array([0, 0, 1, 1]))
    True
    """
    _, who = np.unique(operator, return_inverse=True)
    _, when = np.unique(period, return_inverse=True)
    shared = _worked(who, when).sum(axis=1)[who] > 1
    runs = np.bincount(when)
    return bool((np.bincount(when, weights=shared) >= _SAME_HANDS * runs).all())


def how_dealt(operator: Words, period: NDArray[np.bool_] | Counts) -> HowDealt:
    """
    Choose what is dealt to the periods by lot.

    Runs within operators while hands stay the same. Where hands changed with the periods, persons
    differ and a period is no better known than the persons who worked in it, so operators are dealt
    as wholes, unless they are so few that no dealing could ever be rare.

    Examples
    --------
    >>> how_dealt(np.repeat(list("abcdefghij"), 2), np.repeat([0, 1], 10))
    'operators'
    >>> how_dealt(np.array(["a", "a", "b", "b"]), np.array([0, 0, 1, 1]))
    'too few operators'
    """
    if same_hands(operator, period):
        return "runs within operators"
    _, who = np.unique(operator, return_inverse=True)
    _, when = np.unique(period, return_inverse=True)
    worked = _worked(who, when)
    of_one_period = worked[worked.sum(axis=1) == 1].sum(axis=0)
    return "operators" if _deals(of_one_period) >= _FEWEST_DEALS else "too few operators"


def _worked(who: Counts, when: Counts) -> NDArray[np.bool_]:
    """Return who worked when, shape (n_operators, n_periods)."""
    worked = np.zeros((who.max(initial=0) + 1, when.max(initial=0) + 1), dtype=bool)
    worked[who, when] = True
    return worked


def _deals(counts: Counts) -> int:
    """Ways to deal so many lots to each period: a multinomial coefficient."""
    each = [math.factorial(int(count)) for count in counts]
    return math.factorial(int(counts.sum())) // math.prod(each)


def lots_of(
    failed: Counts, tested: Counts, period: NDArray[np.bool_] | Counts, operator: Words
) -> Lots:
    """
    Gather runs into what is dealt to the periods (`how_dealt`).

    Where operators are dealt as wholes, however few, those who worked in several periods keep their
    runs, which are dealt within them.

    Parameters
    ----------
    failed, tested : array of int, shape (n_runs,)
    period : array of bool or int, shape (n_runs,)
    operator : array of str, shape (n_runs,)

    Examples
    --------
    >>> runs = np.ones(20, dtype=int)
    >>> lots_of(runs, runs, np.repeat([0, 1], 10), np.repeat(list("abcdefghij"), 2)).failed
    array([2, 2, 2, 2, 2, 2, 2, 2, 2, 2])
    """
    place = np.asarray(period, dtype=int)
    _, who = np.unique(operator, return_inverse=True)
    if same_hands(operator, period):
        return Lots(failed, tested, place, who)
    _, when = np.unique(place, return_inverse=True)
    once = (_worked(who, when).sum(axis=1) == 1)[who]
    own = who.max() + 1 + np.arange(len(who))
    _, first, lot = np.unique(np.where(once, who, own), return_index=True, return_inverse=True)
    return Lots(
        np.bincount(lot, weights=failed).astype(int),
        np.bincount(lot, weights=tested).astype(int),
        place[first],
        np.where(once, 0, who + 1)[first],
    )
