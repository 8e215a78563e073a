"""The reported failure models as tables and sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from weakstep.report.names import Names
from weakstep.report.plot import Table
from weakstep.report.words import listed, p_value, plain, sentence

if TYPE_CHECKING:
    from weakstep.failures.model import FailureModel
    from weakstep.interval import Interval


@dataclass(frozen=True)
class Model:
    """
    One model as the page shows it.

    Attributes
    ----------
    label : str
        The failures it is about.
    terms, unpenalised : Table or None
    checks : str
        How it did on runs left out, "" when that was not tried.
    separated : str
        Which parameters separate good from failed, "" when none.
    notes : tuple of str
    """

    label: str
    terms: Table | None
    unpenalised: Table | None
    checks: str
    separated: str
    notes: tuple[str, ...]


def models(names: Names, found: Sequence[FailureModel]) -> tuple[Model, ...]:
    """Return every reported model, ready for the page."""
    return tuple(
        Model(
            names.failures(model.family),
            _terms(names, model),
            _unpenalised(names, model),
            _checks(model),
            _separated(names, model),
            model.notes,
        )
        for model in found
    )


def _terms(names: Names, model: FailureModel) -> Table | None:
    if not model.terms:
        return None
    level = f"{model.terms[0].coefficient.level * 100:g} %"
    return Table(
        f"Model of {names.failures(model.family)}",
        ("term", "coefficient", "odds ratio", "per", "p"),
        tuple(
            (
                names.label(term.name),
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


def _unpenalised(names: Names, model: FailureModel) -> Table | None:
    if not model.unpenalised:
        return None
    return Table(
        "The same model without penalty",
        ("term", "coefficient", "standard error"),
        tuple(
            (names.label(name), f"{value:.4f}", f"{error:.4f}")
            for name, value, error in model.unpenalised
        ),
        (False, True, True),
    )


def _checks(model: FailureModel) -> str:
    said = []
    if model.auc is not None:
        said.append(f"chance that a failed run is ranked above a good one (AUC) {model.auc:.2f}")
    if model.brier is not None:
        said.append(f"Brier score {model.brier:.3f}")
    if model.calibration_slope is not None:
        said.append(f"calibration slope {model.calibration_slope:.2f} (1 is ideal)")
    return f"Tested on runs left out of the fit: {sentence(listed(said))}" if said else ""


def _separated(names: Names, model: FailureModel) -> str:
    if not model.separated:
        return ""
    labels = listed([names.label(column) for column in model.separated])
    verb = "separates" if len(model.separated) == 1 else "separate"
    return f"{sentence(labels).removesuffix('.')} {verb} good from failed completely."
