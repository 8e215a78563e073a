"""What the description expects: a mild prior that moves power and costs no false alarm."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from weakstep.failures.candidates import gather
from weakstep.failures.expectations import ODDS, against, expecting
from weakstep.failures.permuting import draw_orders, score, share_reaching
from weakstep.failures.scales import Scale
from weakstep.failures.shapes import Shape, bends, number_shapes

SCALE = Scale(False, -3.0, 3.0)
VALUES = np.random.default_rng(3).normal(size=150)
SHAPES = (*number_shapes(VALUES, SCALE), *bends(VALUES, SCALE))


@pytest.mark.parametrize(("worse_when", "toward_high"), [("high", 0.75), ("low", 0.25)])
def test_a_direction_is_three_times_as_probable_as_the_other(worse_when, toward_high):
    """Whatever side a shape is written from: the coefficient's sign says where failures rise."""
    for before, after in zip(SHAPES, expecting(SHAPES, worse_when), strict=True):
        assert replace(after, positive=before.positive) == before
        ends = after.evaluate(np.array([-3.0, 3.0]))
        if before.positive == 1.0:
            assert after == before
        else:
            rises_high = after.positive if ends[1] > ends[0] else 1.0 - after.positive
            assert rises_high == pytest.approx(toward_high)


def test_both_ends_favour_shapes_with_a_middle():
    """Three times their weight, and no direction."""
    for before, after in zip(SHAPES, expecting(SHAPES, "both_ends"), strict=True):
        times = ODDS if before.kind in ("away", "outside") else 1.0
        assert after == replace(before, likely=before.likely * times)
    assert expecting(SHAPES, "") == SHAPES


def test_links_against_the_expectation_are_told():
    """A line that falls where high was expected to be worse; a hinge below its knot that rises."""
    line, below, away = Shape("line", 0.0, SCALE), Shape("below", 0.0, SCALE), SHAPES[10]
    assert [against(line, z, "high") for z in (2.0, -2.0)] == [False, True]
    assert [against(below, z, "high") for z in (2.0, -2.0)] == [True, False]
    assert [against(line, z, "low") for z in (2.0, -2.0)] == [True, False]
    assert not any(against(line, z, worse) for z in (2.0, -2.0) for worse in ("", "both_ends"))
    assert not against(away, -2.0, "high")
    assert not against(Shape("level", 0.0, None), -2.0, "low")


def strengths(worse_when: str, residuals: np.ndarray, x: np.ndarray) -> np.ndarray:
    """Return p-values of one parameter, each row of residuals being an outcome."""
    shapes = expecting((*number_shapes(x, SCALE), *bends(x, SCALE)), worse_when)
    columns = np.column_stack([shape.evaluate(x) for shape in shapes])
    orders = draw_orders(np.zeros(len(x), dtype=int), 99, np.random.default_rng(11))
    found = []
    for row in residuals:
        result = score(
            columns,
            row,
            np.zeros(len(shapes), dtype=int),
            np.array([shape.positive for shape in shapes]),
            orders,
            weights=np.array([shape.weight for shape in shapes]),
        )
        found.append(float(share_reaching(result.by_chance[0], result.strength)[0]))
    return np.array(found)


def test_expectations_move_power_and_cost_no_false_alarm():
    """
    300 outcomes of 60 runs a case.

    Where nothing goes on, p <= 0.05 in 5 % whatever is expected (more than 26 of 300 has
    probability .003). A weak straight rise is found more often when "high" was expected than when
    nothing was, and less often when "low" was: outcomes are paired, 2 % are beyond chance.
    """
    rng = np.random.default_rng(5)
    x = rng.normal(size=60)
    noise = rng.normal(size=(300, 60))
    for expected in ("high", "low", "both_ends"):
        assert (strengths(expected, noise, x) <= 0.05).sum() <= 26
    rising = noise + 0.3 * x
    found = {
        one: (strengths(one, rising, x) <= 0.05).mean() for one in ("high", "", "low", "both_ends")
    }
    assert found["high"] > found[""] + 0.02
    assert found[""] > found["low"] + 0.02
    assert found["low"] > 0.2


def test_candidates_carry_what_their_description_expects(log_of, parameter_of):
    """From the description to the shapes; silence leaves them as they are."""
    rng = np.random.default_rng(9)
    columns = {"delay": rng.normal(60, 9, 80), "ratio": rng.normal(10, 1, 80)}
    described = (parameter_of("delay", 0, worse_when="high"), parameter_of("ratio", 1))
    tested = np.ones(80, dtype=int)
    log = log_of(columns, {"bond": tested}, tested, parameters=described)
    delay, ratio = gather(log.process, log.runs, np.zeros(80, dtype=int))[0]
    assert delay.shapes[0].positive == pytest.approx(0.75)
    assert ratio.shapes[0].positive == 0.5
