"""An invented analysis of failures, built by hand; nothing in it was measured."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from invented_log import NUMBERS

from weakstep.failures.model import (
    Curve,
    Factor,
    FailureAnalysis,
    FailureModel,
    GroupCount,
    ModeCount,
    PlaceCount,
    SensitivityLine,
    StepRank,
    StepYield,
    Suspicion,
    Tally,
    Term,
    TighteningCurve,
    Verdict,
    Window,
)
from weakstep.interval import Interval
from weakstep.runlog.model import (
    RunLog,
)


def build_factor(
    log: RunLog, column: str, rank: int, evidence: str, family: str = "bond"
) -> Factor:
    """Return an invented factor whose curve rises over the logged range."""
    values = log.runs.numbers[column].to_numpy()
    grid = np.linspace(np.nanmin(values), np.nanmax(values), 40)
    rise = 0.08 + 0.5 / (1 + np.exp(-8 * ((grid - grid[0]) / (grid[-1] - grid[0]) - 0.5)))
    strong = evidence in ("strong", "calendar")
    share = Interval(0.35, 0.1, 0.55, 0.9) if strong else Interval(0.2 / rank, 0.0, 0.4 / rank, 0.9)
    met = np.array([float(np.mean(values[np.isfinite(values)] <= limit)) for limit in grid])
    curve = Curve(grid, rise, rise * 0.6, np.minimum(rise * 1.5, 1.0), 0.9)
    tight = TighteningCurve("upper", grid, 0.05 + 0.6 * rise, 0.4 * rise, rise, met, 0.9)
    unit = log.process.parameter(column).unit
    return Factor(
        family=family,
        column=column,
        step=log.process.parameter(column).step,
        rank=rank,
        preventable_share=share,
        window=Window(None, float(np.nanmedian(values)) + 0.04, unit) if strong else None,
        share_inside=0.61 if strong else None,
        shape="rises above 60 s" if strong else "rises",
        odds_ratio=Interval(2.1, 1.2, 3.7, 0.95),
        per="per doubling",
        p=0.004 if strong else min(1.0, 0.2 + 0.05 * rank),
        p_week=0.01 if strong else None,
        p_calendar=0.004 if strong else None,
        evidence=evidence,
        alike=("press_s",) if column == "delay_s" else (),  # type: ignore[arg-type]
        missing=0.14 if column == "rh_pct" else 0.0,
        surprising=False,
        curve=curve,
        tightening=(tight,),
    )


def build_tally(log: RunLog) -> Tally:
    """Return the counts of the invented log, with made-up intervals around the true shares."""
    tested = int(log.runs.tested.sum())
    bond, port = int(log.runs.failed["bond"].sum()), int(log.runs.failed["port"].sum())

    def around(count: int) -> Interval:
        share = count / tested if tested else 0.0
        return Interval(share, max(0.0, share - 0.04), min(1.0, share + 0.05), 0.95)

    return Tally(
        tested,
        bond + port,
        4,
        around(bond + port),
        (
            ModeCount("leak", "bond", bond, around(bond)),
            ModeCount("tear", "port", port, around(port)),
        ),
        {"bond": around(bond), "port": around(port)},
        groups=tuple(
            GroupCount(column, str(name), 80, 12, around(bond), around(bond))
            for column, names in (
                ("operator", np.unique(log.runs.operator)),
                ("mould_id", np.unique(log.runs.categories["mould_id"])),
            )
            for name in names
        ),
        places=(
            PlaceCount("corner", 7, None, None, Interval(0.7, 0.4, 0.9, 0.95)),
            PlaceCount("port", 3, 1, 0, Interval(0.3, 0.1, 0.6, 0.95)),
        ),
        steps=(
            StepYield("plasma", 6.5, Interval(0.98, 0.95, 0.99, 0.95), 0.98),
            StepYield("contact", 9.0, Interval(0.97, 0.94, 0.98, 0.95), 0.95),
        ),
    )


def build_failures(log: RunLog) -> FailureAnalysis:
    """Return an invented analysis that suggests to tighten the delay."""
    order = ["delay_s", "press_s", "plasma_s", "rh_pct"]
    order += [name for name, *_ in NUMBERS if name not in order]
    levels: Mapping[str, str] = {"delay_s": "strong", "press_s": "calendar", "plasma_s": "some"}
    factors = tuple(
        build_factor(log, name, rank, levels.get(name, "none"))
        for rank, name in enumerate(order, 1)
    )
    factors = (*factors, build_factor(log, "punch_holes", 1, "none", "port"))
    window = factors[0].window
    step_share = (Interval(0.36, 0.11, 0.56, 0.9), Interval(0.12, 0.0, 0.3, 0.9))
    return FailureAnalysis(
        tally=build_tally(log),
        factors=factors,
        steps=(
            StepRank("bond", "contact", 1, step_share[0], "strong"),
            StepRank("bond", "plasma", 2, step_share[1], "some"),
        ),
        models=(
            FailureModel(
                "bond",
                (
                    Term(
                        "delay_s",
                        Interval(0.74, 0.18, 1.31, 0.95),
                        Interval(2.1, 1.2, 3.7, 0.95),
                        "per doubling",
                        0.004,
                    ),
                ),
                (("delay_s", 0.76, 0.28),),
                (),
                Interval(0.71, 0.62, 0.79, 0.95),
                0.12,
                0.93,
                ("Operators enter as random effects.",),
            ),
        ),
        verdict=Verdict(
            "tighten",
            "bond",
            "contact",
            "delay_s",
            window,
            "Tighten contact first: keep the delay from plasma to contact below 45 s.",
        ),
        notes=("The cure family has no failures: nothing to rank there.",),
        sensitivity=(
            SensitivityLine(
                "Without the last month", "delay_s", True, "strong",
                "Without the last month: still first (strong evidence).",
            ),
            SensitivityLine(
                "Without mould M3", "press_s", False, "some",
                "Without mould M3: the pressing time comes first instead (some evidence).",
            ),
        ),
        suspicions=(
            Suspicion("leak", "bond", "plasma", 3, "none", Interval(0.0, 0.0, 0.2, 0.9),
                      "plasma_s", 0.7, "none"),
            Suspicion("leak", "bond", "contact", 2, "strong", Interval(0.36, 0.11, 0.56, 0.9),
                      "delay_s", 0.002, "strong"),
            Suspicion("leak", "bond", "ambient", 0, "none", Interval(0.0, 0.0, 0.2, 0.9)),
            Suspicion("leak", "bond", "cure", 1, "none", Interval(0.0, 0.0, 0.2, 0.9)),
            Suspicion("tear", "port", "plasma", 0, None, None),
            Suspicion("tear", "port", "contact", 1, None, None),
        ),
    )  # fmt: skip
