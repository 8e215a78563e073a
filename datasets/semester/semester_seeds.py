"""In how many other semesters of the same line weakstep finds what was planted."""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from make_semester import write_semester

if TYPE_CHECKING:
    from weakstep.reviewing import Review

EXPOSURE = {"plasma_s", "plasma_dose_j"}
WEIGHING = {"ratio", "base_g", "agent_g"}
MOVED = {"pumpdown_s", "cure_c", "equivalent_cure"}
WORN = {"punch_holes"}


def planted_and_found(review: Review) -> dict[str, bool]:
    """Return, for each planted thing and each possible wrong word, whether the review says it."""
    strong = {factor.column for factor in review.failures.factors if factor.evidence == "strong"}
    claimed = {
        factor.column
        for factor in review.failures.factors
        if factor.evidence in ("strong", "calendar")
    }
    drifted = {drift.column: drift for drift in review.drifts.drifts if drift.evidence == "strong"}
    cycles = {drift.column for drift in review.drifts.drifts if drift.form == "cycle"}
    swapped = {drift.column for drift in drifted.values() if drift.form == "outliers"} & WEIGHING
    verdict = review.failures.verdict
    return {
        "delay: strong": "delay_s" in strong,
        "exposure: strong": bool(EXPOSURE & strong),
        "both: strong": "delay_s" in strong and bool(EXPOSURE & strong),
        "verdict: tighten delay or exposure": verdict.action == "tighten"
        and verdict.column in EXPOSURE | {"delay_s"},
        "weighing: guilty to a rank test": _guilty_to_a_rank_test(review),
        "weighing: acquitted": not WEIGHING & claimed,
        "pump-down: drifted": "pumpdown_s" in drifted,
        "oven: stepped": "cure_c" in drifted and drifted["cure_c"].form == "step",
        "oil and punch: cycles shown": {"oil_hours", "punch_holes"} <= cycles,
        "WRONG: an innocent is strong": bool(strong - EXPOSURE - WORN - {"delay_s"}),
        "WRONG: a stable parameter drifted": bool(set(drifted) - MOVED - cycles - swapped),
    }


def _guilty_to_a_rank_test(review: Review) -> bool:
    """Whether ratios of failed and of good chips differ at 5 %, operators ignored."""
    from scipy import stats

    chips = review.log.chips
    known = chips[chips["ratio"].notna() & (chips["made"] > 0)]
    failed = known["failed"] > 0
    test = stats.mannwhitneyu(known.loc[failed, "ratio"], known.loc[~failed, "ratio"])
    return bool(test.pvalue < 0.05)


def print_findings(seeds: Iterable[int]) -> None:
    """Make, read and review a semester per seed; print the counts."""
    from weakstep.process.load import load_process
    from weakstep.reviewing import review
    from weakstep.runlog.read import read_log

    counts: Counter[str] = Counter()
    tried = 0
    for seed in seeds:
        with tempfile.TemporaryDirectory() as folder:
            write_semester(Path(folder), seed)
            log = read_log(Path(folder) / "logs", load_process())
        found = planted_and_found(review(log))
        counts.update({name: int(said) for name, said in found.items()})
        tried += 1
        print(f"seed {seed}: not so: {[name for name, said in found.items() if not said]}")
    for name, count in counts.items():
        print(f"{count:3d} of {tried}  {name}")
