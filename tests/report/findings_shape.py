"""The documented keys of findings.json, their order and kinds, and what departs from them."""

from __future__ import annotations

from typing import Any

NUMBER = (int, float)
MAYBE_NUMBER = (int, float, type(None))
MAYBE_TEXT = (str, type(None))
INTERVAL = {"estimate": NUMBER, "lower": NUMBER, "upper": NUMBER, "level": NUMBER}
WINDOW = {"lower": MAYBE_NUMBER, "upper": MAYBE_NUMBER, "unit": str}
RUN = {"run_id": str, "started_at": MAYBE_TEXT}


class Maybe:
    """Null, or the shape inside."""

    def __init__(self, shape: Any) -> None:
        self.shape = shape


SHAPE: dict[str, Any] = {
    "schema": str,
    "weakstep": str,
    "made_at": MAYBE_TEXT,
    "seed": int,
    "inputs": [{"file": str, "sha256": str, "rows": int}],
    "process": {"name": str, "sha256": str},
    "log": {
        "rows_read": int,
        "rows_used": int,
        "rows_set_aside": int,
        "cells_read_with_care": int,
        "problems": [
            {
                "file": str,
                "line": (int, type(None)),
                "column": MAYBE_TEXT,
                "found": MAYBE_TEXT,
                "code": str,
                "message": str,
                "action": str,
            }
        ],
    },
    "outcomes": {
        "chips": int,
        "failed": int,
        "untested": int,
        "rate": Maybe(INTERVAL),
        "modes": [{"mode": str, "family": str, "count": int, "share": NUMBER}],
    },
    "drifts": [
        {
            "column": str,
            "step": MAYBE_TEXT,
            "form": str,
            "since": RUN,
            "since_interval": [RUN],
            "before": MAYBE_NUMBER,
            "after": MAYBE_NUMBER,
            "unit": MAYBE_TEXT,
            "p": MAYBE_NUMBER,
            "evidence": str,
        }
    ],
    "factors": [
        {
            "family": str,
            "column": str,
            "step": str,
            "rank": int,
            "preventable_share": INTERVAL,
            "window": Maybe(WINDOW),
            "effect": {"shape": str, "odds_ratio": Maybe(INTERVAL), "per": str},
            "p": MAYBE_NUMBER,
            "evidence": str,
            "alike": [str],
        }
    ],
    "steps": [
        {"family": str, "step": str, "rank": int, "preventable_share": INTERVAL, "evidence": str}
    ],
    "verdict": {
        "action": str,
        "family": MAYBE_TEXT,
        "step": MAYBE_TEXT,
        "column": MAYBE_TEXT,
        "window": Maybe(WINDOW),
        "sentence": str,
    },
    "next_trial": Maybe(
        {
            "column": MAYBE_TEXT,
            "family": MAYBE_TEXT,
            "runs_per_arm": int,
            "rate_now": NUMBER,
            "rate_hoped": NUMBER,
            "power": NUMBER,
            "alpha": NUMBER,
            "sentence": str,
        }
    ),
    "events": [{"name": str, "kind": str, "date": MAYBE_TEXT, "columns": [str]}],
    "history": Maybe(
        {
            "told_by": MAYBE_TEXT,
            "semesters": [
                {
                    "name": str,
                    "first_day": MAYBE_TEXT,
                    "last_day": MAYBE_TEXT,
                    "runs": int,
                    "chips": int,
                    "failed": [{"family": str, "count": int}],
                }
            ],
            "trends": [
                {
                    "family": str,
                    "rates": [Maybe(INTERVAL)],
                    "odds_per_semester": Maybe(INTERVAL),
                    "p": NUMBER,
                    "p_differ": MAYBE_NUMBER,
                }
            ],
            "changes": [
                {
                    "date": str,
                    "change": str,
                    "column": MAYBE_TEXT,
                    "step": MAYBE_TEXT,
                    "family": MAYBE_TEXT,
                    "window": Maybe([MAYBE_NUMBER]),
                    "from_review": MAYBE_TEXT,
                    "place": str,
                    "comparison": (dict, type(None)),
                    "sentence": str,
                }
            ],
        }
    ),
    "charts": [
        {
            "column": str,
            "centre": NUMBER,
            "lower": MAYBE_NUMBER,
            "upper": MAYBE_NUMBER,
            "sigma": NUMBER,
            "sigma_from": str,
            "degrees_of_freedom": MAYBE_NUMBER,
            "signals": int,
            "false_alarm": NUMBER,
            "level_differs_by": MAYBE_TEXT,
            "notes": [str],
        }
    ],
    "tolerances": [
        {
            "column": str,
            "lower": MAYBE_NUMBER,
            "upper": MAYBE_NUMBER,
            "unit": str,
            "values": int,
            "outside": int,
            "outside_expected": MAYBE_NUMBER,
            "method": str,
            "cp": Maybe(INTERVAL),
            "cpk": Maybe(INTERVAL),
            "pp": Maybe(INTERVAL),
            "ppk": Maybe(INTERVAL),
            "refused": MAYBE_TEXT,
        }
    ],
    "models": [
        {
            "family": str,
            "terms": [
                {
                    "name": str,
                    "coefficient": INTERVAL,
                    "odds_ratio": INTERVAL,
                    "per": str,
                    "p": NUMBER,
                }
            ],
            "unpenalised": [
                {"name": str, "coefficient": MAYBE_NUMBER, "standard_error": MAYBE_NUMBER}
            ],
            "roads": [
                {
                    "name": str,
                    "per": str,
                    "adjusted": INTERVAL,
                    "alone": Maybe(INTERVAL),
                    "with_time": Maybe(INTERVAL),
                    "clustered": Maybe(INTERVAL),
                }
            ],
            "separated": [str],
            "auc": Maybe(INTERVAL),
            "brier": MAYBE_NUMBER,
            "calibration_slope": MAYBE_NUMBER,
            "calibration": [{"foretold": NUMBER, "observed": INTERVAL, "chips": int}],
            "notes": [str],
        }
    ],
    "suspicions": [
        {
            "mode": str,
            "family": str,
            "step": str,
            "suspected": int,
            "evidence": MAYBE_TEXT,
            "column": MAYBE_TEXT,
            "mode_p": MAYBE_NUMBER,
            "mode_evidence": MAYBE_TEXT,
        }
    ],
    "measured": [
        {
            "column": str,
            "failed": int,
            "held": int,
            "median": MAYBE_NUMBER,
            "weibull_shape": NUMBER,
            "weibull_scale": NUMBER,
            "links": [
                {
                    "column": str,
                    "step": str,
                    "shape": str,
                    "p": NUMBER,
                    "p_week": MAYBE_NUMBER,
                    "p_calendar": MAYBE_NUMBER,
                    "evidence": str,
                }
            ],
        }
    ],
    "needed": Maybe(
        {
            "family": str,
            "ratio": NUMBER,
            "rate_low": NUMBER,
            "rate_high": NUMBER,
            "power": NUMBER,
            "power_now": NUMBER,
            "further_runs": Maybe(INTERVAL),
        }
    ),
}


def misfits(found: Any, shape: Any = SHAPE, where: str = "") -> list[str]:
    """Return where *found* departs from *shape*: wrong keys, wrong order, wrong kind."""
    if isinstance(shape, Maybe):
        return [] if found is None else misfits(found, shape.shape, where)
    if isinstance(shape, dict):
        if not isinstance(found, dict) or list(found) != list(shape):
            return [f"{where}: keys {list(found)}"]
        return [
            fault for key in shape for fault in misfits(found[key], shape[key], f"{where}.{key}")
        ]
    if isinstance(shape, list):
        if not isinstance(found, list):
            return [f"{where}: not a list"]
        return [
            fault
            for place, item in enumerate(found)
            for fault in misfits(item, shape[0], f"{where}[{place}]")
        ]
    fits = isinstance(found, shape) and not isinstance(found, bool)
    return [] if fits else [f"{where}: {found!r}"]
