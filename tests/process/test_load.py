"""Reading process descriptions: the built-in one, a lab's own, and wrong ones."""

from __future__ import annotations

import dataclasses
import subprocess
import sys
from pathlib import Path

import pytest

from weakstep.errors import ProcessError
from weakstep.process.load import load_process
from weakstep.process.model import Process
from weakstep.process.words import plain

SMALL = """
name = "solder"
title = "Soldering boards"
item = "board"

[steps.iron]
label = "Iron"

[parameters.tip_c]
step = "iron"
role = "setting"
unit = "C"
lower = 100
upper = 450

[parameters.passed]
role = "outcome"
kind = "category"

[families.joint]
label = "joints"

[modes.good]
verdict = "good"
aliases = ["1"]

[modes.cold_joint]
verdict = "failed"
family = "joint"
aliases = ["0"]
likely_steps = { iron = 3 }
"""


def write(folder: Path, text: str, name: str = "lab.toml") -> Path:
    """Write a description and return its path."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_loading_needs_neither_pandas_nor_numpy() -> None:
    """The command line stays fast."""
    code = (
        "import sys; from weakstep.process.load import load_process; load_process(); "
        "import weakstep.runlog.model; "
        "print(sorted({'pandas', 'numpy', 'pandera'} & set(sys.modules)))"
    )
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == "[]"


def test_another_process_needs_another_file_only(tmp_path: Path) -> None:
    """Soldering is described in thirty lines; an untested mode is added by itself."""
    process = load_process(write(tmp_path, SMALL))
    assert (process.item, process.items) == ("board", "boards")
    assert process.parameter("tip_c").label == "tip c"
    assert process.mode("not_tested").verdict == "untested"
    assert process.mode("cold_joint").likely_steps == {"iron": 3}


def test_a_lab_overrides_single_keys(tmp_path: Path, built_in: Process) -> None:
    """Constants and limits replace; aliases are added; all else stays."""
    path = write(
        tmp_path,
        """
        extends = "soft_lithography"
        [constants]
        density_g_cm3 = 1.1
        [parameters.delay_s]
        upper = 3600
        aliases = ["gap time"]
        [parameters.operator.spellings]
        AK = ["ak", "a k"]
        [rated_limits.resin_oven]
        parameter = "cure_c"
        upper = 60
        where = { mould_material = "resin" }
        because = "the resin softens above it"
        caution = "mould"
        """,
    )
    lab = load_process(path)
    assert lab.constants["density_g_cm3"] == 1.1
    assert lab.constants["gas_constant_j_mol_k"] == built_in.constants["gas_constant_j_mol_k"]
    delay, before = lab.parameter("delay_s"), built_in.parameter("delay_s")
    assert delay == dataclasses.replace(before, upper=3600.0, aliases=(*before.aliases, "gap time"))
    assert lab.parameter("operator").spellings == {"AK": ("ak", "a k")}
    assert lab.rated_limits[-1].where == {"mould_material": "resin"}
    assert lab.sha256 != built_in.sha256
    assert load_process() == built_in


def test_extending_a_file_by_its_path(tmp_path: Path) -> None:
    """A path is taken from the folder of the file that extends it."""
    write(tmp_path, SMALL, "base.toml")
    lab = load_process(write(tmp_path, 'extends = "base.toml"\ntitle = "Ours"'))
    assert (lab.name, lab.title) == ("solder", "Ours")


@pytest.mark.parametrize(
    ("was", "put", "message"),
    [
        ("lower = 100", "lower = 'abc'", "parameters.tip_c.lower: found 'abc', expected a number"),
        ("lower = 100", "lower = nan", "parameters.tip_c.lower: found nan, expected a finite numb"),
        ("lower = 100", "lower = 500", "parameters.tip_c.lower: found 500.0, expected a number be"),
        ("lower = 100", "lowr = 1", "parameters.tip_c.lowr: unknown key; did you mean 'lower'?"),
        ('role = "setting"', 'role = "seting"', "role: found 'seting', expected one of setting"),
        ('role = "setting"', "", "parameters.tip_c.role: is missing, expected a text"),
        ('unit = "C"', "unit = 3", "parameters.tip_c.unit: found 3, expected a text"),
        ('unit = "C"', "decimals = true", "decimals: found True, expected a whole number"),
        ('unit = "C"', "per = 0", "parameters.tip_c.per: found 0, expected a number above 0"),
        ('unit = "C"', "aliases = 'x'", "aliases: found 'x', expected a list of texts"),
        ('unit = "C"', "interchangeable = 1", "interchangeable: found 1, expected true or false"),
        ('unit = "C"', "formula = 'tp_c * 2'", "formula: found 'tp_c', which is no described col"),
        ('unit = "C"', "formula = 'tip_c * 2'", "formula of a column cannot use the column itself"),
        ('unit = "C"', "formula = 'eval(1)'", "tip_c.formula: found 'eval(1)', expected arithme"),
        ('unit = "C"', "formula = 'passed * 2'", "'passed' is a column of kind 'category'"),
        ('unit = "C"', "cautions = ['hot']", "cautions: found 'hot', which is no described cautio"),
        ('step = "iron"', 'step = "irn"', "step: found 'irn', which is no described step; did you"),
        ("{ iron = 3 }", "{ iron = 7 }", "likely_steps.iron: found 7, expected 1 (weak), 2 or 3"),
        ('family = "joint"', 'family = "jont"', "modes.cold_joint.family: found 'jont', which is"),
        ('["0"]', '["1"]', "'1' already stands for 'good'; a word can mean one outcome"),
        ('verdict = "failed"', 'verdict = "good"', 'no mode has verdict = "failed"'),
        ('name = "solder"', "", "name: is missing, expected a text"),
        ('name = "solder"', 'nmae = "solder"', "nmae: unknown key; did you mean 'name'?"),
        ('name = "solder"', "name = ", "is not valid TOML"),
        ("[steps.iron]", "[steps.'hot iron']", "a name may hold letters, digits and _ only"),
        ("[steps.iron]", "steps = 3\n[constants]", "steps: found 3, expected a table"),
        ("[steps.iron]", "interactions = [['tip_c']]\n[steps.iron]", "expected a list of pairs"),
        (
            "[steps.iron]",
            "[parameters.started_at]\nrole = 'identity'\n[steps.iron]",
            "must be time",
        ),
        (
            "[steps.iron]",
            "interactions = [['tip_c', 'x']]\n[steps.iron]",
            "interactions: found 'x'",
        ),
    ],
)
def test_each_error_names_file_and_key(tmp_path: Path, was: str, put: str, message: str) -> None:
    """One clear sentence, with the nearest known word where a word is wrong."""
    assert was in SMALL
    path = write(tmp_path, SMALL.replace(was, put, 1))
    with pytest.raises(ProcessError, match=r"^lab\.toml: ") as caught:
        load_process(path)
    shown = str(caught.value)
    assert message in shown
    assert "\n" not in shown


def test_formulas_in_a_circle_are_refused(tmp_path: Path) -> None:
    """Two columns cannot be computed from each other."""
    circle = """
    [parameters.a]
    step = "iron"
    role = "reading"
    formula = "b + 1"
    [parameters.b]
    step = "iron"
    role = "reading"
    formula = "a - 1"
    """
    with pytest.raises(ProcessError, match="need each other in a circle"):
        load_process(write(tmp_path, SMALL + circle))


def test_two_columns_cannot_share_a_header_word(tmp_path: Path) -> None:
    """Words are compared without capitals and dashes."""
    second = """
    [parameters.tip_set]
    step = "iron"
    role = "setting"
    aliases = ["TIP-C"]
    """
    with pytest.raises(ProcessError, match="'tip c' already names the column 'tip_c'"):
        load_process(write(tmp_path, SMALL + second))


def test_missing_file_and_wrong_encoding(tmp_path: Path) -> None:
    """A file that is not there or not UTF-8 is told in one sentence."""
    with pytest.raises(ProcessError, match="there is no such process description"):
        load_process(tmp_path / "none.toml")
    with pytest.raises(ProcessError, match="cannot be read"):
        load_process(tmp_path)
    bad = tmp_path / "latin.toml"
    bad.write_bytes('name = "für"'.encode("cp1252"))
    with pytest.raises(ProcessError, match=r"latin\.toml: is not UTF-8 text"):
        load_process(bad)


def test_descriptions_extending_each_other_are_refused(tmp_path: Path) -> None:
    """A circle of extends ends with a message."""
    write(tmp_path, 'extends = "b.toml"', "a.toml")
    write(tmp_path, 'extends = "a.toml"', "b.toml")
    with pytest.raises(ProcessError, match="extend each other in a circle"):
        load_process(tmp_path / "a.toml")


@pytest.mark.parametrize("word", ["Cure Temp", "cure_temp", "CURE-TEMP.", " cure  temp "])
def test_words_are_compared_by_sense(word: str) -> None:
    """Capitals, dashes and spaces do not make another word."""
    assert plain(word) == "cure temp"


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ("tolerance_low = 350\ntolerance_high = 350", "tolerance_high, which is 350"),
        ('tolerance_low = "warm"', "tip_c.tolerance_low"),
        ('kind = "category"\ntolerance_high = 3', 'kind "number" can have a tolerance'),
    ],
)
def test_wrong_tolerances_are_refused(tmp_path: Path, lines: str, words: str) -> None:
    """Each is told with the key in one sentence."""
    file = tmp_path / "lab.toml"
    file.write_text(SMALL.replace("upper = 450", f"upper = 450\n{lines}"), encoding="utf-8")
    with pytest.raises(ProcessError, match=words):
        load_process(file)


def test_tolerance_of_a_counter_is_refused(tmp_path: Path) -> None:
    """A counter is set back, so no range can be asked of it."""
    file = tmp_path / "lab.toml"
    counter = SMALL.replace('role = "setting"', 'role = "counter"\ntolerance_high = 3')
    file.write_text(counter, encoding="utf-8")
    with pytest.raises(ProcessError, match="a counter wears and is set back"):
        load_process(file)


def test_tolerances_are_read(tmp_path: Path) -> None:
    """One limit or both."""
    file = tmp_path / "lab.toml"
    text = SMALL.replace("upper = 450", "upper = 450\ntolerance_low = 340\ntolerance_high = 360")
    file.write_text(text, encoding="utf-8")
    tip = load_process(file).parameter("tip_c")
    assert (tip.tolerance_low, tip.tolerance_high) == (340.0, 360.0)


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ('worse_when = "hot"', "tip_c.worse_when"),
        ('kind = "yes_no"\nworse_when = "both_ends"', "tip_c.worse_when"),
        ('kind = "category"\nworse_when = "high"', "only a factor of kind number or yes_no"),
    ],
)
def test_wrong_expectations_are_refused(tmp_path: Path, lines: str, words: str) -> None:
    """An unknown word, a yes/no with two ends, a category with any."""
    text = SMALL.replace("lower = 100\nupper = 450", lines)
    with pytest.raises(ProcessError, match=words):
        load_process(write(tmp_path, text))


def test_expectations_are_read(tmp_path: Path, built_in: Process) -> None:
    """From a lab's own file; the built-in process expects most of its factors, no room, no lot."""
    text = SMALL.replace("upper = 450", 'upper = 450\nworse_when = "both_ends"')
    assert load_process(write(tmp_path, text)).parameter("tip_c").worse_when == "both_ends"
    assert load_process(write(tmp_path, SMALL)).parameter("tip_c").worse_when == ""
    own = 'extends = "soft_lithography"\n[parameters.delay_s]\nworse_when = ""\n'
    assert load_process(write(tmp_path, own)).parameter("delay_s").worse_when == ""
    expected = {
        name: built_in.parameter(name).worse_when
        for name in ("delay_s", "degas_min", "plasma_s", "touched", "room_c", "kit_lot")
    }
    assert expected == {
        "delay_s": "high",
        "degas_min": "low",
        "plasma_s": "both_ends",
        "touched": "high",
        "room_c": "",
        "kit_lot": "",
    }
