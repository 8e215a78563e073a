"""The baseline that new runs are watched against, and the file that keeps it."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from weakstep.errors import LogError

if TYPE_CHECKING:
    from pathlib import Path

_FAMILY = "weakstep.baseline/"
SCHEMA = _FAMILY + "4"
FILE = "baseline.json"
FAILURES, JOINT, EVERY = "failures", "joint", "all"
OTHERS = "others"


@dataclass(frozen=True)
class WatchedColumn:
    """
    One parameter of the baseline.

    Attributes
    ----------
    values : tuple of float
        Run means in time order, in the parameter's unit.
    on_log : bool
        Whether their logarithms are scored.
    normal : bool
        Whether they look normal on that scale, so that mean and standard deviation score them;
        else ranks do.
    memories : tuple of float
        Chances that neighbours correlate by 0, 0.1, ... 0.9.
    middle, step : float
        Of the values on that scale: a middle one, and what they are coarsely rounded to, else 0.
    limit : float
        Of the evidence that it moved.
    """

    values: tuple[float, ...]
    on_log: bool
    normal: bool
    memories: tuple[float, ...]
    middle: float
    step: float
    limit: float


@dataclass(frozen=True)
class WatchedFailures:
    """
    Failures of the baseline, and one of the sums that they are watched by.

    Attributes
    ----------
    families : tuple of str
        One, or all those too rare for a chart of their own.
    failed, tested : int
    for_failed, for_good, limit : int
        What a failed chip adds and a good one takes away; a sum above the limit signals.
    """

    families: tuple[str, ...]
    failed: int
    tested: int
    for_failed: int
    for_good: int
    limit: int

    @property
    def chart(self) -> str:
        """Name of the chart."""
        return f"{FAILURES}:{self.families[0] if len(self.families) == 1 else OTHERS}"


@dataclass(frozen=True)
class WatchedJoint:
    """
    Parameters watched together, by their scores.

    Attributes
    ----------
    columns : tuple of str
    covariance : tuple of tuples of float
        Of their scores within the baseline.
    points : int
        Complete runs behind it.
    chance : float
        Of a false alarm a run.
    """

    columns: tuple[str, ...]
    covariance: tuple[tuple[float, ...], ...]
    points: int
    chance: float


@dataclass(frozen=True)
class Baseline:
    """
    What `weakstep watch` holds new runs against; written by `weakstep review`.

    Attributes
    ----------
    process, process_sha256 : str
    inputs : tuple of (file, sha256)
    runs : tuple of (run, moment)
        Those of the baseline, so that they are not watched again.
    semester : int
        Runs for which the chance of a false alarm is stated.
    chance : float
        Of any false alarm within them, over all charts.
    columns : mapping of str to WatchedColumn
    failures : tuple of WatchedFailures
        Two a chart: one chart a family with at least 3 failures, the others share one.
    joint : WatchedJoint or None
    not_watched : mapping of str to str
        Why a number is not watched.
    window : tuple or None
        (column, lower, upper) of the verdict, if it named one.
    sha256 : str
        Of all the rest.
    """

    process: str
    process_sha256: str
    inputs: tuple[tuple[str, str], ...]
    runs: tuple[tuple[str, str], ...]
    semester: int
    chance: float
    columns: dict[str, WatchedColumn]
    failures: tuple[WatchedFailures, ...]
    joint: WatchedJoint | None
    not_watched: dict[str, str]
    window: tuple[str, float | None, float | None] | None
    sha256: str


def _content(baseline: Baseline) -> dict[str, Any]:
    content = asdict(baseline)
    content.pop("sha256")
    return {"schema": SCHEMA, **content}


def hashed(baseline: Baseline) -> Baseline:
    """Return the baseline with the hash of its content."""
    text = json.dumps(_content(baseline), sort_keys=True, ensure_ascii=False)
    return replace(baseline, sha256=hashlib.sha256(text.encode()).hexdigest())


def baseline_json(baseline: Baseline) -> str:
    """Return the baseline for `read_baseline`, schema weakstep.baseline/4."""
    content = {**_content(baseline), "sha256": baseline.sha256}
    return json.dumps(content, indent=1, ensure_ascii=False) + "\n"


def read_baseline(path: Path) -> Baseline:
    """
    Read a baseline that `baseline_json` wrote.

    Raises
    ------
    LogError
        The file is missing, no baseline, of another version, or was changed by hand.
    """
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
        schema = found.pop("schema")
        if schema != SCHEMA and schema.startswith(_FAMILY):
            msg = (
                f"{path}: this baseline is of another version of weakstep (found '{schema}', "
                f"expected '{SCHEMA}'); make a new one by a review."
            )
            raise LogError(msg)
        if schema != SCHEMA:
            raise KeyError(SCHEMA)
        baseline = _built(found)
    except OSError as reason:
        msg = (
            f"{path}: the baseline cannot be read ({reason.strerror}); 'weakstep review' writes it."
        )
        raise LogError(msg) from reason
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as reason:
        msg = f"{path}: this is no baseline that 'weakstep review' wrote; make a new one with it."
        raise LogError(msg) from reason
    if hashed(baseline).sha256 != baseline.sha256:
        msg = f"{path}: the baseline was changed since it was written; make a new one by a review."
        raise LogError(msg)
    return baseline


def _built(found: dict[str, Any]) -> Baseline:
    columns = {
        name: WatchedColumn(
            **(one | {"values": tuple(one["values"]), "memories": tuple(one["memories"])})
        )
        for name, one in found.pop("columns").items()
    }
    failures = found.pop("failures")
    window = found.pop("window")
    return Baseline(
        inputs=tuple((one[0], one[1]) for one in found.pop("inputs")),
        runs=tuple((one[0], one[1]) for one in found.pop("runs")),
        columns=columns,
        failures=tuple(
            WatchedFailures(**(one | {"families": tuple(one["families"])})) for one in failures
        ),
        joint=_built_joint(found.pop("joint")),
        window=(window[0], window[1], window[2]) if window else None,
        **found,
    )


def _built_joint(found: dict[str, Any] | None) -> WatchedJoint | None:
    if found is None:
        return None
    return WatchedJoint(
        tuple(found["columns"]),
        tuple(tuple(row) for row in found["covariance"]),
        found["points"],
        found["chance"],
    )
