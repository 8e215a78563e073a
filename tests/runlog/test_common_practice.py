"""
What every lab would call an ordinary run is read without a word.

All values here are common practice, no source: 10 g of base and 1 g of agent, stirred 5 min,
degassed 30 min, cured 24 h at 40 C in a printed mould, pumped down 120 s, exposed 30 to 60 s,
brought into contact at once, left 30 min before liquid.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest

from weakstep.process.load import load_process
from weakstep.process.model import Process
from weakstep.runlog.model import Problem, RunLog

ReadText = Callable[..., RunLog]

HEADER = (
    "chip_id,run_id,started_at,operator,mould_id,mould_material,mould_softening_c,base_g,agent_g,"
    "mix_min,degas_min,cure_c,cure_h,pumpdown_s,plasma_s,delay_s,wait_h,outcome"
)
RUN = (
    "{chip},{run},2026-03-0{day} 14:00,OP1,M1,resin,60,{base},{agent},"
    "5,30,{cure},24,120,{s},{delay},0.5,good"
)


def log_of(**changes: object) -> str:
    """Two ordinary runs, one exposed 30 s and one 60 s; *changes* go into both."""
    usual: dict[str, object] = {"base": 10, "agent": 1, "cure": 40}
    first = usual | {"chip": "C1", "run": "R1", "day": 2, "s": 30, "delay": 0} | changes
    second = usual | {"chip": "C2", "run": "R2", "day": 3, "s": 60, "delay": 1} | changes
    return "\n".join([HEADER, RUN.format(**first), RUN.format(**second)]) + "\n"


@pytest.fixture
def lab(tmp_path: Path) -> Process:
    """Describe a lab that weighed its own mix and found 1.1 g/cm3."""
    path = tmp_path / "lab.toml"
    path.write_text('extends = "soft_lithography"\n[constants]\ndensity_g_cm3 = 1.1\n')
    return load_process(path)


def test_common_practice_passes(read_text: ReadText, lab: Process) -> None:
    """No problem at all, and no cell read with care."""
    log = read_text(log_of(), described=lab)
    assert log.problems == ()
    assert log.care == ()
    assert log.chips["ratio"].tolist() == [10.0, 10.0]
    assert log.chips["mix_cm3"].tolist() == pytest.approx([10.0, 10.0], rel=1e-12)
    assert (log.chips["equivalent_cure"] > 1).all()


def test_contact_at_once_does_not_break_the_log_scale(read_text: ReadText, lab: Process) -> None:
    """A delay of 0 s has no logarithm; the run's mean is then the plain one."""
    log = read_text(log_of(run="R1"), described=lab)
    assert log.runs.numbers["delay_s"].tolist() == [0.5]
    assert log.runs.numbers["wait_h"].tolist() == pytest.approx([0.5])


def test_oven_above_the_softening_temperature_of_the_mould(
    read_text: ReadText, lab: Process
) -> None:
    """The same run at 65 C in a mould that softens at 60 C is a problem with its caution."""
    log = read_text(log_of(cure=65), described=lab)
    assert [p.code for p in log.problems] == ["beyond_rated_limit"] * 2
    problem = log.problems[0]
    assert (problem.line, problem.column, problem.found) == (2, "cure_c", "65")
    assert problem.message == "The cure temperature is above 60 C: the mould softens there."
    assert "Do not heat a mould to its softening temperature" in problem.action


def test_a_limit_of_one_material_only(read_text: ReadText, tmp_path: Path) -> None:
    """A lab may write the limit itself, for the moulds it holds for."""
    path = tmp_path / "lab.toml"
    path.write_text(
        'extends = "soft_lithography"\n[rated_limits.resin]\nparameter = "cure_c"\nupper = 55\n'
        'where = { mould_material = "Resin" }\nbecause = "our resin warps"\ncaution = "mould"\n'
    )
    text = log_of(cure=58).replace("C2,R2,2026-03-03 14:00,OP1,M1,resin", "C2,R2,,OP1,M1,steel")
    log = read_text(text, described=load_process(path))
    assert [(p.code, p.line) for p in log.problems] == [("beyond_rated_limit", 2)]
    assert "above 55 C: our resin warps" in log.problems[0].message


def test_a_small_batch_is_told_how_much_its_ratio_can_be_off(
    read_text: ReadText, the_problem: Callable[[RunLog, str], Problem]
) -> None:
    """5 g and 0.5 g, each weighed to 0.05 g: sqrt(0.01^2 + 0.1^2), which is 10 %."""
    assert math.hypot(0.05 / 5, 0.05 / 0.5) == pytest.approx(0.10, abs=0.001)
    text = "chip_id,run_id,base_g,agent_g,weighed_to_g,outcome\nC1,R1,5,0.5,0.05,good\n"
    problem = the_problem(read_text(text), "uncertain_value")
    assert "can be off by 10 %" in problem.message
    large = text.replace("5,0.5,", "20,2,")
    assert read_text(large).problems == ()


def test_the_lab_states_its_balance_once(read_text: ReadText, tmp_path: Path) -> None:
    """weighed_to_g may be a constant of the lab instead of a column."""
    path = tmp_path / "lab.toml"
    path.write_text('extends = "soft_lithography"\n[constants]\nweighed_to_g = 0.05\n')
    text = "chip_id,run_id,base_g,agent_g,outcome\nC1,R1,5,0.5,good\nC2,R2,20,2,good\n"
    log = read_text(text, described=load_process(path))
    assert [(p.code, p.line) for p in log.problems] == [("uncertain_value", 2)]
