"""The baseline of each parameter: what counts as normal, gaps, limits that parameters share."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.watching.columns import score_table, watched_columns
from weakstep.watching.limits import evidence_limit, share_of


def share_normal(rows: np.ndarray) -> float:
    """Return the share of rows that are scored by mean and standard deviation."""
    columns = watched_columns([(False, row) for row in rows], 100, 0.04)
    return float(np.mean([column.normal for column in columns]))


def test_what_looks_normal() -> None:
    """
    300 baselines of 100 values: seven normal ones in ten or more, few of the rest.

    Student's t with 3 degrees has heavy tails: at most one in ten. Gamma with shape 2 is skewed on
    either scale: at most three in twenty. The standard error of a share is at most 0.03.
    """
    rng = np.random.default_rng(51)
    assert share_normal(rng.normal(size=(300, 100))) >= 0.7
    assert share_normal(rng.standard_t(3, size=(300, 100))) <= 0.1
    assert share_normal(rng.gamma(2.0, size=(300, 100))) <= 0.15


def test_gaps_are_passed_over() -> None:
    """A gap takes no part: the column is that of the logged values, its row of scores has a gap."""
    rng = np.random.default_rng(52)
    whole = rng.normal(10.0, 1.0, 60)
    gaps = np.insert(whole, [10, 30], np.nan)
    with_gaps, without = (watched_columns([(False, row)], 60, 0.04)[0] for row in (gaps, whole))
    assert with_gaps == without
    table = score_table([with_gaps], [gaps])
    assert np.flatnonzero(np.isnan(table[:, 0])).tolist() == [0, 10, 31]
    assert table[~np.isnan(table)] == pytest.approx(score_table([without], [whole])[1:, 0])


def test_parameters_that_move_together_share_their_limits() -> None:
    """Ten times the same parameter is one chart: limits of the whole chance, not of a tenth."""
    row = np.random.default_rng(53).normal(size=80)
    same = watched_columns([(False, row)] * 10, 80, 0.04)[0]
    one = evidence_limit(80, 0.04)
    tenth = evidence_limit(80, share_of(0.04, 1.0, 10))
    assert same.limit == pytest.approx(one, rel=0.05)
    assert same.limit < 0.2 * tenth


def test_nothing_to_watch() -> None:
    """No parameter, no column."""
    assert watched_columns([], 80, 0.04) == []


def test_large_numbers_whose_logarithms_are_alike() -> None:
    """Numbers of 15 digits that differ by a few are watched as they are."""
    values = 9.5e14 + np.random.default_rng(54).integers(0, 5, 60)
    assert np.ptp(np.log(values)) == 0.0
    column = watched_columns([(True, values)], 60, 0.04)[0]
    assert not column.on_log
