"""Rates by semester, and what came of changes: planted and absent."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from weakstep.process.model import Process
from weakstep.runlog.model import RunLog
from weakstep.semesters.events import events_of
from weakstep.semesters.history import history_of
from weakstep.semesters.model import Change, History
from weakstep.semesters.words import trend_sentence

Build = Callable[..., RunLog]
DAY = np.datetime64("2026-03-02")


def changed(date: str, what: str = "heat held", **more: object) -> Change:
    """Return a change of a list."""
    fields = {"column": None, "step": None, "family": None, "window": None, "from_review": None}
    return Change(np.datetime64(date), what, **{**fields, **more}, place="changes.csv:2")  # type: ignore[arg-type]


def semesters(log_of: Build, rates: tuple[float, ...], seed: int = 1, runs: int = 60) -> RunLog:
    """Return semesters half a year apart, each with its failure rate, four chips a run."""
    rng = np.random.default_rng(seed)
    days = np.concatenate([DAY + 182 * place + np.arange(runs) * 2 for place in range(len(rates))])
    tested = np.full(len(days), 4)
    failed = rng.binomial(4, np.repeat(rates, runs))
    log = log_of({"heat": rng.normal(50, 5, len(days))}, {"bond": failed}, tested)
    moments = days.astype("datetime64[ns]")
    return replace(log, runs=replace(log.runs, started_at=moments))


def told(log: RunLog, *changes: Change) -> History:
    """Return a history that is there."""
    found = history_of(log, changes)
    assert found is not None
    return found


def test_one_semester_without_changes_has_no_history(log_of: Build) -> None:
    """Nothing to tell: None, and no event."""
    log = semesters(log_of, (0.2,))
    assert history_of(log) is None
    assert events_of(log, [], None) == ()


def test_a_fall_over_three_semesters_is_told(log_of: Build) -> None:
    """30, 20, 10 %: counts add up, the trend is stated with its odds."""
    log = semesters(log_of, (0.3, 0.2, 0.1))
    found = told(log)
    assert [one.runs for one in found.semesters] == [60, 60, 60]
    assert sum(one.failed["bond"] for one in found.semesters) == log.runs.failed["bond"].sum()
    (trend,) = found.trends
    assert trend.luck <= 0.001
    assert trend.odds_per_semester is not None
    assert trend.odds_per_semester.lower < (0.1 / 0.9 / (0.3 / 0.7)) ** 0.5
    assert trend.odds_per_semester.upper < 1.0
    assert "Failures fall from semester to semester: from 3" in trend_sentence(
        trend, found, log.process
    )


def test_each_family_counts(log_of: Build) -> None:
    """A trend at 2.5 % is stated when it is the only one looked at, not beside three families."""
    log = semesters(log_of, (0.3, 0.2, 0.1))
    found = told(log)
    (trend,) = found.trends
    clear = replace(trend, luck=0.025)
    assert "fall from semester" in trend_sentence(clear, found, log.process)
    beside = replace(found, trends=(clear,) * 4)
    said = trend_sentence(replace(clear, differ=None), beside, log.process)
    assert "may be luck (chance 2.5 %, where 1.2 % is asked of each of 4 rates), so no" in said


def test_no_trend_is_claimed_without_one(log_of: Build) -> None:
    """The same rate thrice, and high, low, high: no trend; only the latter differs."""
    same = told(semesters(log_of, (0.2, 0.2, 0.2)))
    assert "no trend can be shown yet" in trend_sentence(same.trends[0], same, process_of(log_of))
    bend = told(semesters(log_of, (0.35, 0.1, 0.35)))
    assert "no steady way up or down" in trend_sentence(bend.trends[0], bend, process_of(log_of))


def process_of(log_of: Build) -> Process:
    """Return the process of the built logs."""
    return semesters(log_of, (0.2,)).process


def test_a_change_that_worked_and_one_that_did_not(log_of: Build) -> None:
    """35 % before, 8 % since the first change, the same after the second."""
    rng = np.random.default_rng(4)
    log = semesters(log_of, (0.2,), runs=90)
    days = log.runs.started_at.astype("datetime64[D]")
    since = days >= np.datetime64("2026-05-01")
    failed = rng.binomial(4, np.where(since, 0.08, 0.35))
    heat = np.where(since, 45.0, rng.normal(50, 5, 90))
    numbers = log.runs.numbers.assign(heat=heat)
    log = replace(log, runs=replace(log.runs, failed={"bond": failed}, numbers=numbers))
    first = changed("2026-05-01", column="heat", window=(None, 46.0), from_review="review of May")
    found = told(log, first, changed("2026-07-01", "new balance", step="mixing"))
    worked, useless = found.changes
    assert worked.rate is not None
    assert worked.rate.difference.upper < 0.0
    assert "1 May 2026: heat held (heat). Bond failures fell from 41 % to 8 %" in worked.sentence
    assert "Inside the window" in worked.sentence
    assert "100 % since." in worked.sentence
    assert "semesters" not in worked.sentence, "all in one"
    assert "It acted on the verdict of the review of May." in worked.sentence
    assert useless.comparison is not None
    assert useless.comparison.runs[0] == int((since & (days < np.datetime64("2026-07-01"))).sum())
    assert "No change of bond failures can be shown yet" in useless.sentence
    events = events_of(log, [], found)
    assert [event.kind for event in events] == ["change", "change"]
    assert events[0].columns == ("heat",)
    assert days[events[0].run] >= first.date > days[events[0].run - 1]


def test_a_window_that_was_not_held_is_told(log_of: Build) -> None:
    """As many runs inside before as since: nothing can have come of it, whatever failures did."""
    log = semesters(log_of, (0.3,), runs=90)
    heat = np.tile([40.0, 50.0, 50.0], 30)
    log = replace(log, runs=replace(log.runs, numbers=log.runs.numbers.assign(heat=heat)))
    (outcome,) = told(log, changed("2026-05-01", column="heat", window=(None, 46.0))).changes
    assert (
        "Inside the window: 33 % of runs before, 33 % since: it was not held, so that hardly "
        "anything can have come of it."
    ) in outcome.sentence
    (kept,) = told(log, changed("2026-05-01", column="heat", window=(None, 60.0))).changes
    assert "Inside the window: 100 % of runs before, 100 % since." in kept.sentence


def test_runs_of_several_semesters_are_told(log_of: Build) -> None:
    """A change at the turn of two semesters is compared across them, and that is said."""
    log = semesters(log_of, (0.4, 0.1))
    (outcome,) = told(log, changed("2026-08-31")).changes
    assert outcome.semesters == 2
    assert "They lie in 2 semesters, which may differ for other reasons, too." in outcome.sentence
    (inside,) = told(semesters(log_of, (0.2,)), changed("2026-05-01")).changes
    assert inside.semesters == 1
    (none,) = told(log, changed("2030-01-01")).changes
    assert none.semesters == 0


def compared_runs(found: History) -> list[tuple[int, int]]:
    """Return the runs before and since of each change."""
    return [one.comparison.runs for one in found.changes if one.comparison is not None]


def test_since_ends_with_the_next_change_in_the_same_step(log_of: Build) -> None:
    """90 runs, two days apart; another step's change does not end a change's time, and is told."""
    log = semesters(log_of, (0.2,), runs=90)
    place = {
        parameter.name: parameter.step for parameter in log.process.parameters if parameter.step
    }
    own = place["heat"]
    other = next(step.name for step in log.process.steps if step.name != own)
    heat = changed("2026-04-01", column="heat")
    elsewhere = changed("2026-05-01", "new gas", step=other)
    again = changed("2026-06-30", "heat held closer", step=own)
    found = told(log, heat, elsewhere, again)
    # 15 runs to the end of March, 15 more in April, 30 to the end of June, 30 after it.
    assert compared_runs(found) == [(15, 45), (15, 60), (30, 30)]
    first, second, third = found.changes
    assert first.meanwhile == (elsewhere,)
    assert (
        "Changed elsewhere meanwhile, and perhaps part of the difference: new gas on 1 May 2026."
        in first.sentence
    )
    assert second.meanwhile == (again,)
    assert third.meanwhile == ()
    assert "meanwhile" not in third.sentence


def test_a_change_without_a_place_ends_every_other(log_of: Build) -> None:
    """The list does not say what it concerned, so it may have been the same step."""
    log = semesters(log_of, (0.2,), runs=90)
    found = told(log, changed("2026-04-01", column="heat"), changed("2026-05-01", "moved house"))
    assert compared_runs(found) == [(15, 15), (15, 60)]
    assert [one.meanwhile for one in found.changes] == [(), ()]


def test_too_few_runs_after_another_step_reach_back_to_the_own(log_of: Build) -> None:
    """Four days after another step's change there are two runs: those before it count, too."""
    log = semesters(log_of, (0.2,), runs=90)
    own = log.process.parameter("heat").step
    other = next(step.name for step in log.process.steps if step.name != own)
    elsewhere = changed("2026-04-27", "new gas", step=other)
    _, heat = told(log, elsewhere, changed("2026-05-01", column="heat")).changes
    assert heat.comparison is not None
    assert heat.comparison.runs == (30, 60)
    assert heat.meanwhile == (elsewhere,)


@pytest.mark.parametrize(
    ("date", "said"),
    [
        ("2027-01-01", "the log ends on 28 June 2026, before it"),
        ("2026-01-01", "the log begins on 2 March 2026, when it was made already"),
        ("2026-06-28", "only 1 tested run since it, up to the next change that may be in its step"),
        ("2026-03-04", "only 1 tested run before it"),
    ],
)
def test_a_change_at_the_edge_is_not_compared(log_of: Build, date: str, said: str) -> None:
    """Too little on one side: the reason stands where the comparison would."""
    (outcome,) = told(semesters(log_of, (0.2,)), changed(date)).changes
    assert outcome.comparison is None
    assert outcome.rate is None
    assert f"What came of it cannot be told: {said}" in outcome.sentence


def test_changes_of_one_day_are_not_told_apart(log_of: Build) -> None:
    """Both are compared alike, and each names the other."""
    log = semesters(log_of, (0.2,))
    one, other = told(log, changed("2026-05-01"), changed("2026-05-01", "new gas")).changes
    assert one.same_day == ("new gas",)
    assert "not to be told apart: heat held." in other.sentence
    assert one.rate == other.rate


def test_a_log_without_dates_says_so(log_of: Build) -> None:
    """No date: the change is kept and told."""
    log = log_of({"heat": np.arange(5.0)}, {"bond": np.ones(5, dtype=int)}, np.full(5, 2))
    (outcome,) = told(log, changed("2026-05-01")).changes
    assert "no run of the log has a date" in outcome.sentence


def test_semesters_begin_where_their_first_run_is(log_of: Build) -> None:
    """One event for each further semester, services only where something was set back."""
    log = semesters(log_of, (0.2, 0.2))
    found = told(log)
    service, semester = events_of(log, [("heat", 0), ("heat", 7)], found)
    assert (service.kind, service.run) == ("service", 7)
    assert (semester.kind, semester.run) == ("semester", 60)
    assert semester.date == found.semesters[1].first


def test_few_new_operators_are_not_taken_for_a_trend(log_of: Build) -> None:
    """One operator each semester, 10 % against 30 %: it may be the person, and no trend is told."""
    log = semesters(log_of, (0.1, 0.3))
    who = np.repeat(["first", "second"], 60)
    (trend,) = told(replace(log, runs=replace(log.runs, operator=who))).trends
    assert trend.dealt == "too few operators"
    assert trend.luck > 0.05
    everybody = told(log).trends[0]
    assert everybody.luck < 0.001
    same = np.tile(["first", "second"], 60)
    (held,) = told(replace(log, runs=replace(log.runs, operator=same))).trends
    assert held.dealt == "runs within operators"
    assert held.luck < 0.001


def test_a_bend_with_few_new_operators_is_not_told(log_of: Build) -> None:
    """High, low, high, with one operator each: the semesters differ, or the persons do."""
    log = semesters(log_of, (0.35, 0.1, 0.35))
    who = np.repeat(["first", "second", "third"], 60)
    found = told(replace(log, runs=replace(log.runs, operator=who)))
    assert found.trends[0].differ is None
    said = trend_sentence(found.trends[0], found, log.process)
    assert "no trend can be shown yet; mostly other operators worked in each semester" in said


def test_many_new_operators_leave_a_trend_to_be_told(log_of: Build) -> None:
    """Six new operators each semester, all alike: whole operators are dealt, and it is said."""
    log = semesters(log_of, (0.4, 0.2, 0.05))
    who = np.array([f"{place}{run % 6}" for place in range(3) for run in range(60)])
    found = told(replace(log, runs=replace(log.runs, operator=who)))
    (trend,) = found.trends
    assert trend.dealt == "operators"
    assert trend.luck <= 0.001
    assert "mostly new hands each semester, so whole operators were dealt." in trend_sentence(
        trend, found, log.process
    )
