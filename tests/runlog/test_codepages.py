"""Which code page a file is in, when it is neither UTF-8 nor marked."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from weakstep.runlog.codepages import code_page
from weakstep.runlog.model import RunLog

LOG = "chip;operator;delay (s);outcome;notes\nC1;{};30;good;{}\nC2;{};31;leak;\n"


@pytest.mark.parametrize(
    ("page", "operator", "notes"),
    [
        ("cp1252", "Müller", "größer als üblich"),
        ("cp1252", "José", "señal de 30 µm ± 2 °C"),
        ("cp1252", "Renée", "déjà séché – très humide"),
        ("cp1250", "Wiśniewski", "próbka wilgotna, później sucha; zażółć gęślą jaźń, łódź"),
        ("mac_roman", "Zoë", "déjà séché à l'étuve, préparé par l'élève"),
        ("cp1251", "Иванов", "проба сухая, хорошо"),
    ],
)
def test_letters_come_back(page: str, operator: str, notes: str) -> None:
    """Files of a few lines in the code pages that spreadsheets write."""
    text = LOG.format(operator, notes, operator)
    raw = text.encode(page)
    assert raw.decode(code_page(raw) or "ascii") == text


def test_what_is_not_usual_is_asked(read_text: Callable[..., RunLog]) -> None:
    """CP1252 is a note, any other page a question, and so are letters that look odd."""
    severities = []
    for raw in (
        LOG.format("Müller", "für 30 µm", "").encode("cp1252"),
        LOG.format("Łódź", "zażółć gęślą jaźń", "").encode("cp1250"),
        LOG.format("Müller", "", "").encode("mac_roman"),
    ):
        log = read_text(raw)
        severities += [one.severity for one in log.problems if one.code == "encoding"]
    assert severities == ["note", "question", "question"]
