"""A Review as one page of HTML that works from a file, offline and without JavaScript."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from weakstep.report import sentences
from weakstep.report.blocks import blocks, runs_table
from weakstep.report.figure_html import still
from weakstep.report.figures.failures import failures_in_time, modes
from weakstep.report.figures.in_time import run_labels
from weakstep.report.figures.ranking import ranking, steps
from weakstep.report.models import models
from weakstep.report.names import Names
from weakstep.report.plot import Plot
from weakstep.report.quality import quality
from weakstep.report.words import (
    capital,
    count,
    kept_together,
    listed,
    percent,
    sentence,
)
from weakstep.report.zoom import packed, packed_specs

if TYPE_CHECKING:
    from jinja2 import Environment

    from weakstep.failures.model import Factor
    from weakstep.process.model import Caution
    from weakstep.reviewing import Review

MOST_CELLS = 6000


def page(review: Review, *, zoom: bool = True) -> str:
    """
    Return the whole page as HTML.

    Parameters
    ----------
    review : Review
    zoom : bool
        Whether the figures can be zoomed, which puts plotly into the page (2 MB); every finding
        and every figure is there without it.

    Returns
    -------
    str
        One self-contained document: no request to anywhere.
    """
    context = _context(review)
    plots = _plots(context)
    drawable = zoom and bool(plots)
    context["zoom_library"] = packed_plotly() if drawable else ""
    context["zoom_figures"] = packed_specs(plots, run_labels(review.log.runs)) if drawable else ""
    return environment().get_template("page.html").render(context)


@cache
def environment() -> Environment:
    """Return the template environment; every text is escaped unless it is our own markup."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("weakstep.report"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
    )
    made.filters["count"] = count
    made.filters["sentence"] = sentence
    made.filters["kept"] = kept_together
    made.filters["capital"] = capital
    made.globals["still"] = still
    made.globals["css"] = _own("report.css")
    made.globals["script"] = _own("report.js")
    return made


@cache
def packed_plotly() -> str:
    """Return plotly's own browser library, packed."""
    from plotly.offline import get_plotlyjs

    return packed(get_plotlyjs())


def _own(name: str) -> str:
    return (files("weakstep.report") / "templates" / name).read_text(encoding="utf-8")


def _plots(context: dict[str, Any]) -> list[Plot]:
    found = [context["steps"], context["failures_in_time"], context["modes"]]
    found += [ranking["plot"] for ranking in context["rankings"]]
    found += [plot for block in context["blocks"] for plot in block.plots]
    return [plot for plot in found if plot is not None]


def _context(review: Review) -> dict[str, Any]:
    log, analysis = review.log, review.failures
    names = Names(log.process)
    all_blocks = blocks(review)
    chart = review.failure_chart
    has_points = chart is not None and len(chart.labels) > 0
    return {
        "review": review,
        "names": names,
        "process": log.process,
        "action": sentences.ACTION_WORDS[analysis.verdict.action],
        "read": sentences.what_was_read(review),
        "outcome": sentences.outcome(review),
        "suggested": _suggested(review, names),
        "rankings": _rankings(review, names),
        "steps": steps(names, analysis.steps) if analysis.steps else None,
        "moved": sentences.moved(review.drifts),
        "drifts": _drifts(review, names),
        "stable": _steady(review, names),
        "too_little": [
            f"{names.label(column)} ({reason})" for column, reason in review.drifts.too_little
        ],
        "failures_in_time": failures_in_time(log.process.item, log.process.items, chart)
        if has_points and chart is not None
        else None,
        "failure_notes": chart.chart.notes if chart is not None else (),
        "modes": modes(names, analysis.tally)
        if any(mode.count for mode in analysis.tally.modes)
        else None,
        "blocks": all_blocks,
        "open_blocks": [block for block in all_blocks if block.open],
        "closed_blocks": [block for block in all_blocks if not block.open],
        "runs": runs_table(review, MOST_CELLS) if len(log.runs) else None,
        "quality": quality(review),
        "cautions": _cautions(review),
        "models": models(names, analysis.models),
        "trial": _trial(review, names),
    }


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
    return {
        "label": names.label(factor.column),
        "window": names.window(factor.column, factor.window),
        "inside": ""
        if inside is None
        else f"{percent(inside)} of past runs were inside it already.",
        "saving": sentences.saving(review, factor),
        "takes": parameter.tightening if parameter else "",
        "check_first": parameter.check_first if parameter else "",
        "evidence": sentences.evidence(factor.evidence, factor.p),
        "alike": sentences.alike(names, factor),
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
                "open": any(f.evidence in ("strong", "calendar") for f in mine)
                or family == review.failures.verdict.family,
            }
        )
    if found and not any(ranking["open"] for ranking in found):
        found[0]["open"] = True
    return found


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
        parts.append(f"no evidence against the other {rest if rest > 1 else 'one'}")
    return sentence(f"{tried}: {'; '.join(parts)}")


def _drifts(review: Review, names: Names) -> list[dict[str, str]]:
    found = []
    for drift in review.drifts.drifts:
        parameter = names.parameter(drift.column)
        shown = drift.evidence != "none" and drift.form != "cycle"
        found.append(
            {
                "label": names.label(drift.column),
                "sentence": sentences.drift(names, review.log.runs, drift),
                "evidence": sentences.drift_evidence(drift),
                "check_first": parameter.check_first if parameter and shown else "",
                "column": drift.column,
            }
        )
    return found


def _steady(review: Review, names: Names) -> str:
    labels = [names.label(column) for column, _ in review.drifts.stable]
    return sentence(f"held steady: {listed(labels)}") if labels else ""


def _cautions(review: Review) -> list[Caution]:
    wanted = {caution.name for caution in review.log.process.cautions if caution.always}
    trial = review.next_trial
    for column in (review.failures.verdict.column, trial.column if trial else None):
        if column is not None and review.log.process.has(column):
            wanted |= set(review.log.process.parameter(column).cautions)
    return [caution for caution in review.log.process.cautions if caution.name in wanted]


def _trial(review: Review, names: Names) -> dict[str, str] | None:
    trial = review.next_trial
    if trial is None:
        return None
    size = (
        ""
        if trial.column is None
        else (
            f"A false yes has a chance of {percent(trial.alpha)}. Decide the order by lot, "
            f"and mix both ways within each day."
        )
    )
    return {"sentence": trial.sentence, "size": size}
