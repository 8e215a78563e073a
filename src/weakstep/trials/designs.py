"""Two-level designs: full and fractional, their resolution and what is aliased with what."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import reduce
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from weakstep.trials.screening import plackett_burman

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Word = frozenset[int]  # factors, counted from 1, whose product is meant

# Generators by (factors, factors that are generated): NIST/SEMATECH e-Handbook, 5.3.3.4.7, after
# G. E. P. Box, W. G. Hunter and J. S. Hunter, Statistics for Experimenters.
GENERATORS = {
    (3, 1): "3=12",
    (4, 1): "4=123",
    (5, 1): "5=1234",
    (5, 2): "4=12 5=13",
    (6, 1): "6=12345",
    (6, 2): "5=123 6=234",
    (6, 3): "4=12 5=13 6=23",
    (7, 1): "7=123456",
    (7, 2): "6=1234 7=1245",
    (7, 3): "5=123 6=234 7=134",
    (7, 4): "4=12 5=13 6=23 7=123",
    (8, 1): "8=1234567",
    (8, 2): "7=1234 8=1256",
    (8, 3): "6=123 7=124 8=2345",
    (8, 4): "5=234 6=134 7=123 8=124",
    (9, 2): "8=13467 9=23567",
    (9, 3): "7=1234 8=1356 9=3456",
    (9, 4): "6=2345 7=1345 8=1245 9=1235",
    (9, 5): "5=123 6=234 7=134 8=124 9=1234",
    (10, 3): "8=1237 9=2345 10=1346",
    (10, 4): "7=2346 8=1346 9=1245 10=1235",
    (10, 5): "6=1234 7=1235 8=1245 9=1345 10=2345",
    (10, 6): "5=123 6=234 7=134 8=124 9=1234 10=12",
    (11, 5): "7=345 8=1234 9=126 10=2456 11=1456",
    (11, 6): "6=123 7=234 8=345 9=134 10=145 11=245",
    (11, 7): "5=123 6=234 7=134 8=124 9=1234 10=12 11=13",
    (15, 11): "5=12 6=13 7=14 8=23 9=24 10=34 11=123 12=124 13=134 14=234 15=1234",
}
MOST_FACTORS = 11  # that a trial varies at once
SCREENING = "PB"  # stands for generators: "PB12" is the Plackett-Burman design of 12 runs
_SMALLEST_SCREENING = 12
_ROMAN = {2: "II", 3: "III", 4: "IV", 5: "V", 6: "VI", 7: "VII", 8: "VIII"}


@dataclass(frozen=True, eq=False)
class Design:
    """
    A two-level design, one row per combination.

    Attributes
    ----------
    coded : array, shape (n_rows, n_factors)
        -1 for the low and +1 for the high level; the first factor changes fastest.
    generators : str
        "4=12 5=13": the fourth factor is the product of the first two; empty for all combinations.
    words : tuple of Word
        Products of factors that are always +1, shortest first; none for a full design.
    partial : bool
        Single parameters are told from each other, but each shares a part of many pairs: the
        screening designs of `weakstep.trials.screening`, which have no words.
    """

    coded: Floats
    generators: str
    words: tuple[Word, ...]
    partial: bool = False

    @property
    def resolution(self) -> int | None:
        """Length of the shortest word: below it, no two effects are aliased; None when full."""
        return 3 if self.partial else min(map(len, self.words), default=None)

    @property
    def word_lengths(self) -> tuple[int, ...]:
        """
        Words of length 3, 4, ... up to the longest: the word-length pattern.

        Examples
        --------
        >>> two_level(7, 4).word_lengths
        (7, 7, 0, 0, 1)
        """
        longest = max(map(len, self.words), default=2)
        counts = [0] * (longest + 1)
        for word in self.words:
            counts[len(word)] += 1
        return tuple(counts[3:])

    @property
    def resolution_numeral(self) -> str:
        """The resolution as it is written ("IV"); "full" when nothing is aliased."""
        return "full" if self.resolution is None else _ROMAN[self.resolution]


def two_level(factors: int, generated: int = 0) -> Design:
    r"""
    Build the :math:`2^{k-p}` design.

    Parameters
    ----------
    factors : int
        k, at least 1.
    generated : int, default 0
        p, factors set by products of others.

    Returns
    -------
    Design

    Raises
    ------
    ValueError
        No generators are known for this k and p.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 5.3.3.3 and 5.3.3.4.

    Examples
    --------
    >>> design = two_level(4, 1)
    >>> design.resolution_numeral, design.coded[1].tolist()
    ('IV', [1.0, -1.0, -1.0, 1.0])
    """
    if factors < 1 or (generated and (factors, generated) not in GENERATORS):
        msg = f"no two-level design of {factors} factors with {generated} generated is known"
        raise ValueError(msg)
    return from_generators(factors, GENERATORS[factors, generated] if generated else "")


def from_generators(factors: int, text: str) -> Design:
    """
    Build a design from generators of one's own, or the screening design that "PB12" names.

    Examples
    --------
    >>> from_generators(3, "3=12").coded[:, 2].tolist()
    [1.0, -1.0, -1.0, 1.0]
    """
    if text.startswith(SCREENING):
        coded = plackett_burman(int(text.removeprefix(SCREENING)))[:, :factors]
        return Design(coded, text, (), partial=True)
    products = parse_generators(text)
    base = factors - len(products)
    for place, (made, parts) in enumerate(products):
        if made != base + place + 1 or max(parts) > base:
            msg = (
                f"Found generators {text!r} for {factors} factors; expected the last "
                f"{len(products)}, in order, as products of the first {base}."
            )
            raise ValueError(msg)
    rows = np.arange(2**base)[:, None]
    coded = np.where(rows >> np.arange(base) & 1, 1.0, -1.0)
    for _, parts in products:
        coded = np.column_stack([coded, coded[:, [part - 1 for part in sorted(parts)]].prod(1)])
    return Design(coded, text, defining_words(parts | {made} for made, parts in products))


def parse_generators(text: str) -> list[tuple[int, Word]]:
    """
    Read generators: which factor is the product of which.

    Raises
    ------
    ValueError
        Something else is written; products with a minus sign are not known here.

    Examples
    --------
    >>> [(made, sorted(parts)) for made, parts in parse_generators("4=12 10=123")]
    [(4, [1, 2]), (10, [1, 2, 3])]
    """
    found = []
    for entry in text.split():
        made, _, parts = entry.partition("=")
        if not re.fullmatch("[0-9]+", made) or not re.fullmatch("[1-9]+", parts):
            msg = f"Found generator {entry!r}; expected a factor and a product, such as 4=123."
            raise ValueError(msg)
        found.append((int(made), frozenset(map(int, parts))))
    return found


def defining_words(generating: Iterable[Word]) -> tuple[Word, ...]:
    """
    Return every product of the generating words, shortest first.

    Examples
    --------
    >>> [sorted(word) for word in defining_words([frozenset({1, 2, 4}), frozenset({1, 3, 5})])]
    [[1, 2, 4], [1, 3, 5], [2, 3, 4, 5]]
    """
    words = list(generating)
    every: list[Word] = [
        reduce(lambda one, other: one ^ other, some)
        for count in range(1, len(words) + 1)
        for some in combinations(words, count)
    ]
    return tuple(sorted(every, key=lambda word: (len(word), sorted(word))))


def aliases(design: Design, factors: int, largest: int = 2) -> tuple[tuple[Word, ...], ...]:
    """
    Group effects that a design cannot tell apart, up to products of *largest* factors.

    Returns
    -------
    tuple of tuples of Word
        Each effect stands in one group; mean effects come first. What is aliased with the mean is
        left out, and so are products in a screening design, which are spread over all effects.

    Examples
    --------
    >>> groups = aliases(two_level(4, 1), 4)
    >>> [[sorted(word) for word in group] for group in groups if len(group) > 1]
    [[[1, 2], [3, 4]], [[1, 3], [2, 4]], [[1, 4], [2, 3]]]
    """
    effects = [
        frozenset(some)
        for count in range(1, 1 + (1 if design.partial else largest))
        for some in combinations(range(1, factors + 1), count)
    ]
    groups: dict[Word, list[Word]] = {}
    for effect in effects:
        chain = [effect, *(effect ^ word for word in design.words)]
        if frozenset() in chain:
            continue
        groups.setdefault(min(chain, key=lambda w: (len(w), sorted(w))), []).append(effect)
    return tuple(tuple(group) for group in groups.values())


def suitable(factors: int, most_rows: int | None = None) -> Design:
    """
    Choose the smallest listed design whose main effects are free of two-factor ones.

    Parameters
    ----------
    factors : int
        From 1 to 11.
    most_rows : int, optional
        Take the design of the highest resolution with at most that many combinations instead; where
        there is none, the screening design of 12.

    Returns
    -------
    Design

    Raises
    ------
    ValueError
        More factors, or no listed design is that small.

    Examples
    --------
    >>> [len(suitable(factors).coded) for factors in (2, 3, 4, 5, 6, 7, 8, 9)]
    [4, 8, 8, 16, 16, 16, 16, 32]
    """
    if factors > MOST_FACTORS:
        msg = f"{factors} factors are more than the {MOST_FACTORS} that designs are listed for"
        raise ValueError(msg)
    listed = [two_level(factors, p) for k, p in [(factors, 0), *GENERATORS] if k == factors]
    if most_rows is not None:
        fitting = [design for design in listed if len(design.coded) <= most_rows]
        if not fitting and factors <= _SMALLEST_SCREENING - 1 <= most_rows - 1:
            return from_generators(factors, f"{SCREENING}{_SMALLEST_SCREENING}")
        if not fitting:
            msg = f"no two-level design of {factors} factors has at most {most_rows} combinations"
            raise ValueError(msg)
        return max(fitting, key=lambda one: (one.resolution or 99, -len(one.coded)))
    clear = [design for design in listed if (design.resolution or 99) >= 4]
    return min(clear, key=lambda one: len(one.coded))
