"""Text of a log can do no harm in a spreadsheet, and numbers stay numbers."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from weakstep.runlog.listing import problems_csv
from weakstep.runlog.model import RunLog
from weakstep.runlog.safe import as_typed, safe_cell

# The first characters that the OWASP note "CSV Injection" lists (from memory).
ACTING = ("=", "+", "-", "@", "\t", "\r")


@pytest.mark.parametrize("number", ["-5", "+3.5", "-0,09", "-1e-3", "-12%", "-.5"])
def test_numbers_are_left_as_they_are(number: str) -> None:
    """A minus in front of a number is no formula."""
    assert safe_cell(number) == number


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.text(max_size=12))
def test_no_text_acts_and_every_text_comes_back(text: str) -> None:
    """Only plain numbers may begin with a sign; the apostrophe is taken off when read."""
    safe = safe_cell(text)
    if safe.startswith(ACTING):
        float(safe.rstrip("%").replace(",", "."))
    if not text.startswith("'"):
        assert as_typed(safe) == text.strip()


def test_formulas_from_a_log_are_neutral_where_problems_are_listed(
    read_text: Callable[..., RunLog],
) -> None:
    """A number that begins with a sign stays as it is."""
    log = read_text(
        "chip_id,run_id,delay_s,outcome\n=1+1,R1,@SUM(A1),ok\n=1+1,R1,@SUM(A1),ok\nC2,R2,-5,ok\n"
    )
    listed = list(csv.reader(io.StringIO(problems_csv(log))))
    cells = [cell for row in listed for cell in row]
    assert {"'=1+1", "-5"} <= set(cells)
    assert not [cell for cell in cells if cell.startswith(("=", "@", "+"))]
