"""New runs against a frozen baseline."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from weakstep.errors import LogError
from weakstep.reviewing import Review
from weakstep.runlog.model import RunLog
from weakstep.watching.baseline import Baseline, baseline_json, read_baseline
from weakstep.watching.freezing import freeze
from weakstep.watching.history import Event
from weakstep.watching.monitor import watch
from weakstep.watching.words import signal_words, summary_words

More = Callable[..., RunLog]


def test_the_baseline_survives_its_file(frozen: Baseline, tmp_path: Path) -> None:
    """Written and read back it is the same, and carries its own hash."""
    path = tmp_path / "baseline.json"
    path.write_text(baseline_json(frozen), encoding="utf-8")
    assert read_baseline(path) == frozen


def test_a_changed_baseline_is_refused(frozen: Baseline, tmp_path: Path) -> None:
    """Nobody widens a limit by hand unseen."""
    path = tmp_path / "baseline.json"
    content = json.loads(baseline_json(frozen))
    content["columns"]["heat"]["limit"] = 1e9
    path.write_text(json.dumps(content), encoding="utf-8")
    with pytest.raises(LogError, match="was changed since it was written"):
        read_baseline(path)


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", "[" * 100_000, '{"schema": 7}', '{"schema": "x/1"}']
)
def test_no_baseline_is_one_sentence(text: str, tmp_path: Path) -> None:
    """No traceback for a file that is something else."""
    (tmp_path / "b.json").write_text(text, encoding="utf-8")
    with pytest.raises(LogError, match="no baseline that 'weakstep review' wrote"):
        read_baseline(tmp_path / "b.json")


def test_a_baseline_of_another_version(tmp_path: Path) -> None:
    """Limits of one version do not hold for the sums of another."""
    (tmp_path / "b.json").write_text('{"schema": "weakstep.baseline/2"}', encoding="utf-8")
    with pytest.raises(LogError, match=r"another version of weakstep .*make a new one by a review"):
        read_baseline(tmp_path / "b.json")


def test_what_the_baseline_holds(frozen: Baseline) -> None:
    """Normal columns are told from the skewed one, which is scored on its logs."""
    assert set(frozen.columns) == {"heat", "press", "delay"}
    assert frozen.columns["delay"].on_log
    assert not frozen.columns["heat"].on_log
    assert [one.chart for one in frozen.failures] == ["failures:bond"] * 2, "steady and burst"
    assert frozen.joint is not None
    assert len(frozen.runs) == 100


def test_nothing_new_nothing_signalled(frozen: Baseline, reviewed: Review) -> None:
    """The baseline's own runs are not watched again."""
    found = watch(reviewed.log, frozen)
    assert found.new_runs == 0
    assert found.signals == ()


def test_stable_runs_are_quiet(frozen: Baseline, more: More) -> None:
    """40 semesters of 100 stable runs: at most 5 + 3 standard errors of 5 % signal at all."""
    alarms = sum(bool(watch(more(100, seed), frozen).signals) for seed in range(40))
    assert alarms <= 40 * 0.05 + 3 * np.sqrt(40 * 0.05 * 0.95)


@pytest.mark.parametrize(
    ("shift", "way"), [(2.0, "higher"), (-2.0, "lower"), (1.0, "higher"), (-1.0, "lower")]
)
@pytest.mark.parametrize("column", ["heat", "delay"])
def test_a_shift_is_found_and_named(
    frozen: Baseline, more: More, column: str, shift: float, way: str
) -> None:
    """Within 60 runs, on the right column, the right way, since about its beginning."""
    found = watch(more(60, 5, **{column: shift}), frozen)
    first = next(one for one in found.signals if one.chart == column)
    assert first.way == way
    assert int(first.since[1:]) <= 6
    assert {one.chart for one in found.signals} <= {column, "joint"}
    text = signal_words(first, more(1).process)
    assert f"is {way}" in text


def test_failures_that_double_are_found(frozen: Baseline, more: More) -> None:
    """From 12 to 35 % of chips: a signal within 60 runs."""
    found = watch(more(60, 3, rate=0.35), frozen)
    first = next(one for one in found.signals if one.chart == "failures:bond")
    assert first.now is not None
    assert first.now > 0.2
    assert "more failures" in signal_words(first, more(1).process)


def test_a_burst_of_failures_is_told_within_a_few_runs(frozen: Baseline, more: More) -> None:
    """Nine of ten chips fail where 12 % did: told within 8 runs, and later that it lasts."""
    log = more(60, 3, rate=0.9)
    found = [one for one in watch(log, frozen).signals if one.chart == "failures:bond"]
    assert int(found[0].run[1:]) < 8
    first, later = (signal_words(one, log.process) for one in found[:2])
    assert "more failures (bond), " in first
    assert "failures (bond) still come more often, " in later
    assert "Check first: what goes with them, by a review of the log" in first


def test_each_signal_says_what_to_check_first(frozen: Baseline, more: More) -> None:
    """Also of a parameter whose description does not say: one line, that ends as a sentence."""
    log = apart_from(more(40, 8), 110)
    found = watch(log, frozen).signals
    assert {"heat", "press", "delay", "joint"} <= {one.chart for one in found}
    for one in found:
        text = signal_words(one, log.process)
        assert "Check first: " in text
        assert "\n" not in text
        assert text.endswith(".")


def test_a_run_apart_in_all_columns_is_joint(frozen: Baseline, more: More) -> None:
    """Five standard deviations out at once: the joint distance names the columns."""
    log = more(3)
    numbers = log.runs.numbers.copy()
    numbers.loc[101, ["heat", "press", "delay"]] = [82.0, 2.0, 300.0]
    found = watch(replace(log, runs=replace(log.runs, numbers=numbers)), frozen)
    joint = next(one for one in found.signals if one.chart == "joint")
    assert joint.run == "N001"
    assert set(joint.parts) == {"heat", "press", "delay"}
    assert "apart together" in joint.way


def test_a_reset_lets_sums_start_anew(frozen: Baseline, more: More) -> None:
    """After a service just before the limit, the signal comes later."""
    log = more(60, 5, heat=1.0)
    first = next(one for one in watch(log, frozen).signals if one.chart == "heat")
    last = f"N{int(first.run[1:]) - 1:03d}"
    event = Event(1, "", frozen.sha256, "reset", "heat", last, "", "")
    later = [one for one in watch(log, frozen, [event]).signals if one.chart == "heat"]
    assert all(int(one.run[1:]) > int(first.run[1:]) for one in later)


def apart_from(log: RunLog, first: int) -> RunLog:
    """Return the log with every parameter far out from a run on."""
    numbers = log.runs.numbers.copy()
    numbers.loc[first:, "heat"] += 12.0
    numbers.loc[first:, "press"] -= 3.0
    numbers.loc[first:, "delay"] *= 6.0
    return replace(log, runs=replace(log.runs, numbers=numbers))


def test_the_joint_distance_is_told_once_and_resets(frozen: Baseline, more: More) -> None:
    """A level that stays apart is one line; after a reset it is the new centre."""
    log = apart_from(more(30, 8), 110)
    joint = [one for one in watch(log, frozen).signals if one.chart == "joint"]
    assert [one.run for one in joint] == ["N010"]
    event = Event(1, "", frozen.sha256, "reset", "joint", "N009", "", "")
    assert not [one for one in watch(log, frozen, [event]).signals if one.chart == "joint"]


def test_a_reset_after_the_last_run_of_the_baseline(frozen: Baseline, more: More) -> None:
    """A service between both: new runs that all lie apart are the new centre, and are alike."""
    log = apart_from(more(30, 8), 100)
    assert "N000" in {one.run for one in watch(log, frozen).signals if one.chart == "joint"}
    last = frozen.runs[-1][0]
    event = Event(1, "", frozen.sha256, "reset", "joint", last, "", "")
    assert not [one for one in watch(log, frozen, [event]).signals if one.chart == "joint"]


def test_a_family_resets_alone(frozen: Baseline, more: More) -> None:
    """'failures' and 'failures:bond' both let its sum start anew; another chart's does not."""
    log = more(60, 3, rate=0.35)
    first = next(one for one in watch(log, frozen).signals if one.chart == "failures:bond")
    last = f"N{int(first.run[1:]) - 1:03d}"
    for chart, delayed in (("failures", True), ("failures:bond", True), ("heat", False)):
        event = Event(1, "", frozen.sha256, "reset", chart, last, "", "")
        runs = [s.run for s in watch(log, frozen, [event]).signals if s.chart == "failures:bond"]
        assert (first.run not in runs) == delayed


def test_a_lasting_change_is_told_now_and_again(frozen: Baseline, more: More) -> None:
    """
    What led to a signal is not learned from: 70 shifted runs never become the new level.

    The first signal tells it, and every 20 runs or a few more one says that it lasts, since when.
    """
    log = more(70, 5, heat=2.0)
    found = [one for one in watch(log, frozen).signals if one.chart == "heat"]
    assert {one.way for one in found} == {"higher"}
    assert len(found) >= 3
    assert [one.still for one in found] == [False] + [True] * (len(found) - 1)
    apart = np.diff([int(one.run[1:]) for one in found])
    assert apart.min() >= 20
    assert {one.since for one in found} == {found[0].since}
    text = signal_words(found[1], log.process)
    assert text.startswith(f"run {found[1].run}, since about run {found[0].since}: ")
    assert "is still higher" in text


def test_a_reset_makes_a_lasting_change_new(frozen: Baseline, more: More) -> None:
    """Whoever says that the level was put right is told at once when it was not."""
    log = more(70, 5, heat=2.0)
    event = Event(1, "", frozen.sha256, "reset", "heat", "N019", "", "")
    found = [one for one in watch(log, frozen, [event]).signals if one.chart == "heat"]
    after = next(one for one in found if int(one.run[1:]) > 19)
    assert int(after.run[1:]) < 30
    assert not after.still
    assert int(after.since[1:]) > 19


def test_another_process_is_refused(frozen: Baseline, more: More) -> None:
    """A baseline belongs to its process."""
    log = more(2)
    with pytest.raises(LogError, match="is of the process 'bench'"):
        watch(replace(log, process=replace(log.process, name="other")), frozen)


def test_columns_that_are_not_there_are_told(frozen: Baseline, more: More) -> None:
    """A column that new runs no longer carry is named, not taken for stable."""
    log = more(5)
    numbers = log.runs.numbers.copy()
    numbers.loc[100:, "heat"] = np.nan
    found = watch(replace(log, runs=replace(log.runs, numbers=numbers)), frozen)
    assert found.missing == ("heat",)
    assert "Not in the new runs: heat" in summary_words(found, frozen, log.process)


def test_a_column_that_is_logged_no_longer(frozen: Baseline, more: More) -> None:
    """From the tenth run without a value on it is told, with the last run that had one."""
    log = more(30)
    for first, told in ((120, True), (121, False)):
        numbers = log.runs.numbers.copy()
        numbers.loc[first:, "heat"] = np.nan
        found = watch(replace(log, runs=replace(log.runs, numbers=numbers)), frozen)
        assert found.missing == ()
        assert found.stopped == ((("heat", "N019"),) if told else ())
        line = "No longer logged since run N019: heat."
        assert (line in summary_words(found, frozen, log.process)) == told


def test_the_others_are_watched_together_without_a_missing_column(
    frozen: Baseline, more: More
) -> None:
    """A column left out of new runs does not silence the joint distance of the rest."""
    log = apart_from(more(30, 8), 110)
    numbers = log.runs.numbers.copy()
    numbers.loc[100:, "heat"] = np.nan
    found = watch(replace(log, runs=replace(log.runs, numbers=numbers)), frozen)
    joint = next(one for one in found.signals if one.chart == "joint")
    assert joint.run == "N010"
    assert set(joint.parts) == {"press", "delay"}


def test_a_description_that_was_changed_is_told(frozen: Baseline, more: More) -> None:
    """The same name, another content: units or ranges may be others."""
    log = more(2)
    said = "The description of the process was changed since the baseline was made"
    assert said not in summary_words(watch(log, frozen), frozen, log.process)
    other = replace(frozen, process_sha256="0123", columns={"gone": frozen.columns["heat"]})
    text = summary_words(watch(log, other), other, log.process)
    assert said in text
    assert "Not in the new runs: gone." in text


def test_a_smaller_chance_gives_wider_limits(reviewed: Review, frozen: Baseline) -> None:
    """The chance of a false alarm is the user's to choose."""
    strict = freeze(reviewed, chance=0.01)
    assert strict.columns["heat"].limit > frozen.columns["heat"].limit
    assert strict.failures[0].limit >= frozen.failures[0].limit


def test_runs_outside_the_window_are_counted_and_the_last_named(
    reviewed: Review, frozen: Baseline, more: More
) -> None:
    """Of 20 runs of which none can be inside, the last 8 are named as such; of 8, all."""
    narrow = replace(frozen, window=("heat", 1.0, 2.0))
    for runs, told in ((20, ", the last of them: N012, N013"), (8, ": N000, N001")):
        log = more(runs)
        words = summary_words(watch(log, narrow), narrow, reviewed.log.process)
        line = next(one for one in words.splitlines() if "outside the window" in one)
        assert line.startswith(f"{runs} new runs outside the window of ")
        assert told in line
        assert line.endswith(f"N{runs - 1:03d}.")
