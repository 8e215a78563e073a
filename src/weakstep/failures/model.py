"""What the failure analysis says: tallies, ranked factors and steps, models, the verdict."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from weakstep.failures.further_model import CalibrationGroup as CalibrationGroup
from weakstep.failures.further_model import Interaction as Interaction
from weakstep.failures.further_model import MeasuredLink as MeasuredLink
from weakstep.failures.further_model import MeasuredOutcome as MeasuredOutcome
from weakstep.failures.further_model import Needed as Needed
from weakstep.failures.further_model import OddsByRoad as OddsByRoad
from weakstep.failures.further_model import SensitivityLine as SensitivityLine
from weakstep.failures.tally_model import GroupCount as GroupCount
from weakstep.failures.tally_model import ModeCount as ModeCount
from weakstep.failures.tally_model import PlaceCount as PlaceCount
from weakstep.failures.tally_model import StepYield as StepYield
from weakstep.failures.tally_model import Suspicion as Suspicion
from weakstep.failures.tally_model import Tally as Tally

if TYPE_CHECKING:
    import numpy as np

    from weakstep.interval import Interval

Evidence = Literal["strong", "calendar", "some", "none"]
Action = Literal["tighten", "look_closer", "log_more"]


@dataclass(frozen=True)
class Window:
    """Range a parameter should be held in, in its unit; None for an open end."""

    lower: float | None
    upper: float | None
    unit: str


@dataclass(frozen=True, eq=False)
class Curve:
    """
    Failure probability against one parameter, other things as logged.

    Attributes
    ----------
    values : array, shape (n_points,)
        In the parameter's unit, within the logged range.
    estimate, lower, upper : array, shape (n_points,)
        Failure probability and its band.
    level : float
    """

    values: np.ndarray
    estimate: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    level: float


@dataclass(frozen=True, eq=False)
class TighteningCurve:
    """
    What holding a parameter to a limit would do, for every possible limit on one side.

    Attributes
    ----------
    side : {"upper", "lower"}
    limits : array, shape (n_points,)
        In the parameter's unit.
    rate, lower, upper : array, shape (n_points,)
        Failure rate to expect with every run held to the limit, and its band.
    share_met : array, shape (n_points,)
        Share of past runs that would have met the limit.
    level : float
    """

    side: Literal["upper", "lower"]
    limits: np.ndarray
    rate: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    share_met: np.ndarray
    level: float


@dataclass(frozen=True, eq=False)
class Factor:
    """
    One parameter against one failure family.

    Attributes
    ----------
    family, column, step : str
    rank : int
        1 for the factor most linked to failures of the family.
    preventable_share : Interval
        Share of the family's failures (0 to 1).
    window : Window or None
        None when the parameter has no window that would prevent anything.
    share_inside : float or None
        Share of past runs already inside the window.
    shape : str
        "rises", "falls", "rises above q", "away from the middle" ... a plain phrase.
    odds_ratio : Interval or None
    per : str
        What the odds ratio is per ("per 10 s", "per doubling", "yes against no").
    p : float
        Family-wise, over all parameters, shapes and families of the review.
    p_week, p_calendar : float or None
        The two calendar gates; None when not needed.
    evidence : Evidence
    alike : tuple of str
        Parameters that this log cannot tell apart from it.
    missing : float
        Share of runs in which it was not logged.
    surprising : bool
        Failures rise in the direction opposite to what the description expects (`worse_when`).
    curve : Curve or None
    tightening : tuple of TighteningCurve
    level : str
        Of a category: what would have prevented the share, "without M3" or "with M1 alone".
    """

    family: str
    column: str
    step: str
    rank: int
    preventable_share: Interval
    window: Window | None
    share_inside: float | None
    shape: str
    odds_ratio: Interval | None
    per: str
    p: float
    p_week: float | None
    p_calendar: float | None
    evidence: Evidence
    alike: tuple[str, ...]
    missing: float
    surprising: bool
    curve: Curve | None
    tightening: tuple[TighteningCurve, ...]
    level: str = ""


@dataclass(frozen=True)
class StepRank:
    """One step against one failure family: all its parameters held in their windows at once."""

    family: str
    step: str
    rank: int
    preventable_share: Interval
    evidence: Evidence


@dataclass(frozen=True)
class Term:
    """One coefficient of a reported model, on the logit scale and as an odds ratio."""

    name: str
    coefficient: Interval
    odds_ratio: Interval
    per: str
    p: float


@dataclass(frozen=True, eq=False)
class FailureModel:
    """
    The penalised logistic model reported for one family.

    Attributes
    ----------
    family : str
    terms : tuple of Term
        Firth-penalised; profile intervals.
    unpenalised : tuple of (name, coefficient, standard error) or None
        The ordinary maximum-likelihood fit of the same model, None when it does not exist.
    separated : tuple of str
        Columns that separate good from failed completely.
    auc : Interval or None
        Area under the ROC curve.
    brier, calibration_slope : float or None
        These three by grouped cross-validation with runs kept together; None when there is too
        little data.
    notes : tuple of str
    roads : tuple of OddsByRoad
        The factors' odds ratios by other roads.
    calibration : tuple of CalibrationGroup
        Foretold against observed, by fifths of the chips; empty when there is too little data.
    """

    family: str
    terms: tuple[Term, ...]
    unpenalised: tuple[tuple[str, float, float], ...] | None
    separated: tuple[str, ...]
    auc: Interval | None
    brier: float | None
    calibration_slope: float | None
    notes: tuple[str, ...] = ()
    roads: tuple[OddsByRoad, ...] = ()
    calibration: tuple[CalibrationGroup, ...] = ()


@dataclass(frozen=True)
class Verdict:
    """
    What to do first.

    Attributes
    ----------
    action : Action
    family, step, column : str or None
    window : Window or None
    sentence : str
        The verdict in one sentence a novice understands.
    """

    action: Action
    family: str | None
    step: str | None
    column: str | None
    window: Window | None
    sentence: str


@dataclass(frozen=True, eq=False)
class FailureAnalysis:
    """
    Everything about failures in one log.

    Attributes
    ----------
    tally : Tally
    factors : tuple of Factor
        All families; ordered by evidence, then by test statistic; acquitted ones included.
    steps : tuple of StepRank
    models : tuple of FailureModel
    verdict : Verdict
    notes : tuple of str
        What could not be done and why, a sentence each.
    sensitivity : tuple of SensitivityLine
        How the first place bears up; empty when nothing was ranked.
    suspicions : tuple of Suspicion
        Modes that occurred (most frequent first) x steps (in working order).
    interactions : tuple of Interaction
        Listed pairs that this log can be asked about.
    measured : tuple of MeasuredOutcome
    needed : Needed or None
        How long a log would show a doubling; None when something stands out, or nothing can be
        asked.
    """

    tally: Tally
    factors: tuple[Factor, ...]
    steps: tuple[StepRank, ...]
    models: tuple[FailureModel, ...]
    verdict: Verdict
    notes: tuple[str, ...] = field(default=())
    sensitivity: tuple[SensitivityLine, ...] = ()
    suspicions: tuple[Suspicion, ...] = ()
    interactions: tuple[Interaction, ...] = ()
    measured: tuple[MeasuredOutcome, ...] = ()
    needed: Needed | None = None
