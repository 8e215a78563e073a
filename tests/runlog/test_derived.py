"""Computed columns against values recomputed by hand, and logged values that disagree."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from weakstep.process.model import Process
from weakstep.runlog.model import Problem, RunLog

ReadText = Callable[..., RunLog]


# Time to full cure in minutes. Those of 25, 100, 125 and 150 C stem from a supplier table that is
# quoted from memory (48 h, 45 min, 20 min, 10 min); the column is the Arrhenius line through it.
@pytest.mark.parametrize(
    ("celsius", "minutes"),
    [
        (25, 2700),
        (40, 1065),
        (50, 600),
        (60, 350),
        (65, 270),
        (70, 211),
        (75, 166),
        (80, 131),
        (90, 83),
        (100, 54),
        (125, 20),
        (150, 8.6),
    ],
)
def test_equivalent_cure_is_one_after_the_time_to_full_cure(
    read_text: ReadText, celsius: float, minutes: float
) -> None:
    """At each temperature of the table, within its rounding (2 %)."""
    text = f"run_id,cure_c,cure_h,outcome\nR1,{celsius},{minutes / 60},good\n"
    assert read_text(text).chips["equivalent_cure"][0] == pytest.approx(1.0, rel=0.025)


@pytest.mark.parametrize(
    ("celsius", "hours", "equivalent"),
    [(65, 4, 0.89), (80, 2, 0.92), (65, 2, 0.44), (75, 1.5, 0.54)],
)
def test_equivalent_cure_of_usual_recipes(
    read_text: ReadText, celsius: float, hours: float, equivalent: float
) -> None:
    """To the two digits worked out by hand from the same table."""
    text = f"run_id,cure_c,cure_h,outcome\nR1,{celsius},{hours},good\n"
    assert read_text(text).chips["equivalent_cure"][0] == pytest.approx(equivalent, abs=0.005)


def test_activation_energy_is_the_least_squares_fit(process: Process) -> None:
    """The constants are the line through the four remembered values, by the normal equations."""
    x = [1 / (8.31446 * (celsius + 273.15)) for celsius in (25, 100, 125, 150)]
    y = [math.log(minutes) for minutes in (48 * 60, 45, 20, 10)]
    mean_x, mean_y = sum(x) / 4, sum(y) / 4
    slope = sum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True)) / sum(
        (a - mean_x) ** 2 for a in x
    )
    assert process.constants["cure_activation_j_mol"] == pytest.approx(slope, rel=1e-3)
    assert process.constants["cure_log_minutes"] == pytest.approx(mean_y - slope * mean_x, rel=1e-3)


# Worked by hand from the Magnus form, to the digit printed.
@pytest.mark.parametrize(
    ("celsius", "humidity", "grams"),
    [(21, 20, 3.7), (21, 40, 7.3), (23, 60, 12.3), (25, 75, 17.2)],
)
def test_absolute_humidity(
    read_text: ReadText, celsius: float, humidity: float, grams: float
) -> None:
    """Grams of water per cubic metre of air."""
    text = f"run_id,room_c,rh_pct,outcome\nR1,{celsius},{humidity},good\n"
    got = read_text(text).chips["absolute_humidity_g_m3"][0]
    assert got == pytest.approx(grams, abs=0.06)


# Density of saturated water vapour, g/m3, as steam tables print it (memory). The Magnus form with
# the WMO coefficients stays within 0.5 % of them at room temperatures.
@pytest.mark.parametrize(("celsius", "grams"), [(10, 9.40), (20, 17.29), (30, 30.38)])
def test_saturated_air_against_steam_tables(
    read_text: ReadText, celsius: float, grams: float
) -> None:
    """A second road to the same quantity."""
    text = f"run_id,room_c,rh_pct,outcome\nR1,{celsius},100,good\n"
    got = read_text(text).chips["absolute_humidity_g_m3"][0]
    assert got == pytest.approx(grams, rel=0.005)


def test_slab_thickness_and_dose(read_text: ReadText) -> None:
    """38.5 g in a dish of 10 cm (78.5 cm2) is 4.76 mm at 1.03 g/cm3; 30 W for 40 s is 1200 J."""
    text = "run_id,poured_g,mould_area_cm2,power_w,plasma_s,outcome\nR1,38.5,78.54,30,40,good\n"
    chips = read_text(text).chips
    assert chips["slab_mm"][0] == pytest.approx(4.76, abs=0.005)
    assert chips["plasma_dose_j"][0] == 1200.0


def test_a_formula_without_its_parts_is_left_alone(read_text: ReadText) -> None:
    """No column appears that nobody logged."""
    chips = read_text("run_id,base_g,cure_c,outcome\nR1,10,65,good\n").chips
    assert not {"ratio", "equivalent_cure", "slab_mm", "plasma_dose_j"} & set(chips.columns)


def test_a_logged_setting_gives_way_to_its_parts(
    read_text: ReadText, the_problem: Callable[[RunLog, str], Problem]
) -> None:
    """Ten to one was meant, 10.4 was weighed; beyond 5 % the difference is told."""
    text = "run_id,ratio,base_g,agent_g,outcome\nR1,10,20.8,2,good\nR2,10:1,24,2,ok\nR3,9,,,ok\n"
    log = read_text(text)
    assert log.chips["ratio"].tolist() == [10.4, 12.0, 9.0]
    problem = the_problem(log, "disagrees_with_computed")
    assert (problem.line, problem.found) == (3, "10:1")
    assert "is 10; its parts give 12; the computed 12 is used" in problem.message


def test_a_logged_reading_stays(
    read_text: ReadText, the_problem: Callable[[RunLog, str], Problem]
) -> None:
    """A thickness measured is better than one computed; gaps are filled."""
    text = "run_id,slab_mm,poured_g,mould_area_cm2,outcome\nR1,6,38.5,78.54,ok\nR2,,38.5,78.54,ok\n"
    log = read_text(text)
    assert log.chips["slab_mm"].tolist() == pytest.approx([6.0, 4.759], abs=1e-3)
    assert "the logged 6 is used" in the_problem(log, "disagrees_with_computed").message


def test_swapped_masses_do_not_spoil_a_logged_ratio(read_text: ReadText) -> None:
    """The swap is pointed out, and the two masses count as missing."""
    log = read_text("run_id,ratio,base_g,agent_g,outcome\nR1,10,2,20,good\n")
    assert log.chips["ratio"].tolist() == [10.0]
    assert log.chips[["base_g", "agent_g"]].isna().all().all()
    told = [problem for problem in log.problems if problem.code == "rule_broken"]
    assert [(p.severity, p.column, p.found) for p in told] == [
        ("cell_missing", "agent_g", "20"),
        ("cell_missing", "base_g", "2"),
    ]
    assert "count as missing: agent_g, base_g" in told[0].message


def test_an_implausible_computed_value_replaces_nothing(
    read_text: ReadText, the_problem: Callable[[RunLog, str], Problem]
) -> None:
    """A ratio of 100 cannot be; the logged one is kept and the difference told."""
    log = read_text("run_id,ratio,base_g,agent_g,outcome\nR1,10,20,0.2,good\n")
    assert log.chips["ratio"].tolist() == [10.0]
    assert "the logged 10 is used" in the_problem(log, "disagrees_with_computed").message


def test_a_rule_that_only_asks(
    read_text: ReadText, the_problem: Callable[[RunLog, str], Problem]
) -> None:
    """More poured than mixed may be two batches: used as read, and asked about."""
    log = read_text("run_id,base_g,agent_g,poured_g,outcome\nR1,20,2,40,good\n")
    assert the_problem(log, "rule_broken").severity == "question"
    assert log.chips["poured_g"].tolist() == [40.0]
