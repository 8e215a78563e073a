"""The history of a review for other programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from weakstep.report.numbers import interval, number
from weakstep.trials.comparison_data import comparison_dict

if TYPE_CHECKING:
    import numpy as np

    from weakstep.semesters.model import ChangeOutcome, FamilyTrend, History, Semester


def history_found(found: History | None) -> dict[str, Any] | None:
    """Return semesters, trends and changes as the README documents them."""
    if found is None:
        return None
    return {
        "told_by": found.told_by or None,
        "semesters": [_semester(one) for one in found.semesters],
        "trends": [_trend(one) for one in found.trends],
        "changes": [_change(one) for one in found.changes],
    }


def _semester(one: Semester) -> dict[str, Any]:
    return {
        "name": one.name,
        "first_day": _day(one.first),
        "last_day": _day(one.last),
        "runs": one.runs,
        "chips": one.tested,
        "failed": [{"family": name, "count": count} for name, count in one.failed.items()],
    }


def _day(day: np.datetime64) -> str | None:
    text = str(day)
    return None if text == "NaT" else text


def _trend(one: FamilyTrend) -> dict[str, Any]:
    return {
        "family": one.family,
        "rates": [interval(rate) for rate in one.rates],
        "odds_per_semester": interval(one.odds_per_semester),
        "p": number(one.luck),
        "p_differ": number(one.differ),
    }


def _change(one: ChangeOutcome) -> dict[str, Any]:
    change = one.change
    return {
        "date": str(change.date),
        "change": change.what,
        "column": change.column,
        "step": change.step,
        "family": change.family,
        "window": None if change.window is None else list(change.window),
        "from_review": change.from_review,
        "place": change.place,
        "comparison": None if one.comparison is None else comparison_dict(one.comparison),
        "sentence": one.sentence,
    }
