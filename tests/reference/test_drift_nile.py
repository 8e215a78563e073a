"""
Annual flow of the Nile at Aswan, 1871 to 1970: it fell after 1898.

G. W. Cobb (1978), The problem of the Nile: conditional solution to a changepoint problem,
Biometrika 65, 243-251: means 1097.75 before and 849.97 after (from memory of the paper). Data:
data/nile_1871_1970.csv, public.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from weakstep.drift.describe import describe, profiles
from weakstep.drift.screen import screen

with (Path(__file__).parent / "data" / "nile_1871_1970.csv").open(encoding="utf-8") as lines:
    ROWS = list(csv.DictReader(lines))
YEARS = np.array([int(float(row["year"])) for row in ROWS])
FLOW = np.array([float(row["volume"]) for row in ROWS])
NOBODY = np.zeros(100, dtype=np.intp)


def test_description_finds_1899_as_the_first_changed_year() -> None:
    """The change is a step, the first changed year 1899, and the means are those published."""
    found = describe(FLOW, np.arange(100), NOBODY, phi=0.0, log_scale=False)
    assert found.form == "step"
    assert YEARS[found.since] == 1899
    first, last = (YEARS[place] for place in found.since_interval)
    assert 1893 <= first <= 1899 <= last <= 1903
    assert FLOW[: found.since].mean() == pytest.approx(1097.75, abs=5e-3)
    assert FLOW[found.since :].mean() == pytest.approx(849.97, abs=5e-3)
    assert found.before == np.median(FLOW[:28])
    assert found.after == np.median(FLOW[28:])


def test_profile_gain_is_the_least_squares_gain() -> None:
    """The step's best gain is 100 log(RSS0/RSS) with RSS 1597457.2 for a split after 1898."""
    step = profiles(FLOW, NOBODY, 0.0)[0]
    total = ((FLOW - FLOW.mean()) ** 2).sum()
    assert step.best == pytest.approx(100 * np.log(total / 1597457.2), abs=1e-5)


def test_screen_calls_the_nile_strong() -> None:
    """Among nineteen stable series the Nile is the one that is called, as a step since 1899."""
    calm = np.random.default_rng(1).normal(size=(100, 19))
    numbers = pd.DataFrame(np.column_stack([FLOW, calm]), columns=[f"c{i}" for i in range(20)])
    drifts = screen(numbers, seed=1).drifts
    assert [drift.column for drift in drifts if drift.evidence == "strong"] == ["c0"]
    assert (drifts[0].form, YEARS[drifts[0].since]) == ("step", 1899)
