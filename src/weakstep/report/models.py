"""The reported failure models as tables and sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from weakstep.report.names import Names
from weakstep.report.plot import Table
from weakstep.report.words import listed, p_value, percent, plain, sentence, share_words

if TYPE_CHECKING:
    from weakstep.failures.model import FailureModel
    from weakstep.interval import Interval


@dataclass(frozen=True)
class Model:
    """
    One model as the page shows it.

    Attributes
    ----------
    title : str
        The failures it is about; numbered when a family has several models.
    terms, unpenalised : Table or None
    roads : Table or None
        The factors' odds ratios by other roads.
    checks : str
        How it did on runs left out, "" when that was not tried.
    calibration : Table or None
    separated : str
        Which parameters separate good from failed, "" when none.
    notes : tuple of str
    """

    title: str
    terms: Table | None
    unpenalised: Table | None
    roads: Table | None
    checks: str
    calibration: Table | None
    separated: str
    notes: tuple[str, ...]


def models(names: Names, found: Sequence[FailureModel]) -> tuple[Model, ...]:
    """Return every reported model, ready for the page."""
    made = []
    for place, model in enumerate(found):
        alike = [other for other in found if other.family == model.family]
        title = f"Model of {names.failures(model.family)}"
        if len(alike) > 1:
            before = sum(other.family == model.family for other in found[:place])
            title += f", {before + 1} of {len(alike)}"
        made.append(
            Model(
                title,
                _terms(names, model, title),
                _unpenalised(names, model, title),
                _roads(names, model, title),
                _checks(model),
                _calibration(names, model, title),
                _separated(names, model),
                tuple(names.in_words(note) for note in model.notes),
            )
        )
    return tuple(made)


def _terms(names: Names, model: FailureModel, title: str) -> Table | None:
    if not model.terms:
        return None
    level = f"{model.terms[0].coefficient.level * 100:g} %"
    return Table(
        title,
        ("term", "coefficient", "odds ratio", "per", "p"),
        tuple(
            (
                names.in_words(term.name),
                _with_ends(term.coefficient),
                _with_ends(term.odds_ratio),
                term.per,
                p_value(term.p),
            )
            for term in model.terms
        ),
        (False, True, True, False, True),
        f"In brackets the {level} profile interval.",
    )


def _with_ends(value: Interval) -> str:
    return f"{plain(value.estimate)} ({plain(value.lower)} to {plain(value.upper)})"


def _unpenalised(names: Names, model: FailureModel, title: str) -> Table | None:
    if not model.unpenalised:
        return None
    return Table(
        f"{title}, without penalty",
        ("term", "coefficient", "standard error"),
        tuple(
            (names.in_words(name), plain(value, 4), plain(error, 4))
            for name, value, error in model.unpenalised
        ),
        (False, True, True),
    )


def _roads(names: Names, model: FailureModel, title: str) -> Table | None:
    if not model.roads:
        return None
    level = f"{model.roads[0].adjusted.level * 100:g} %"
    return Table(
        f"{title}: the same odds ratios by other roads",
        ("parameter", "per", "beside who ran it", "alone", "allowing for time", "runs as clusters"),
        tuple(
            (
                names.in_words(road.name),
                road.per,
                *(
                    _with_ends(odds) if odds else "–"
                    for odds in (road.adjusted, road.alone, road.with_time, road.clustered)
                ),
            )
            for road in model.roads
        ),
        (False, False, True, True, True, True),
        f"In brackets the {level} interval. Where “alone” differs from “beside who ran it”, who "
        "ran it explains part of the link; where “allowing for time” differs, the calendar does. "
        f"“Runs as clusters” lets the {names.process.items} of a run fail together in any way "
        "(generalised estimating equations, without penalty). A dash: this log does not reach it.",
    )


def _calibration(names: Names, model: FailureModel, title: str) -> Table | None:
    if not model.calibration:
        return None
    return Table(
        f"{title}: foretold and observed, in runs left out of the fit",
        ("foretold", "observed", names.process.items),
        tuple(
            (
                percent(group.foretold),
                share_words(group.observed),
                str(group.chips),
            )
            for group in model.calibration
        ),
        (True, True, True),
        "In brackets the 95 % interval.",
    )


def _checks(model: FailureModel) -> str:
    said = []
    if model.auc is not None:
        area = model.auc
        said.append(
            f"chance that a failed one is ranked above a good one (AUC) {area.estimate:.2f} "
            f"({percent(area.level)} interval: {area.lower:.2f} to {area.upper:.2f})"
        )
    if model.brier is not None:
        said.append(f"Brier score {model.brier:.3f}")
    if model.calibration_slope is not None:
        said.append(f"calibration slope {model.calibration_slope:.2f} (1 is ideal)")
    return f"Tested on runs left out of the fit: {listed(said)}." if said else ""


def _separated(names: Names, model: FailureModel) -> str:
    if not model.separated:
        return ""
    labels = listed([names.in_words(column) for column in model.separated])
    verb = "separates" if len(model.separated) == 1 else "separate"
    return f"{sentence(labels).removesuffix('.')} {verb} good from failed completely."
