"""One block per parameter: what it did, how it is linked to failures, what holding it takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from weakstep.report import drift_sentences, sentences
from weakstep.report.by_value import by_value, values_in_words
from weakstep.report.chart_words import chart_details, tolerance_line
from weakstep.report.figures.effect import against_failure, flat_words, is_flat, tightening
from weakstep.report.figures.happenings import happenings
from weakstep.report.figures.in_time import in_time
from weakstep.report.figures.yes_no import share_of_yes, yes_no_in_time
from weakstep.report.names import Names
from weakstep.report.plot import Plot, Table
from weakstep.report.words import count, grouped, percent, plain, sentence

if TYPE_CHECKING:
    from weakstep.drift.model import Drift
    from weakstep.failures.model import Factor, TighteningCurve
    from weakstep.reviewing import Review
    from weakstep.runlog.model import RunTable

MOST_OPEN = 6
ORDER = {"strong": 0, "calendar": 1, "some": 2, "none": 3}


@dataclass(frozen=True)
class Block:
    """
    Everything the page says about one parameter.

    Attributes
    ----------
    column, label, step : str
    status : str
        One line: moved or not, linked or not.
    text : tuple of str
        Paragraphs.
    plots : tuple of Plot
    table : Table or None
        Counts by value, for a category.
    open : bool
        Whether the block stands open on the page.
    details : tuple of str
        What stands behind the limits: sigma, fitness for a chart, stages, capability.
    """

    column: str
    label: str
    step: str
    status: str
    text: tuple[str, ...]
    plots: tuple[Plot, ...]
    table: Table | None
    open: bool
    details: tuple[str, ...] = ()


def blocks(review: Review, *, short: bool = False) -> tuple[Block, ...]:
    """
    Return a block for every parameter of the log, the most telling ones first and open.

    In short, a curve that is flat is told in words instead of drawn.
    """
    names = Names(review.log.process)
    columns = list(dict.fromkeys([*map(str, review.log.runs.numbers), *_best(review)]))
    ranks = {column: _urgency(review, column, place) for place, column in enumerate(columns)}
    ordered = sorted(columns, key=lambda column: ranks[column])
    notable = [column for column in ordered if ranks[column][0] < ORDER["some"]][:MOST_OPEN]
    return tuple(_block(review, names, column, column in notable, short) for column in ordered)


def _best(review: Review) -> dict[str, Factor]:
    found: dict[str, Factor] = {}
    for factor in review.failures.factors:
        known = found.get(factor.column)
        if known is None or _strength(factor) < _strength(known):
            found[factor.column] = factor
    return found


def _strength(factor: Factor) -> tuple[int, float]:
    return ORDER[factor.evidence], factor.p


def _drift_of(review: Review, column: str) -> Drift | None:
    return next((drift for drift in review.drifts.drifts if drift.column == column), None)


def _urgency(review: Review, column: str, place: int) -> tuple[int, float, int]:
    factor, drift = _best(review).get(column), _drift_of(review, column)
    level = ORDER[factor.evidence] if factor is not None else ORDER["none"]
    if drift is not None and drift.form != "cycle" and drift.evidence in ("strong", "some"):
        level = min(level, ORDER["calendar"] if drift.evidence == "strong" else ORDER["some"])
    p = factor.p if factor is not None and np.isfinite(factor.p) else 1.0
    return level, p, place


def _block(review: Review, names: Names, column: str, is_open: bool, short: bool) -> Block:
    factor, drift = _best(review).get(column), _drift_of(review, column)
    runs = review.log.runs
    parameter = names.parameter(column)
    chart = review.charts.get(column)
    drawn: list[Plot | None] = []
    happened = happenings(review, names, column)
    if chart is not None:
        drawn.append(in_time(names, column, chart[0], runs, drift, happened))
    elif names.is_yes_no(column) and column in runs.numbers:
        drawn.append(yes_no_in_time(names, column, runs, drift, happened))
    text = _text(review, names, column, factor, drift)
    if factor is not None and short and factor.evidence == "none" and is_flat(factor):
        text = (*text, flat_words(names, factor))
    elif factor is not None:
        drawn.append(against_failure(names, factor, runs))
    if factor is not None and factor.evidence != "none" and not names.is_yes_no(column):
        # For a parameter without evidence the curve would invite tightening what does not matter.
        drawn += [tightening(names, factor, curve) for curve in _sides(factor)]
    groups, step = values_in_words(names, runs, column), ""
    if parameter and parameter.step:
        step = names.step(parameter.step)
    return Block(
        column,
        names.label(column),
        step if step.lower() != names.label(column).lower() else "",
        _status(review, factor, drift, column),
        text,
        tuple(plot for plot in drawn if plot is not None),
        by_value(review, names, column, groups) if groups is not None else None,
        is_open,
        chart_details(names, review, column),
    )


def _sides(factor: Factor) -> list[TighteningCurve]:
    """Return the curves of the sides on which the window ends; all of them without a window."""
    window = factor.window
    if window is None:
        return list(factor.tightening)
    ends = {"lower": window.lower, "upper": window.upper}
    return [curve for curve in factor.tightening if ends[curve.side] is not None]


def _status(review: Review, factor: Factor | None, drift: Drift | None, column: str) -> str:
    if drift is not None and drift.form == "cycle":
        moved = "follows its service rhythm" if drift.cycle_lengths else "counts up with use"
    elif drift is not None and drift.evidence != "none":
        moved = f"{'moved' if drift.evidence == 'strong' else 'may have moved'} ({drift.form})"
    elif column in dict(review.drifts.stable):
        moved = "held steady"
    else:
        moved = "not judged for drift"
    # A mould or a lot has no level that could move.
    before = "" if column in review.log.runs.categories else f"{moved}; "
    if factor is None:
        return f"{before}not modelled against failures"
    linked = {
        "strong": "strongly linked to failures",
        "calendar": "linked to failures, but tied to the calendar",
        "some": "perhaps linked to failures",
        "none": "no link to failures found",
    }[factor.evidence]
    return f"{before}{linked}"


def _text(
    review: Review, names: Names, column: str, factor: Factor | None, drift: Drift | None
) -> tuple[str, ...]:
    runs = review.log.runs
    said = [_summary(names, runs, column)]
    if drift is not None:
        said.append(drift_sentences.drift(names, runs, drift))
    said.append(tolerance_line(names, column, review.tolerances.get(column)))
    # That a yes or no has no limits is said below its figure.
    no_chart = None if names.is_yes_no(column) else review.not_charted.get(column)
    for reason in (no_chart, dict(review.drifts.too_little).get(column)):
        if reason:
            said.append(sentence(reason))
    if factor is not None and factor.evidence != "none":
        said.append(_window_words(review, names, factor))
        said.append(sentences.alike(names, factor))
        said.append(sentences.surprise(names, factor))
    if factor is not None and factor.missing > 0.005 and column not in runs.numbers:
        said.append(f"It was not logged in {percent(factor.missing)} of the runs.")
    return tuple(dict.fromkeys(filter(None, (*said, _actions(names, column, factor, drift)))))


def _actions(names: Names, column: str, factor: Factor | None, drift: Drift | None) -> str:
    parameter = names.parameter(column)
    linked = factor is not None and factor.evidence != "none"
    said = []
    if parameter and parameter.check_first and (linked or drift is not None):
        said.append(f"Check first: {sentence(parameter.check_first)}")
    takes = sentences.holding(names, factor) if factor is not None and linked else ""
    if takes:
        said.append(f"What holding it takes: {sentence(takes)}")
    return " ".join(said)


def _window_words(review: Review, names: Names, factor: Factor) -> str:
    window = names.window(factor.column, factor.window)
    if window:
        return f"Window: {window}. {sentences.saving(review, factor)}"
    return sentences.saving(review, factor) if factor.level else ""


def _summary(names: Names, runs: RunTable, column: str) -> str:
    if column not in runs.numbers:
        return ""
    values = runs.numbers[column].to_numpy(dtype=float)
    if names.is_yes_no(column):
        return share_of_yes(names, values)
    known = values[np.isfinite(values)]
    if not len(known):
        return "It was never logged."
    low, middle, high = np.quantile(known, [0.1, 0.5, 0.9])
    every = (
        "every run"
        if len(known) == len(values)
        else f"{grouped(len(known))} of {count(len(values), 'run')}"
    )
    return (
        f"Median {names.value(column, middle)}; four runs in five between "
        f"{names.bare(column, low)} and {names.value(column, high)}; "
        f"logged in {every}."
    )


def runs_table(review: Review, cells: int) -> Table:
    """Return every value of the first runs, within a number of cells: what the charts show."""
    names, runs = Names(review.log.process), review.log.runs
    columns = [str(column) for column in runs.numbers]
    most = max(1, cells // (4 + len(runs.failed) + len(columns)))
    values = runs.numbers.to_numpy(dtype=float)[:most]
    head = (
        "run",
        "date",
        "operator",
        "tested",
        *(f"failed: {names.family(f)}" for f in runs.failed),
    )
    rows = []
    for i, row in enumerate(values.tolist()):
        moment = np.datetime64(runs.started_at[i], "m")
        who = (
            str(runs.run_id[i]),
            "" if np.isnat(moment) else str(moment)[:10],
            str(runs.operator[i]),
        )
        fates = (str(int(runs.tested[i])), *(str(int(part[i])) for part in runs.failed.values()))
        numbers = (_cell(names, column, value) for column, value in zip(columns, row, strict=True))
        rows.append((*who, *fates, *numbers))
    note = ""
    if len(runs) > most:
        note = (
            f"The first {plain(most, 0)} of {len(runs)} runs; all of them are in tables/runs.csv."
        )
    return Table(
        "Every run",
        (*head, *(names.with_unit(column) for column in columns)),
        tuple(rows),
        (False, False, False, *([True] * (1 + len(runs.failed) + len(columns)))),
        note,
    )


def _cell(names: Names, column: str, value: float) -> str:
    return names.bare(column, value) if np.isfinite(value) else ""
