"""Plans of trials as files: what survives, and what is no plan."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from weakstep.errors import LogError
from weakstep.trials.planned import TrialPlan, plan_json, read_plan


def test_a_plan_of_an_earlier_version_reads_back(plan: TrialPlan, tmp_path: Path) -> None:
    """Keys that came later may be missing from a trial.json that lies beside a filled sheet."""
    found = json.loads(plan_json(plan))
    del found["deviation"], found["runs_a_day"]
    (tmp_path / "trial.json").write_text(json.dumps(found), encoding="utf-8")
    assert read_plan(tmp_path / "trial.json").runs == plan.runs


def test_the_plan_survives_its_file(plan: TrialPlan, tmp_path: Path) -> None:
    """Written and read back, it is the same."""
    (tmp_path / "trial.json").write_text(plan_json(plan), encoding="utf-8")
    assert read_plan(tmp_path / "trial.json") == plan


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"schema": "weakstep.trial/1"}', '{"schema": 1}']
)
def test_a_broken_plan_is_one_sentence(text: str, tmp_path: Path) -> None:
    """No traceback for a file that is no plan."""
    (tmp_path / "trial.json").write_text(text, encoding="utf-8")
    with pytest.raises(LogError, match="no plan that 'weakstep trial' wrote"):
        read_plan(tmp_path / "trial.json")
    with pytest.raises(LogError, match="cannot be read"):
        read_plan(tmp_path / "none.json")


@pytest.mark.parametrize(
    "change",
    [
        {"runs": []},
        {"columns": []},
        {"columns": ["delay_s", "dry_min"]},
        {"levels": [[35.0]]},
        {"levels": [["low", "high"]]},
        {"generators": "2=1"},
        {"rates": None},
        {"rates": [0.1]},
        {"difference": 3.0},
        {"alpha": None},
        {"alpha": 1.5},
        {"power": "much"},
    ],
)
def test_a_plan_changed_by_hand_is_one_sentence(
    plan: TrialPlan, change: dict[str, object], tmp_path: Path
) -> None:
    """Parts that do not fit each other are no plan, and no traceback later."""
    found = {**json.loads(plan_json(plan)), **change}
    (tmp_path / "trial.json").write_text(json.dumps(found), encoding="utf-8")
    with pytest.raises(LogError, match="no plan that 'weakstep trial' wrote"):
        read_plan(tmp_path / "trial.json")
