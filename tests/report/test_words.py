"""Numbers into words: grammatical for 0, 1 and many, and no sharper than the data."""

from __future__ import annotations

import numpy as np
import pytest

from weakstep.interval import Interval
from weakstep.report import words


@pytest.mark.parametrize(
    ("number", "said"),
    [(0, "no runs"), (1, "1 run"), (2, "2 runs"), (1000, "1\u202f000 runs")],
)
def test_count_agrees_with_its_noun(number: int, said: str) -> None:
    """None, one and many each get the right noun."""
    assert words.count(number, "run") == said


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.0, "none"),
        (0.179, "about 1 in 6"),
        (0.5, "about 1 in 2"),
        (0.34, "about 1 in 3"),
        (0.75, "about 3 in 4"),
        (0.96, "all but about 1 in 25"),
        (1.0, "all"),
        (0.0042, "about 1 in 240"),
    ],
)
def test_one_in_pictures_a_share(share: float, said: str) -> None:
    """A share is said as a count that can be pictured."""
    assert words.one_in(share) == said


@pytest.mark.parametrize("share", np.linspace(0.001, 0.999, 97))
def test_one_in_is_close_to_the_share(share: float) -> None:
    """The picture is never off by more than a tenth of the share or 0.05, whichever is more."""
    said = words.one_in(share).replace("\u202f", "")
    numbers = [float(word) for word in said.split() if word.isdigit()]
    pictured = numbers[0] / numbers[1]
    if said.startswith("all but"):
        pictured = 1 - pictured
    assert abs(pictured - share) <= max(0.1 * share, 0.05)


@pytest.mark.parametrize(
    ("share", "said"),
    [(0.0, "0 %"), (0.004, "under 1 %"), (0.006, "1 %"), (0.996, "over 99 %"), (1.0, "100 %")],
)
def test_percent_claims_no_certainty(share: float, said: str) -> None:
    """Neither 0 % nor 100 % is said of a share that is neither."""
    assert words.percent(share).replace("\u00a0", " ") == said


@pytest.mark.parametrize(
    ("lower", "upper", "said"),
    [(0.1, 0.55, "10 to 55 %"), (0.001, 0.2, "under 1 % to 20 %"), (0.2, 0.2, "20 %")],
)
def test_percent_range_says_the_unit_once(lower: float, upper: float, said: str) -> None:
    """The ends of an interval share one unit where both are numbers."""
    assert words.percent_range(Interval(lower, lower, upper, 0.9)).replace("\u00a0", " ") == said


@pytest.mark.parametrize(
    ("p", "said"),
    [
        (0.0001, "fewer than 1 in 1\u202f000"),
        (0.05, "about 1 in 20"),
        (0.3, "about 3 in 10"),
        (1.0, "nearly all"),
    ],
)
def test_chance_is_said_as_a_frequency(p: float, said: str) -> None:
    """A p-value becomes how often luck does it."""
    assert words.chance(p) == said


@pytest.mark.parametrize("value", [12.34, -12.34])
def test_plain_numbers_keep_their_sign(value: float) -> None:
    """A minus sign is a minus sign, and zero has none."""
    assert words.plain(value, 1).replace("\u2212", "-") == f"{value:.1f}"
    assert words.plain(-0.001, 1) == "0.0"


@pytest.mark.parametrize(
    ("day", "said"), [("2026-03-02", "2 March 2026"), ("2026-11-12", "12 November 2026")]
)
def test_dates_cannot_be_misread(day: str, said: str) -> None:
    """The month is a word, so that day and month cannot be swapped."""
    assert words.date(np.datetime64(day)).replace("\u00a0", " ") == said


def test_unknown_dates_are_empty() -> None:
    """NaT gives no words at all."""
    assert words.date(np.datetime64("NaT")) == ""
    assert words.short_date(np.datetime64("NaT")) == ""


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("54 s.", "54\u00a0s."),
        ("75 °C", "75\u00a0°C"),
        ("40 runs", "40 runs"),
        ("5 g batch", "5\u00a0g batch"),
    ],
)
def test_numbers_stay_with_their_unit(text: str, kept: str) -> None:
    """A line never breaks between a number and its unit."""
    assert words.kept_together(text) == kept
