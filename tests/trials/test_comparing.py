"""Before against after: planted changes, luck, other parameters that moved."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from types import ModuleType

import numpy as np
import pytest

from weakstep.errors import LogError, NotEnoughError
from weakstep.failures.null_model import logistic
from weakstep.interval import Interval
from weakstep.runlog.model import RunLog
from weakstep.trials.comparing import compare
from weakstep.trials.comparison_data import comparison_dict
from weakstep.trials.comparison_words import answer, comparison_text
from weakstep.trials.moved import allowed_for
from weakstep.trials.periods import split_at_date, split_at_run, two_logs
from weakstep.trials.power import nested_failures

Build = Callable[..., RunLog]
RUNS = 120


def planted(log_of: Build, change: float, seed: int = 3) -> RunLog:
    """Half the runs before a change of the failure logit; `humid` moves at the same time."""
    rng = np.random.default_rng(seed)
    later = np.arange(RUNS) >= RUNS // 2
    humid = rng.normal(size=RUNS) + 0.8 * later
    delay = np.where(later, rng.normal(40, 5, RUNS), rng.normal(60, 20, RUNS))
    tested = np.full(RUNS, 4)
    failed = rng.binomial(tested, logistic(-1.0 + change * later + 0.5 * humid))
    return log_of({"delay": delay, "humid": humid}, {"bond": failed}, tested)


def test_a_planted_fall_is_found(log_of: Build) -> None:
    """A fall by 1.5 logits in 60 runs: stated, with luck below 1 %."""
    log = planted(log_of, -1.5)
    found = compare(split_at_run(log, "R0060"), column="delay")
    change = found.changes[0]
    assert change.difference.upper < 0.0
    assert change.luck < 0.01
    assert "fell from" in answer(found, log.process)


def test_no_change_claims_nothing(log_of: Build) -> None:
    """Without a change the sentence says that none can be shown."""
    log = log_of({"delay": np.arange(40.0)}, {"bond": np.tile([1, 0, 0, 1], 10)}, np.full(40, 2))
    found = compare(split_at_run(log, "R0020"))
    assert found.changes[0].difference.estimate == pytest.approx(0.0)
    assert "No change" in answer(found, log.process)
    assert found.changes[0].luck > 0.5


def test_what_moved_is_named_and_held(log_of: Build) -> None:
    """Humidity moved by 0.8 sd: named, and held once the changed parameter is named."""
    log = planted(log_of, 0.0)
    periods = split_at_run(log, "R0060")
    found = compare(periods, column="delay")
    assert [one.column for one in found.moved] == ["humid"]
    assert found.held == ("humid",)
    assert compare(periods).held == ()
    # The crude difference carries humidity's effect; with it held less is left.
    crude, held = found.changes[0].difference, found.changes[0].allowed
    assert held is not None
    assert crude.estimate > held.estimate
    assert held.lower <= 0.0 <= held.upper


def test_standardised_difference_recovers_what_was_planted(log_of: Build) -> None:
    """Mean over 40 logs within 3 standard errors (and the prior's pull) of the planted one."""
    estimates, truths = [], []
    for seed in range(40):
        log = planted(log_of, -1.0, seed)
        found = allowed_for(split_at_run(log, "R0060"), log.runs.failed["bond"], ("humid",))
        assert found is not None
        estimates.append(found.estimate)
        humid = log.runs.numbers["humid"].to_numpy()
        eta = -1.0 + 0.5 * humid
        truths.append(float((logistic(eta - 1.0) - logistic(eta)).mean()))
    error = np.array(estimates) - np.array(truths)
    assert abs(error.mean()) <= 3 * error.std(ddof=1) / np.sqrt(40) + 0.01


def test_large_runs_are_not_heard_as_many(log_of: Build) -> None:
    """Runs of 1 to 24 chips that fail together: 95 % of 400 intervals hold no change (3 errors)."""
    rng = np.random.default_rng(21)
    sizes = rng.choice([1, 1, 1, 2, 2, 3, 6, 12, 24], 90)
    held = 0
    for seed in range(400):
        failed = nested_failures(rng, 0.2, sizes, 0.3, sizes.shape).astype(int)
        periods = split_at_run(log_of({"heat": np.arange(90.0)}, {"bond": failed}, sizes), "R0060")
        found = allowed_for(periods, failed, (), seed=seed)
        assert found is not None
        held += found.lower <= 0.0 <= found.upper
    assert held / 400 >= 0.95 - 3 * np.sqrt(0.95 * 0.05 / 400)


def test_own_spread_and_window(log_of: Build) -> None:
    """The delay was tightened from sd 20 to sd 5, and kept below 50 ever since."""
    log = planted(log_of, 0.0)
    spread = compare(split_at_run(log, "R0060"), column="delay", window=(None, 50.0)).spread
    assert spread is not None
    assert spread.ratio.upper < 0.5
    assert spread.inside is not None
    assert spread.inside[1] > 0.9 > spread.inside[0]


def test_a_short_good_streak_is_put_in_its_place(log_of: Build) -> None:
    """None of 12 failed after the change: that still allows 22 %."""
    failed = np.concatenate([np.tile([1, 0, 0, 0], 10), np.zeros(12, dtype=int)])
    log = log_of({"delay": np.arange(52.0)}, {"bond": failed}, np.ones(52, dtype=int))
    found = compare(split_at_run(log, "R0040"))
    assert found.changes[0].still_possible == pytest.approx(1 - 0.05 ** (1 / 12))
    text = comparison_text(found, log.process)
    assert "0 of 12 still allows 22 % (one-sided 95 %), which is below the 25 % of before" in text
    assert "takes about 11 good chips in a row" not in text, "22 % is below the 25 % of before"


def test_dates_split_and_undated_runs_are_told(log_of: Build) -> None:
    """A run without a date belongs to neither period and is counted."""
    log = log_of({"delay": np.arange(20.0)}, {"bond": np.tile([1, 0], 10)}, np.full(20, 2))
    with pytest.raises(LogError, match="No run of the log has a date"):
        split_at_date(log, datetime(2026, 3, 1))
    days = np.datetime64("2026-02-19") + np.arange(20)
    moments = days.astype("datetime64[ns]")
    moments[0] = np.datetime64("NaT")
    log = replace(log, runs=replace(log.runs, started_at=moments))
    periods = split_at_date(log, datetime(2026, 3, 1))
    assert periods.undated == 1
    assert int(periods.after.sum()) == 10
    assert "1 run without a date" in comparison_text(compare(periods), log.process)


def test_two_logs_are_two_periods(log_of: Build) -> None:
    """One log against another gives the same as one log split between them."""
    log = planted(log_of, -1.5)
    first, second = (
        replace(
            log,
            runs=replace(
                log.runs,
                **{
                    name: getattr(log.runs, name)[rows]
                    for name in ("run_id", "started_at", "operator", "week", "tested")
                },
                numbers=log.runs.numbers.iloc[rows],
                failed={"bond": log.runs.failed["bond"][rows]},
            ),
        )
        for rows in (slice(0, 60), slice(60, None))
    )
    split = compare(split_at_run(log, "R0060")).changes[0]
    two = compare(two_logs(first, second)).changes[0]
    assert two.difference == split.difference
    assert two.luck == split.luck


def test_logs_the_wrong_way_round_are_refused(log_of: Build) -> None:
    """The earlier log must not begin after the later one has ended; overlapping ones may pass."""
    log = planted(log_of, 0.0)
    days = (np.datetime64("2026-03-02") + np.arange(RUNS)).astype("datetime64[ns]")
    first = replace(log, runs=replace(log.runs, started_at=days))
    second = replace(log, runs=replace(log.runs, started_at=days + np.timedelta64(RUNS, "D")))
    assert two_logs(first, second).names == ("in the earlier log", "in the later log")
    assert len(two_logs(first, first).after) == 2 * RUNS
    with pytest.raises(LogError, match="begins on 2026-06-30, after the other has ended on 2026-0"):
        two_logs(second, first)


def test_a_measured_outcome_is_told_and_not_held(log_of: Build, builder: ModuleType) -> None:
    """Burst pressure fell with the change: to hold it would take away what the change did."""
    rng = np.random.default_rng(8)
    later = np.arange(80) >= 40
    described = (
        builder.make_parameter("delay", 0),
        builder.make_parameter("humid", 1),
        builder.make_parameter("burst", 2, role="outcome"),
    )
    numbers = {
        "delay": rng.normal(0.0, 1.0, 80),
        "humid": rng.normal(0.0, 1.0, 80) + 1.5 * later,
        "burst": rng.normal(0.0, 1.0, 80) - 2.0 * later,
    }
    log = log_of(numbers, {"bond": np.tile([1, 0, 0, 0], 20)}, np.full(80, 2), parameters=described)
    found = compare(split_at_run(log, "R0040"), column="delay")
    assert {one.column for one in found.moved} == {"humid", "burst"}
    assert found.held == ("humid",)
    text = comparison_text(found, log.process)
    assert "Held by the model: who ran it, humid." in text
    assert "Measured outcomes come of a change and are not held." in text


def test_what_cannot_be_compared_is_said(log_of: Build) -> None:
    """Unknown run, too short a period, and an unknown column: a sentence each."""
    log = planted(log_of, 0.0)
    with pytest.raises(LogError, match="No run is called 'X9'"):
        split_at_run(log, "X9")
    with pytest.raises(NotEnoughError, match="Only 2 tested runs since run R0118"):
        split_at_run(log, "R0118")
    with pytest.raises(LogError, match="no numbers for 'colour'"):
        compare(split_at_run(log, "R0060"), column="colour")


def test_weeks_that_differ_are_told(log_of: Build) -> None:
    """Whole weeks go wrong together: the reader is warned that intervals are too narrow."""
    week = np.arange(80) // 8
    failed = np.where(week % 2 == 0, 2, 0)
    log = log_of({"delay": np.arange(80.0)}, {"bond": failed}, np.full(80, 2), week=week)
    found = compare(split_at_run(log, "R0040"))
    assert found.weeks_differ is not None
    assert found.weeks_differ < 0.01
    assert "weeks differ" in comparison_text(found, log.process)


def test_programs_get_every_key(log_of: Build) -> None:
    """The dictionary carries schema, changes and what moved."""
    found = comparison_dict(compare(split_at_run(planted(log_of, -1.5), "R0060"), column="delay"))
    assert found["schema"] == "weakstep.comparison/1"
    assert [one["family"] for one in found["changes"]] == ["bond"]
    assert found["held"] == ["humid"]
    assert found["spread"]["ratio"]["upper"] < 1.0
    assert found["dealt"] == "runs within operators"


def test_a_spread_without_end_is_null_for_programs(log_of: Build) -> None:
    """A parameter that never changed before has no ratio of spreads; JSON has no infinity."""
    delay = np.concatenate([np.full(20, 30.0), np.arange(20.0)])
    log = log_of({"delay": delay}, {"bond": np.tile([1, 0], 20)}, np.full(40, 2))
    found = comparison_dict(compare(split_at_run(log, "R0020"), column="delay"))
    assert found["spread"]["ratio"] is None
    json.dumps(found, allow_nan=False)


def test_luck_and_interval_that_disagree_are_both_told(log_of: Build) -> None:
    """No change is claimed unless both say so, and the sentence says which one does not."""
    log = planted(log_of, -1.5)
    found = compare(split_at_run(log, "R0060"))
    change = found.changes[0]

    def said(**changes: object) -> str:
        return answer(replace(found, changes=(replace(change, **changes),)), log.process)

    unlucky = said(luck=0.051)
    assert unlucky.startswith("No change of bond failures can be shown yet")
    assert "points less (95 %), but luck alone makes one as large in 5.1 % of cases." in unlucky
    wide = said(luck=0.03, difference=Interval(-0.1, -0.2, 0.01, 0.95))
    assert "1 point more (95 %), though luck makes one as large in only 3.0 % of cases." in wide
    assert said(luck=0.4, difference=Interval(-0.1, -0.2, 0.01, 0.95)).endswith("(95 %).")
    new = replace(found, dealt="too few operators")
    assert answer(new, log.process).endswith("); but mostly other operators worked then.")
    unlucky_hands = answer(replace(new, changes=(replace(change, luck=0.051),)), log.process)
    assert unlucky_hands.endswith("in 5.1 % of cases; mostly other operators worked then.")


def test_few_failures_after_a_rise_are_no_question_of_luck(log_of: Build) -> None:
    """None of 40 failed before and 2 of 40 after: what 2 still allow is not told."""
    failed = np.zeros(40, dtype=int)
    rising, falling = failed.copy(), failed.copy()
    rising[-2:], falling[:2] = 1, 1
    for counts, told in ((rising, False), (falling, True)):
        log = log_of({"delay": np.arange(40.0)}, {"bond": counts}, np.full(40, 2))
        text = comparison_text(compare(split_at_run(log, "R0020")), log.process)
        assert ("still allows" in text) is told


def test_own_values_that_are_few_or_yes_and_no(log_of: Build, builder: ModuleType) -> None:
    """Yes and no as shares, also among what moved; too few values are said to be too few."""
    described = (
        builder.make_parameter("touched", 0, kind="yes_no"),
        builder.make_parameter("delay", 1),
    )
    touched = np.concatenate([np.tile([0.0, 0.0, 0.0, 1.0], 10), np.tile([1.0, 1.0, 1.0, 0.0], 10)])
    delay = np.where(np.arange(80) < 76, np.arange(80.0) % 7, np.nan)
    delay[40:73] = np.nan
    log = log_of(
        {"touched": touched, "delay": delay},
        {"bond": np.tile([1, 0, 0, 0], 20)},
        np.full(80, 2),
        parameters=described,
    )
    periods = split_at_run(log, "R0040")
    text = comparison_text(compare(periods, column="touched"), log.process)
    assert "'touched': yes in 25 % of runs before and 75 % after." in text
    text = comparison_text(compare(periods, column="delay"), log.process)
    assert "The delay: fewer than 5 runs of a period have a value, too few to compare" in text
    assert "touched (25 % yes to 75 % yes)" in text
