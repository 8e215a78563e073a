"""What each failure mode alone is linked to."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from weakstep.failures.by_mode import links_by_mode
from weakstep.failures.candidates import gather
from weakstep.failures.model import Factor
from weakstep.failures.null_model import logistic
from weakstep.interval import Interval
from weakstep.process.model import Mode

RUNS = 120


@pytest.fixture
def two_modes(log_of):
    """Return a log whose leaks follow the delay (contact) and whose peels follow nothing."""
    rng = np.random.default_rng(61)
    delay, ratio, tested = rng.normal(size=RUNS), rng.normal(size=RUNS), np.full(RUNS, 3)
    leaks = rng.binomial(tested, logistic(-3.0 + 1.5 * delay))
    peels = rng.binomial(tested - leaks, 0.08)
    failed = {"bond": leaks + peels}
    log = log_of({"ratio": ratio, "b": rng.normal(size=RUNS), "c": delay, "delay": delay}, failed,
                 tested)  # fmt: skip
    modes = (Mode("good", "good", "good"), *(Mode(name, name, "failed", "bond")
                                             for name in ("leak", "peel", "tear")))  # fmt: skip
    rows = []
    for run, (leak, peel) in enumerate(zip(leaks, peels, strict=True)):
        name = str(log.runs.run_id[run])
        rows += [(name, 1, 1, "leak")] * int(leak) + [(name, 1, 1, "peel")] * int(peel)
        rows += [(name, 1, 0, "good")] * int(3 - leak - peel)
    rows.append((str(log.runs.run_id[0]), 1, 1, "tear"))
    chips = pd.DataFrame(rows, columns=["run", "made", "failed", "mode"])
    return replace(log, chips=chips, process=replace(log.process, modes=modes))


def asked(log, factors=()):
    """Ask a log with one operator."""
    strata = np.zeros(RUNS, dtype=int)
    candidates, _ = gather(log.process, log.runs, strata)
    return links_by_mode(log, log.runs, candidates, factors, strata, np.random.default_rng(0))


def strong_factor(column, alike=()):
    """Return a factor that the ranking calls strong."""
    share = Interval(0.3, 0.1, 0.5, 0.9)
    return Factor(
        "bond", column, "contact", 1, share, None, None, "rises", None, "", 0.001, 0.001, 0.001,
        "strong", alike, 0.0, False, None, (),
    )  # fmt: skip


def test_each_mode_has_its_own_evidence(two_modes):
    """Leaks are linked to the delay, peels to nothing; a mode with one failure is not asked."""
    found = asked(two_modes, [strong_factor("delay")])
    assert (found["leak", "contact"].column, found["leak", "contact"].evidence) == (
        "delay",
        "strong",
    )
    assert found["leak", "mixing"].evidence == "none"
    assert {found["peel", step].evidence for step in ("mixing", "cure", "contact")} == {"none"}
    assert not any(mode == "tear" for mode, _ in found)


def test_no_strong_word_that_the_ranking_does_not_say(two_modes):
    """Without a strong factor the same link is 'some'; one alike to a strong factor is strong."""
    assert asked(two_modes)["leak", "contact"].evidence == "some"
    alike = asked(two_modes, [strong_factor("c", alike=("delay",))])
    assert alike["leak", "contact"].evidence == "strong"
    other = replace(strong_factor("delay"), family="port")
    assert asked(two_modes, [other])["leak", "contact"].evidence == "some"


def test_counted_logs_without_modes_of_a_run_say_nothing(log_of):
    """Chips that do not name their run."""
    log = log_of({"a": np.arange(30.0)}, {"bond": np.ones(30, dtype=int)}, np.full(30, 3))
    strata = np.zeros(30, dtype=int)
    candidates, _ = gather(log.process, log.runs, strata)
    assert links_by_mode(log, log.runs, candidates, (), strata, np.random.default_rng(0)) == {}
