"""Writing a report: whole or not at all, and never over somebody else's files."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import pytest

from weakstep.errors import OutputError
from weakstep.report import write
from weakstep.report.write import check_folder, write_report
from weakstep.reviewing import Review


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file below a folder."""
    files = sorted(place for place in folder.rglob("*") if place.is_file())
    return {str(place.relative_to(folder)): place.read_bytes() for place in files}


def test_report_is_made_with_its_parents(review: Review, tmp_path: Path) -> None:
    """Page, findings and tables stand in a folder that did not exist before."""
    page = write_report(review, tmp_path / "a" / "b")
    assert page == tmp_path / "a" / "b" / "report.html"
    assert {"report.html", "findings.json", "set_aside.csv", "tables/runs.csv"} <= set(
        contents(page.parent)
    )
    assert [place.name for place in (tmp_path / "a").iterdir()] == ["b"]


def test_same_review_gives_identical_files(invented: ModuleType, tmp_path: Path) -> None:
    """Two reviews built alike give the same bytes in every file."""
    for name in ("one", "two"):
        write_report(invented.build_review(), tmp_path / name)
    assert contents(tmp_path / "one") == contents(tmp_path / "two")


def test_an_earlier_report_is_replaced_whole(review: Review, tmp_path: Path) -> None:
    """What an earlier report held and the new one does not is gone."""
    folder = tmp_path / "report"
    write_report(review, folder)
    (folder / "tables" / "old.csv").write_text("old", encoding="utf-8")
    write_report(review, folder)
    assert "tables/old.csv" not in contents(folder)


def test_an_empty_folder_is_used(review: Review, tmp_path: Path) -> None:
    """An empty folder is as good as none."""
    (tmp_path / "report").mkdir()
    assert write_report(review, tmp_path / "report").is_file()


def test_other_peoples_folders_are_left_alone(review: Review, tmp_path: Path) -> None:
    """A folder with other files is refused in one sentence and stays as it was."""
    (tmp_path / "thesis.txt").write_text("years of work", encoding="utf-8")
    with pytest.raises(OutputError, match="holds files that weakstep did not make"):
        write_report(review, tmp_path)
    assert contents(tmp_path) == {"thesis.txt": b"years of work"}


@pytest.mark.parametrize(
    "text", ["{}", "[]", "not json", '{"schema": "another/1"}', '{"schema": 3}']
)
def test_a_findings_file_of_another_program_is_no_marker(tmp_path: Path, text: str) -> None:
    """Only our own schema marks a folder as ours."""
    (tmp_path / "findings.json").write_text(text, encoding="utf-8")
    with pytest.raises(OutputError, match="left alone"):
        check_folder(tmp_path)


def test_a_file_in_the_way_is_named(review: Review, tmp_path: Path) -> None:
    """A file where the folder should be is refused."""
    (tmp_path / "report").write_text("x", encoding="utf-8")
    with pytest.raises(OutputError, match="is a file, not a folder"):
        write_report(review, tmp_path / "report")


def test_a_file_among_the_parents_is_told(review: Review, tmp_path: Path) -> None:
    """A folder that cannot be made gives one sentence with the reason."""
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(OutputError, match=r"cannot be written to .*Name another folder"):
        write_report(review, tmp_path / "file" / "report")


def test_a_failed_move_brings_the_old_report_back(
    review: Review, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the new folder cannot take its place, the old report is there again."""
    folder = tmp_path / "report"
    write_report(review, folder)
    before = contents(folder)
    rename = Path.rename

    def fails_for_new(self: Path, target: Path) -> Path:
        if self.name == "new":
            raise OSError(28, "No space left on device")
        return rename(self, target)

    monkeypatch.setattr(write.Path, "rename", fails_for_new)
    with pytest.raises(OutputError, match="No space left on device"):
        write_report(review, folder)
    assert contents(folder) == before
    assert [place.name for place in tmp_path.iterdir()] == ["report"]


def test_weight(invented: ModuleType, tmp_path: Path) -> None:
    """The page of a semester weighs at most 2.5 MB (how long it takes: tests/test_speed.py)."""
    page = write_report(invented.build_review(seed=2), tmp_path / "report")
    assert page.stat().st_size <= 2_500_000


def test_options_reach_the_files(review: Review, tmp_path: Path) -> None:
    """A title heads page and summary, a static page is light, and figures become files."""
    page = write_report(
        review, tmp_path / "report", title="Spring <term>", static=True, figures="svg"
    )
    found = contents(page.parent)
    assert b"<h1>Spring &lt;term&gt;</h1>" in found["report.html"]
    assert found["summary.md"].startswith(b"# Spring \\<term\\>\n")
    assert len(found["report.html"]) <= 260_000
    assert b"<script" not in found["report.html"]
    assert "figures/ranking-bond.svg" in found
