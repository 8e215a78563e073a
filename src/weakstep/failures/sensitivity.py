"""Whether the first factor stays first when the log is shortened, thinned or re-ordered."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from weakstep.failures.candidates import Candidate, gather, pool_small_strata
from weakstep.failures.leading import Leader, leader
from weakstep.failures.links import Link, Outcomes
from weakstep.failures.model import Factor, SensitivityLine
from weakstep.failures.permuting import draw_orders
from weakstep.failures.screen import screen
from weakstep.failures.toofew import too_little
from weakstep.failures.words import in_sentence, named

if TYPE_CHECKING:
    from weakstep.process.model import Process
    from weakstep.runlog.model import RunTable

PERMUTATIONS = 199
THINNINGS = 10
LOST = 0.2
LOST_BY_ONE, LOST_BY_OTHERS = 0.5, 0.1
EVIDENCE = {
    "strong": "strong evidence",
    "calendar": "tied to the calendar",
    "some": "some evidence",
    "none": "no more than luck would show",
}
LEFT = {
    "strong": "strong evidence too",
    "calendar": "only a link that is tied to the calendar",
    "some": "some evidence",
    "none": "no evidence left",
}
MONTH = np.timedelta64(30, "D")
LAST_QUARTER = 0.75
FEWEST_RUNS_OF_ONE = 4
MOST_GROUPINGS = 4
CONTENDERS = 12


def sensitivity(
    process: Process,
    runs: RunTable,
    failed: Mapping[str, np.ndarray],
    first: Factor,
    seed: int,
) -> tuple[SensitivityLine, ...]:
    """
    Ask again what comes first, of the log as it might have been.

    Other re-orderings; a fifth of the failures unlogged at random, or half of those of the operator
    most often outside the window and a tenth of the others'; without the operator, and without the
    mould, lot or machine, with the most failures beyond the average; without the last month. What
    comes first is told as the ranking tells it: by evidence, then by belief.

    Parameters
    ----------
    process : Process
    runs : RunTable
        Only runs with tested chips.
    failed : mapping of family name to array of int, shape (n_runs,)
        Families that were ranked.
    first : Factor
        What the whole ranking puts first.
    seed : int
        Of the review; these lines use their own streams derived from it.

    Returns
    -------
    tuple of SensitivityLine
        One per question that this log can be asked; none when the first factor shows no more than
        luck would.
    """
    if first.evidence == "none":
        return ()
    asked = _Asked(process, runs, failed, first, seed)
    lines = [asked.subset("With other re-orderings of the runs", np.ones(len(runs), dtype=bool))]
    lines += asked.thinned(
        "Had a further fifth of the failures gone unlogged", np.full(len(runs), LOST), 1
    )
    operators, places = np.unique(runs.operator.astype(str), return_inverse=True)
    if len(operators) > 1:
        slow = _most_outside(first, runs, places)
        chance = np.where(places == slow, LOST_BY_ONE, LOST_BY_OTHERS)
        words = (
            f"Had operator {operators[slow]} left half of their failures unlogged, and the others "
            "a tenth of theirs"
        )
        lines += asked.thinned(words, chance, 2)
        worst = operators[_most_beyond_average(failed[first.family], runs.tested, places)]
        words = f"Without the runs of operator {worst}"
        lines.append(asked.subset(words, runs.operator.astype(str) != worst))
    lines += _without_groups(asked)
    words, early = _before_the_last_month(runs)
    lines.append(asked.subset(words, early))
    return tuple(lines)


class _Asked:
    """One log and its first factor, asked in several ways."""

    def __init__(
        self,
        process: Process,
        runs: RunTable,
        failed: Mapping[str, np.ndarray],
        first: Factor,
        seed: int,
    ):
        self.process = process
        self.runs = runs
        self.failed = failed
        self.first = first
        self.seed = seed
        self.known = {first.column, *first.alike}
        self.strata = pool_small_strata(runs.operator.astype(str))
        self.candidates = gather(process, runs, self.strata)[0]
        rng = np.random.default_rng([seed, 1])
        asked = (runs, failed, self.candidates, self.strata, PERMUTATIONS, rng)
        self.links = self._screened(*asked)

    def subset(self, question: str, kept: np.ndarray) -> SensitivityLine:
        """Rank these runs alone, with evidence."""
        runs = self.runs.only(kept)
        failed = {
            name: counts[kept]
            for name, counts in self.failed.items()
            if too_little(name, counts[kept], runs.tested) is None
        }
        if self.first.family not in failed:
            return SensitivityLine(
                question,
                None,
                False,
                None,
                f"{question}: too few runs or failures are left to say.",
            )
        candidates, links = self.candidates, self.links
        if not kept.all():
            strata = pool_small_strata(runs.operator.astype(str))
            candidates = gather(self.process, runs, strata)[0]
            if not candidates:
                return SensitivityLine(
                    question, None, False, None, f"{question}: no parameter varies enough any more."
                )
            rng = np.random.default_rng([self.seed, 1])
            links = self._screened(runs, failed, candidates, strata, PERMUTATIONS, rng)
        first = leader(self.process, runs, failed[self.first.family], candidates, links)
        if len(candidates) == 1:
            return self._alone(question, first)
        still = bool(self.known & {first.column, *first.alike})
        words = "still first" if still else f"{self._label(first.column)} comes first instead"
        words = f"{words} ({EVIDENCE[first.evidence]})"
        if not still:
            words += self._what_is_left(candidates, links)
        return SensitivityLine(
            question, first.column, still, first.evidence, f"{question}: {words}."
        )

    def _alone(self, question: str, only: Leader) -> SensitivityLine:
        """Of a single factor only its evidence can change."""
        linked = only.evidence != "none"
        words = f"{'still' if linked else 'no longer'} linked ({EVIDENCE[only.evidence]})"
        return SensitivityLine(
            question, only.column, linked, only.evidence, f"{question}: {words}."
        )

    def thinned(
        self, question: str, chance: np.ndarray, stream: int
    ) -> tuple[SensitivityLine, ...]:
        """Rank logs in which each failure was lost with its run's *chance*; no evidence."""
        if len(self.candidates) == 1:
            return ()
        rng = np.random.default_rng([self.seed, 1 + stream])
        runs, family = self.runs, self.first.family
        candidates = self._contenders()
        leaders: list[Leader] = []
        for _ in range(THINNINGS):
            lost = rng.binomial(self.failed[family], chance)
            tested = np.maximum(runs.tested - lost, 1)
            failed = {family: self.failed[family] - lost}
            if too_little(family, failed[family], tested) is not None:
                continue
            thin = replace(runs, tested=tested)
            links = self._screened(thin, failed, candidates, self.strata, 1, rng)
            leaders.append(leader(self.process, thin, failed[family], candidates, links))
        if not leaders:
            said = f"{question}: too few runs or failures are left to say."
            return (SensitivityLine(question, None, False, None, said),)
        same = sum(bool(self.known & {one.column, *one.alike}) for one in leaders)
        commonest = Counter(one.column for one in leaders).most_common(1)[0][0]
        still = same > len(leaders) // 2
        first = self.first.column if still else commonest
        words = f"still first in {same} of {len(leaders)} such logs"
        others = Counter(
            one.column for one in leaders if not self.known & {one.column, *one.alike}
        ).most_common(1)
        if others:
            words += f"; {self._label(others[0][0])} in {others[0][1]}"
        return (SensitivityLine(question, first, still, None, f"{question}: {words}."),)

    def _contenders(self) -> tuple[Candidate, ...]:
        """
        Return the factors that come first in the whole log: no other is likely to replace it.

        What is tied to the calendar there stays behind a first factor that is not.
        """
        behind = () if self.first.evidence == "calendar" else ("calendar",)
        links = [
            link
            for link in self.links
            if link.evidence not in behind or self.candidates[link.factor].name in self.known
        ]
        ordered = sorted(links, key=self._known_and_strong_first)[:CONTENDERS]
        return tuple(self.candidates[factor] for factor in sorted(link.factor for link in ordered))

    def _known_and_strong_first(self, link: Link) -> tuple[bool, float]:
        return self.candidates[link.factor].name not in self.known, -link.strength

    def _screened(
        self,
        runs: RunTable,
        failed: Mapping[str, np.ndarray],
        candidates: tuple[Candidate, ...],
        strata: np.ndarray,
        permutations: int,
        rng: np.random.Generator,
    ) -> tuple[Link, ...]:
        outcomes = Outcomes(runs.tested, failed, runs.operator, runs.week)
        orders = draw_orders(strata, permutations, rng)
        return screen(outcomes, candidates, orders)[self.first.family]

    def _what_is_left(self, candidates: tuple[Candidate, ...], links: tuple[Link, ...]) -> str:
        """Say what evidence is left for the factor that no longer comes first."""
        column = self.first.column
        found = [link.evidence for link in links if candidates[link.factor].name == column]
        return f"; for {self._label(column)} there is {LEFT[found[0]]}" if found else ""

    def _label(self, column: str) -> str:
        return named(self.process.parameter(column))


def _most_outside(first: Factor, runs: RunTable, places: np.ndarray) -> int:
    """Return the operator most often outside the first factor's window, the first without one."""
    outside = np.zeros(len(runs), dtype=bool)
    if first.window is not None and first.column in runs.numbers.columns:
        values = runs.numbers[first.column].to_numpy(dtype=float)
        if first.window.lower is not None:
            outside |= values < first.window.lower
        if first.window.upper is not None:
            outside |= values > first.window.upper
    counts = np.bincount(places)
    # One or two runs, or a name spelled another way, are nobody's habit.
    known = counts >= min(FEWEST_RUNS_OF_ONE, counts.max())
    return int(np.argmax(np.where(known, np.bincount(places, weights=outside) / counts, -1.0)))


def _most_beyond_average(failed: np.ndarray, tested: np.ndarray, places: np.ndarray) -> int:
    """Return the group with the most failures beyond what its chips would have on average."""
    rate = failed.sum() / tested.sum()
    return int(np.argmax(np.bincount(places, weights=failed - rate * tested)))


def _without_groups(asked: _Asked) -> list[SensitivityLine]:
    """Leave out the worst mould, lot or machine of each column that groups runs."""
    lines: list[SensitivityLine] = []
    runs = asked.runs
    for column in list(runs.categories.columns):
        if len(lines) == MOST_GROUPINGS or column in ("operator", "run_id", "chip_id"):
            continue
        parameter = asked.process.parameter(str(column))
        words = runs.categories[column].astype(str).to_numpy()
        names, places = np.unique(words, return_inverse=True)
        if parameter.role != "identity" or len(names) < 2:
            continue
        worst = names[_most_beyond_average(asked.failed[asked.first.family], runs.tested, places)]
        if not worst:
            continue
        question = f"Without {in_sentence(parameter.label)} {worst}"
        lines.append(asked.subset(question, words != worst))
    return lines


def _before_the_last_month(runs: RunTable) -> tuple[str, np.ndarray]:
    dated = ~np.isnat(runs.started_at)
    if dated.any():
        last = runs.started_at[dated].max()
        recent = dated & (runs.started_at > last - MONTH)
        if not recent[dated].all():
            return "Without the last month", ~recent
    return "Without the last quarter of the runs", np.arange(len(runs)) < LAST_QUARTER * len(runs)
