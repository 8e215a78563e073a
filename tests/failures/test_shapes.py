"""Shapes of one parameter."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.failures.scales import Scale, choose_scale, quantiles, skewness
from weakstep.failures.shapes import bends, evaluate_all, level_shapes, number_shapes, yes_no_shapes


def test_right_skewed_positive_values_are_taken_on_logarithms():
    """Lognormal values become symmetric; a value of 0 or below forbids it."""
    values = np.random.default_rng(3).lognormal(3.0, 0.8, 300)
    assert choose_scale(values, log_declared=False).log
    assert not choose_scale(np.append(values, 0.0), log_declared=False).log
    assert not choose_scale(values - values.max() - 1.0, log_declared=True).log


def test_symmetric_values_are_left_unless_declared():
    """The description decides where it speaks."""
    values = np.random.default_rng(4).normal(50.0, 4.0, 300)
    assert not choose_scale(values, log_declared=False).log
    assert choose_scale(values, log_declared=True).log


def test_one_odd_run_cannot_carry_a_shape():
    """Values beyond the 2 and 98 % quantiles count as these."""
    values = np.append(np.random.default_rng(5).normal(size=99), 1e6)
    column = number_shapes(values, choose_scale(values, log_declared=False))[0].evaluate(values)
    assert np.abs(column).max() < 4.0


def test_twelve_shapes_each_standardised():
    """A line, eight hinges and three squared distances: mean 0, standard deviation 1."""
    values = np.random.default_rng(6).normal(size=200)
    shapes = number_shapes(values, Scale(False, -2.0, 2.0))
    assert [shape.kind for shape in shapes] == ["line", *["above", "below"] * 4, *["away"] * 3]
    columns = np.array([shape.evaluate(values) for shape in shapes])
    np.testing.assert_allclose(columns.mean(axis=1), 0.0, atol=1e-12)
    np.testing.assert_allclose(columns.std(axis=1), 1.0, atol=1e-12)
    assert [shape.positive for shape in shapes] == [0.5] * 9 + [1.0] * 3


def test_shapes_that_repeat_others_or_few_runs_carry_are_left_out():
    """Two values make one shape; a hinge that 4 runs carry is none."""
    two = np.repeat([1.0, 2.0], 20)
    assert len(number_shapes(two, Scale(False, 1.0, 2.0))) == 1
    lonely = np.concatenate([np.zeros(50), np.ones(4)])
    assert number_shapes(lonely, Scale(False, 0.0, 1.0)) == ()
    assert yes_no_shapes(lonely) == ()


def test_bends_level_off():
    """Far from its knot a bend no longer changes; nine bends rise on both sides."""
    values = np.random.default_rng(7).normal(size=200)
    scale = Scale(False, -100.0, 100.0)
    found = bends(values, scale)
    for shape in found:
        far, farther = shape.evaluate(np.array([80.0, 95.0]))
        assert far == pytest.approx(farther, abs=1e-6)
        low, high = shape.evaluate(np.array([-80.0, 80.0]))
        assert (low == pytest.approx(high, abs=1e-6)) == (shape.positive == 1.0)
    assert [shape.kind for shape in found].count("outside") == 9


def test_levels_compare_one_with_the_rest():
    """Levels with fewer than 5 runs on either side are not tried."""
    codes = np.array([0.0] * 20 + [1.0] * 10 + [2.0] * 4)
    shapes = level_shapes(codes, 3)
    assert [shape.knot for shape in shapes] == [0.0, 1.0]
    column = shapes[1].evaluate(codes)
    assert len(np.unique(column[codes != 1.0])) == 1


def test_skewness_of_a_constant_is_zero():
    """Nothing is divided by 0."""
    assert skewness(np.ones(5)) == 0.0
    assert skewness(np.array([0.0, 0.0, 1.0])) == pytest.approx(1 / np.sqrt(2))


def test_all_at_once_is_one_by_one():
    """Numbers of every kind of shape, and levels of a category; also where nothing was logged."""
    rng = np.random.default_rng(8)
    values = rng.lognormal(1.0, 0.7, 90)
    scale = choose_scale(values, log_declared=True)
    shapes = (*number_shapes(values, scale), *bends(values, scale))
    assert {one.kind for one in shapes} == {"line", "above", "below", "away", "bend", "outside"}
    values[::7] = np.nan
    one_by_one = np.array([shape.evaluate(values) for shape in shapes])
    assert evaluate_all(shapes, values) == pytest.approx(one_by_one, nan_ok=True)
    codes = rng.integers(0, 3, 90).astype(float)
    levels = level_shapes(codes, 3)
    one_by_one = np.array([shape.evaluate(codes) for shape in levels])
    assert evaluate_all(levels, codes) == pytest.approx(one_by_one)


def test_quantiles_are_those_of_numpy():
    """Linear interpolation between ordered values, numpy's default."""
    values = np.random.default_rng(9).normal(size=37)
    levels = (0.02, 0.2, 0.5, 0.77, 0.98)
    assert quantiles(values, levels) == pytest.approx(np.quantile(values, levels), abs=1e-14)
