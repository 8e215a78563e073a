"""What the failure analysis says beyond the ranking: pairs, measured outcomes, sensitivity."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from weakstep.failures.model import Evidence
    from weakstep.interval import Interval


@dataclass(frozen=True)
class Interaction:
    """
    A pair of parameters that the description lists as plausibly acting together.

    Attributes
    ----------
    family : str
    columns : pair of str
    p : float
        Family-wise over listed pairs and families, with both parameters allowed for alone.
    evidence : Evidence
        "strong" at p <= 0.01, "some" at p <= 0.30; pairs share the review's budget of 0.05 with
        the parameters, which have the other 0.04.
    sentence : str
    """

    family: str
    columns: tuple[str, str]
    p: float
    evidence: Evidence
    sentence: str


@dataclass(frozen=True)
class OddsByRoad:
    """
    One odds ratio of a reported model, by several roads; None where a road does not reach it.

    Attributes
    ----------
    name, per : str
        As in the model's terms.
    adjusted : Interval
        Beside who ran it and the other columns, penalised: the reported one.
    alone : Interval or None
        Neither operators nor other columns in the model, penalised.
    with_time : Interval or None
        As adjusted, beside the two calendar curves that failures follow most closely.
    clustered : Interval or None
        As adjusted, unpenalised, runs as clusters (GEE, exchangeable, bias-reduced sandwich).
    """

    name: str
    per: str
    adjusted: Interval
    alone: Interval | None
    with_time: Interval | None
    clustered: Interval | None


@dataclass(frozen=True)
class CalibrationGroup:
    """
    Chips whose foretold failure rate was alike, in runs left out of the fit.

    Attributes
    ----------
    foretold : float
        Mean of the foretold rates.
    observed : Interval
        Share that failed; Wilson 95 %.
    chips : int
    """

    foretold: float
    observed: Interval
    chips: int


@dataclass(frozen=True)
class MeasuredLink:
    """
    One parameter against a measured outcome.

    Attributes
    ----------
    column, step : str
    p : float
        Family-wise over the parameters and shapes tried against this outcome, beside those that
        were claimed before it.
    evidence : Evidence
        As for failures: "strong" at p <= 0.05 (0.02 from the second on) with both gates passed.
    shape : str
        How early failures depend on it: "rises above 60 s" means lower values of the outcome.
    p_week, p_calendar : float or None
        The two calendar gates; None when not needed.
    alike : tuple of str
        Parameters that this log cannot tell apart from it.
    """

    column: str
    step: str
    p: float
    evidence: Evidence
    shape: str
    p_week: float | None = None
    p_calendar: float | None = None
    alike: tuple[str, ...] = ()


@dataclass(frozen=True)
class MeasuredOutcome:
    """
    A number that says how well a chip held: burst pressure, time to failure.

    Attributes
    ----------
    column : str
    failed, held : int
        Chips that failed at a value, and chips that held to it or failed elsewhere (censored).
    median : float or None
        Kaplan-Meier; None when more than half held to the largest value.
    weibull_shape, weibull_scale : float
        Most likely Weibull distribution, censoring allowed for; the scale in the column's unit.
    links : tuple of MeasuredLink
        Most linked first.
    """

    column: str
    failed: int
    held: int
    median: float | None
    weibull_shape: float
    weibull_scale: float
    links: tuple[MeasuredLink, ...]


@dataclass(frozen=True)
class SensitivityLine:
    """
    Whether the first factor stays first when the log had been another one.

    Attributes
    ----------
    question : str
        What was changed ("Without the last month").
    first : str or None
        Column that comes first then; None when too little is left to say.
    still_first : bool
        Whether that is the review's first factor, or one alike to it; for the only factor of a
        log, whether it is still linked.
    evidence : Evidence or None
        Of what comes first then; None where only the order was looked at.
    sentence : str
        The line to print.
    """

    question: str
    first: str | None
    still_first: bool
    evidence: Evidence | None
    sentence: str


@dataclass(frozen=True)
class Needed:
    """
    Runs that would show a parameter across whose range the failure rate doubles.

    Attributes
    ----------
    family : str
        The one with the most failures.
    ratio : float
        Failure rate of the runs in the upper half of the parameter's logged values over that of
        the runs in the lower half.
    rate_low, rate_high : float
        Failure rates of the two halves; together they make the log's own.
    parameters : int
        In which it was planted, one at a time.
    power : float
        Chance, over these parameters, that it stands out with strong evidence.
    power_now : float
        The same with the runs logged so far.
    runs : Interval or None
        In all; None when not even a log 40 times as long would do.
    further : Interval or None
        Beyond those logged; 0 when the log is long enough.
    """

    family: str
    ratio: float
    rate_low: float
    rate_high: float
    parameters: int
    power: float
    power_now: float
    runs: Interval | None
    further: Interval | None
