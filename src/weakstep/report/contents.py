"""What the page and the summary say, worked out from a Review, ready for a template."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from weakstep.report import drift_sentences, sentences
from weakstep.report.blocks import blocks, runs_table
from weakstep.report.figures.failures import failures_in_time, modes, worse_periods
from weakstep.report.figures.operators import who_ran
from weakstep.report.figures.ranking import EVIDENCE, ranking, steps
from weakstep.report.history import history
from weakstep.report.models import models
from weakstep.report.names import Names
from weakstep.report.places_map import places_map
from weakstep.report.plot import Plot
from weakstep.report.quality import quality
from weakstep.report.tallies import evened_out, measured, pairs, step_yields, suspected
from weakstep.report.words import (
    count,
    level,
    listed,
    moment,
    p_value,
    percent,
    percent_range,
    sentence,
)

if TYPE_CHECKING:
    from weakstep.failures.model import Factor
    from weakstep.process.model import Caution
    from weakstep.reviewing import Review

# How much the page lists where the tables beside it hold everything: (cells of the table of runs,
# rows of any other list).
MANY_DRIFTS = 8  # beyond, those that are not sure are folded away
LONG, SHORT = (6000, 100), (900, 25)


def contents(review: Review, *, title: str | None = None, short: bool = False) -> dict[str, Any]:
    """
    Return everything that is said, by the names the templates use.

    Parameters
    ----------
    review : Review
    title : str, optional
        Heading; left out, the process names it.
    short : bool
        Whether lists stop early.
    """
    cells, rows = SHORT if short else LONG
    log, analysis = review.log, review.failures
    names = Names(log.process)
    all_blocks = blocks(review, short=short)
    chart = review.failure_chart
    has_points = chart is not None and len(chart.labels) > 1
    return {
        "review": review,
        "title": title or log.process.title,
        "made_at": moment(review.made_at),
        "names": names,
        "process": log.process,
        "action": sentences.action(analysis.verdict, _first_factor(review)),
        "read": sentences.what_was_read(review),
        "outcome": sentences.outcome(review),
        "worse_periods": worse_periods(chart) if chart is not None and has_points else "",
        "suggested": _suggested(review, names),
        "rankings": _rankings(review, names),
        "steps": steps(names, analysis.steps) if analysis.steps else None,
        "moved": drift_sentences.moved(review.drifts),
        "drifts": _drifts(review, names),
        "many_drifts": len(review.drifts.drifts) > MANY_DRIFTS,
        "stable": _steady(review, names),
        "who": who_ran(log.runs, evened_out(analysis.tally, "operator")),
        "together": drift_sentences.together(names, log.runs, review.drifts.together),
        "places": places_map(names, analysis.tally),
        "step_yields": step_yields(names, analysis.tally),
        "suspected": suspected(names, analysis.suspicions),
        "pairs": pairs(analysis.interactions),
        "measured": [measured(names, outcome) for outcome in analysis.measured],
        "firm": sentences.firmness(names, analysis),
        "unsure": sentences.unlogged_cause(analysis),
        "too_little": _too_little(review, names),
        "failures_in_time": failures_in_time(
            log.process.item, log.process.items, chart, review.events
        )
        if has_points and chart is not None
        else None,
        "history": history(names, review.history),
        "failure_notes": [names.in_items(note) for note in chart.chart.notes] if chart else [],
        "modes": modes(names, analysis.tally)
        if any(mode.count for mode in analysis.tally.modes)
        else None,
        "blocks": all_blocks,
        "open_blocks": [block for block in all_blocks if block.open],
        "closed_blocks": [block for block in all_blocks if not block.open],
        "runs": runs_table(review, cells) if len(log.runs) else None,
        "quality": quality(review, rows),
        "cautions": _cautions(review),
        "models": models(names, analysis.models),
        "trial": _trial(review, names),
    }


def plots(context: dict[str, Any]) -> list[Plot]:
    """Return every figure of the contents, in the order of the page."""
    found = [ranking["plot"] for ranking in context["rankings"]]
    found += [context[name] for name in ("steps", "who", "failures_in_time", "modes")]
    found += [context["history"]["plot"]] if context["history"] else []
    found += [plot for block in context["blocks"] for plot in block.plots]
    return [plot for plot in found if plot is not None]


def _first_factor(review: Review) -> Factor | None:
    verdict = review.failures.verdict
    wanted = (verdict.family, verdict.column)
    return next((f for f in review.failures.factors if (f.family, f.column) == wanted), None)


def _suggested(review: Review, names: Names) -> dict[str, Any] | None:
    factor = _first_factor(review)
    if factor is None or review.failures.verdict.action == "log_more":
        return None
    parameter = names.parameter(factor.column)
    inside = factor.share_inside
    saving = sentences.saving(review, factor)
    if factor.evidence == "calendar":
        saving = f"Not known before it is varied on purpose. {saving}"
    return {
        "label": names.label(factor.column),
        "window": names.window(factor.column, factor.window),
        "inside": ""
        if inside is None
        else f"{percent(inside)} of past runs were inside it already.",
        "saving": saving,
        "takes": sentences.holding(names, factor),
        "check_first": parameter.check_first if parameter else "",
        "evidence": sentences.evidence(factor.evidence, factor.p),
        "alike": sentences.alike(names, factor),
        "surprise": sentences.surprise(names, factor),
    }


def _rankings(review: Review, names: Names) -> list[dict[str, Any]]:
    found = []
    for family in dict.fromkeys(factor.family for factor in review.failures.factors):
        mine = [factor for factor in review.failures.factors if factor.family == family]
        label = names.failures(family)
        claimed = [f for f in mine if f.evidence != "none"]
        found.append(
            {
                "label": label,
                "lead": _ranking_lead(names, label, mine, claimed),
                "plot": ranking(names, family, mine),
                "claimed": [_claim(names, factor) for factor in claimed],
                "open": any(f.evidence in ("strong", "calendar") for f in mine)
                or family == review.failures.verdict.family,
            }
        )
    if found and not any(ranking["open"] for ranking in found):
        found[0]["open"] = True
    return found


def _claim(names: Names, factor: Factor) -> tuple[str, ...]:
    share = factor.preventable_share
    return (
        names.label(factor.column),
        names.step(factor.step),
        f"{percent(share.estimate)} ({level(share)}: {percent_range(share)})",
        names.window(factor.column, factor.window) or "–",
        p_value(factor.p),
        EVIDENCE[factor.evidence][0],
    )


def _ranking_lead(
    names: Names, label: str, factors: Sequence[Factor], claimed: Sequence[Factor]
) -> str:
    tried = f"{count(len(factors), 'parameter')} tried against {label}"
    if not claimed:
        return sentence(f"{tried}; nothing stands out yet")
    strong = [names.label(f.column) for f in claimed if f.evidence == "strong"]
    calendar = [names.label(f.column) for f in claimed if f.evidence == "calendar"]
    some = [names.label(f.column) for f in claimed if f.evidence == "some"]
    parts = []
    if strong:
        parts.append(f"strong evidence for {listed(strong)}")
    if calendar:
        parts.append(f"{listed(calendar)} linked but tied to the calendar")
    if some:
        parts.append(f"some evidence for {listed(some)}")
    rest = len(factors) - len(claimed)
    if rest:
        parts.append(f"no evidence for the other {rest if rest > 1 else 'one'}")
    return sentence(f"{tried}: {'; '.join(parts)}")


def _drifts(review: Review, names: Names) -> list[dict[str, Any]]:
    found = []
    for drift in review.drifts.drifts:
        parameter = names.parameter(drift.column)
        shown = drift.evidence != "none" and drift.form != "cycle"
        found.append(
            {
                "label": names.label(drift.column),
                "sentence": drift_sentences.drift(names, review.log.runs, drift),
                "matters": drift_sentences.consequence(
                    names, drift, review.matters.get(drift.column, ())
                ),
                "near": drift_sentences.near(
                    names, review.log.runs, drift, review.worth_checking.get(drift.column, ())
                )
                if shown
                else "",
                "evidence": drift_sentences.drift_evidence(drift),
                "check_first": parameter.check_first if parameter and shown else "",
                "column": drift.column,
                "sure": drift.evidence == "strong",
            }
        )
    return found


def _too_little(review: Review, names: Names) -> list[str]:
    """Return what could not be judged, a phrase per reason."""
    by_reason: dict[str, list[str]] = {}
    for column, reason in review.drifts.too_little:
        by_reason.setdefault(reason, []).append(names.label(column))
    return [f"{listed(labels)} ({reason})" for reason, labels in by_reason.items()]


def _steady(review: Review, names: Names) -> tuple[str, ...]:
    return tuple(names.label(column) for column, _ in review.drifts.stable)


def _cautions(review: Review) -> list[Caution]:
    wanted = {caution.name for caution in review.log.process.cautions if caution.always}
    trial = review.next_trial
    for column in (review.failures.verdict.column, trial.column if trial else None):
        if column is not None and review.log.process.has(column):
            wanted |= set(review.log.process.parameter(column).cautions)
    return [caution for caution in review.log.process.cautions if caution.name in wanted]


def _trial(review: Review, names: Names) -> dict[str, str]:
    """Return what to try next; `size` stands only beside a planned trial."""
    trial, verdict = review.next_trial, review.failures.verdict
    if trial is None:
        return {"sentence": sentences.next_step(names, verdict), "size": ""}
    size = (
        ""
        if trial.column is None
        else (
            f"A false yes has a chance of {percent(trial.alpha)}. Decide the order by lot, "
            f"and mix both ways within each day."
        )
    )
    return {"sentence": trial.sentence, "size": size}
