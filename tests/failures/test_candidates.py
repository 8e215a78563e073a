"""Which columns can be ranked."""

from __future__ import annotations

import numpy as np

from weakstep.failures.candidates import gather, pool_small_strata

RUNS = 40


def gathered(log, strata=None):
    """Return candidates by name and notes."""
    strata = np.zeros(RUNS, dtype=int) if strata is None else strata
    found, notes = gather(log.process, log.runs, strata)
    return {one.name: one for one in found}, notes


def test_small_groups_are_pooled():
    """Operators with fewer than 4 runs share a group."""
    operator = np.array(["A"] * 6 + ["B"] * 5 + ["C"] * 3 + ["D"] * 2)
    groups = pool_small_strata(operator)
    assert len(np.unique(groups)) == 3
    assert len(np.unique(groups[11:])) == 1


def test_a_pool_that_is_too_small_joins_the_smallest_group():
    """A run that cannot change places tells nothing."""
    groups = pool_small_strata(np.array(["A"] * 6 + ["B"] * 5 + ["C"]))
    assert groups[-1] == groups[6]
    assert len(np.unique(groups)) == 2


def test_nobody_has_enough_runs():
    """Then everybody shares one group."""
    assert len(np.unique(pool_small_strata(np.arange(10).astype(str)))) == 1


def test_columns_left_out_are_told(log_of):
    """Constant columns and those that most runs did not log, by name."""
    rng = np.random.default_rng(1)
    rare = np.where(np.arange(RUNS) < 10, rng.normal(size=RUNS), np.nan)
    numbers = {"good": rng.normal(size=RUNS), "flat": np.ones(RUNS), "rare": rare}
    failed = {"bond": rng.binomial(2, 0.3, RUNS)}
    found, notes = gathered(log_of(numbers, failed, np.full(RUNS, 2)))
    assert set(found) == {"good"}
    assert any("flat" in note and "usual value" in note for note in notes)
    assert any("rare" in note and "did not log" in note for note in notes)


def test_gaps_take_the_mean_of_the_same_operator(log_of):
    """Known by hand: two operators, shrunk by two runs' worth towards the overall mean."""
    strata = np.repeat([0, 1], RUNS // 2)
    values = np.random.default_rng(2).normal(size=RUNS) + 3.0 * strata
    values[0] = np.nan
    log = log_of({"a": values}, {"bond": np.ones(RUNS, dtype=int)}, np.full(RUNS, 2))
    one = gathered(log, strata)[0]["a"]
    assert one.missing == 1 / RUNS
    expected = one.columns[1 : RUNS // 2].sum(axis=0) / (RUNS // 2 - 1 + 2.0)
    np.testing.assert_allclose(one.columns[0], expected)


def test_operator_and_row_names_are_no_factors(log_of):
    """Groups such as moulds are; who ran it is allowed for instead; "several" is no level."""
    mould = np.array(["M1", "M2", "several", "M1"])[np.arange(RUNS) % 4]
    log = log_of(
        {},
        {"bond": np.ones(RUNS, dtype=int)},
        np.full(RUNS, 2),
        categories={"operator": mould, "run_id": mould, "mould_id": mould},
    )
    found = gathered(log)[0]
    assert set(found) == {"mould_id"}
    assert found["mould_id"].levels == ("M1", "M2")


def test_parts_of_a_computed_column_are_known(log_of, parameter_of):
    """A dose is computed from power and time."""
    rng = np.random.default_rng(3)
    power, time = rng.normal(30, 3, RUNS), rng.normal(40, 5, RUNS)
    described = (
        parameter_of("power_w", 2),
        parameter_of("plasma_s", 2),
        parameter_of("dose_j", 2, formula="power_w * plasma_s"),
    )
    numbers = {"power_w": power, "plasma_s": time, "dose_j": power * time}
    log = log_of(numbers, {"bond": np.ones(RUNS, int)}, np.full(RUNS, 2), parameters=described)
    assert gathered(log)[0]["dose_j"].parts == {"power_w", "plasma_s"}
