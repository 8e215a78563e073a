"""findings.json: its shape, key by key, and what it does with what is not there."""

from __future__ import annotations

import json
from types import ModuleType

import pytest

from weakstep.report.findings import findings, findings_text
from weakstep.reviewing import Review


def test_every_key_is_there_in_its_order(review: Review, findings_shape: ModuleType) -> None:
    """The whole document has the documented keys, order and kinds."""
    document = json.loads(findings_text(review))
    assert findings_shape.misfits(document) == []
    assert document["schema"] == "weakstep.findings/1"
    assert len(document["factors"]) == len(review.failures.factors)
    assert len(document["drifts"]) == len(review.drifts.drifts)


def test_bare_reviews_keep_every_key(invented: ModuleType, findings_shape: ModuleType) -> None:
    """A review with nothing in it still has every key, with null where nothing is to say."""
    for name, bare in invented.bare_reviews().items():
        assert findings_shape.misfits(json.loads(findings_text(bare))) == [], name
    nothing = findings(invented.bare_reviews()["no runs"])
    assert nothing["outcomes"]["rate"] is None
    assert nothing["next_trial"] is None
    assert nothing["verdict"]["window"] is None


def test_numbers_that_are_not_finite_become_null(review: Review) -> None:
    """A declared cycle has no p-value; NaN is not JSON, so null stands there."""
    cycle = next(item for item in findings(review)["drifts"] if item["form"] == "cycle")
    assert cycle["p"] is None
    assert "NaN" not in findings_text(review)


def test_values_are_those_of_the_review(review: Review) -> None:
    """Shares, windows and runs are passed on unrounded."""
    document = findings(review)
    first = review.failures.factors[0]
    assert document["factors"][0]["preventable_share"] == first.preventable_share.to_dict()
    assert first.window is not None
    assert document["verdict"]["window"]["upper"] == first.window.upper
    step = review.drifts.drifts[0]
    assert document["drifts"][0]["since"]["run_id"] == review.log.runs.run_id[step.since]
    assert [run["run_id"] for run in document["drifts"][0]["since_interval"]] == [
        review.log.runs.run_id[end] for end in step.since_interval
    ]


def test_runs_without_a_date_say_null(invented: ModuleType) -> None:
    """NaT never appears as text."""
    document = findings(invented.build_review(dated=False))
    assert document["drifts"][0]["since"]["started_at"] is None


def test_same_review_gives_same_bytes(invented: ModuleType) -> None:
    """Two reviews built alike give the same text; letters beyond ASCII stay as they are."""
    one, two = (findings_text(invented.build_review(text="µ → Ω")) for _ in range(2))
    assert one == two
    assert "µ → Ω" in one


@pytest.mark.parametrize("text", ['"', "\\", "\u2028", "</script>", "\x07"])
def test_awkward_text_survives_the_round_trip(invented: ModuleType, text: str) -> None:
    """Whatever stands in a cell comes back unchanged from JSON."""
    document = json.loads(findings_text(invented.build_review(text=text)))
    assert document["log"]["problems"][0]["found"] == text
