"""Limits of combined patterns for a stated run length or chance of alarm."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.charts import (
    NELSON,
    WESTERN_ELECTRIC,
    average_run_length,
    beyond,
    completions,
    false_alarm,
    pattern_width,
    shewhart_width,
)


def test_one_pattern_is_the_shewhart_chart() -> None:
    """Beyond a limit alone: the width of `shewhart_width`, by run length and by chance."""
    for asked in ({"run_length": 250.0}, {"family_wise": 0.05, "n_points": 150, "n_charts": 20}):
        found = pattern_width(["beyond_limit"], **asked)  # type: ignore[arg-type]
        assert found == pytest.approx(shewhart_width(**asked), abs=1e-6)  # type: ignore[arg-type]


@pytest.mark.parametrize("names", [WESTERN_ELECTRIC[:3], ("beyond_limit", "eight_one_side")])
def test_run_length_is_kept(names: tuple[str, ...]) -> None:
    """Patterns of one's own with all lines moved by the width have the run length asked for."""
    width = pattern_width(names, run_length=200.0)
    shapes = {
        "beyond_limit": beyond(1, 1, width),
        "two_of_three": beyond(2, 3, 2 * width / 3),
        "four_of_five": beyond(4, 5, width / 3),
        "eight_one_side": beyond(8, 8, 0.0),
    }
    assert average_run_length([shapes[name] for name in names]) == pytest.approx(200.0, rel=1e-5)


def test_chance_is_kept_by_simulation() -> None:
    """Five charts of 60 points with three patterns alarm in 10 % (3 errors of 10000)."""
    names = WESTERN_ELECTRIC[:3]
    width = pattern_width(names, family_wise=0.10, n_points=60, n_charts=5)
    z = np.random.default_rng(51).normal(size=(10_000, 5, 60)) * 3 / width
    signals = np.any([hits.any(axis=(1, 2)) for hits in completions(z, names).values()], axis=0)
    assert signals.mean() == pytest.approx(0.10, abs=3 * np.sqrt(0.09 / 10_000))


def test_chance_of_several_charts() -> None:
    """As they stand: 1 - (1 - a)^M."""
    alone = false_alarm(150, NELSON)
    assert false_alarm(150, NELSON, n_charts=4) == pytest.approx(1 - (1 - alone) ** 4)
    assert false_alarm(0, NELSON, n_charts=4) == 0.0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: pattern_width(WESTERN_ELECTRIC, run_length=300.0), "best of any is .* 255 points"),
        (
            lambda: pattern_width(family_wise=0.05, n_points=150),
            r"no alarm of 0\.\d+ on each chart",
        ),
        (lambda: pattern_width(["nine_one_side"], run_length=300.0), "shorter run length"),
        (lambda: pattern_width(), "either run_length or family_wise"),
        (lambda: pattern_width([], run_length=300.0), "at least one pattern"),
        (lambda: pattern_width(family_wise=0.05, n_points=0), "n_points must be a whole number"),
        (lambda: false_alarm(10, n_charts=0), "n_charts must be a whole number"),
        (lambda: false_alarm(-1), "n_points must be a whole number"),
    ],
)
def test_refusals(call, words: str) -> None:  # type: ignore[no-untyped-def]
    """What cannot be had is told, with the best that can."""
    with pytest.raises(ValueError, match=words):
        call()
