"""The documents are under test: README code runs, commands are listed, samples are fresh."""

from __future__ import annotations

import contextlib
import re
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from weakstep.cli import main
from weakstep.report.contents import contents
from weakstep.report.page import page
from weakstep.report.summary import summary

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def readme_job(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Return the names that the README's Python job leaves, run where `logs` is the demo's."""
    code = "\n".join(re.findall(r"```python\n(.*?)```", README, flags=re.DOTALL))
    folder = tmp_path_factory.mktemp("readme")
    shutil.copytree(ROOT / "datasets" / "semester" / "logs", folder / "logs")
    names: dict[str, Any] = {}
    with contextlib.chdir(folder):
        exec(compile(code, "README.md", "exec"), names)
        names["page"] = names["page"].resolve()
    return names


def test_readme_python_runs_as_printed(readme_job: dict[str, Any]) -> None:
    """The README's Python job leaves a page in the folder it names."""
    page = readme_job["page"]
    assert isinstance(page, Path)
    assert page.parts[-2:] == ("report", "report.html")
    assert page.stat().st_size > 10_000


def words(page: str) -> list[str]:
    """Return a page's words and its style: what must not be stale, whatever a last digit does."""
    without_shapes = re.sub(r"<path [^>]*>|(?<=<text )[^>]*(?=>)|viewBox=\"[^\"]*\"", "", page)
    return re.sub(r"[<>]", " ", without_shapes).split()


def test_sample_page_is_fresh(readme_job: dict[str, Any]) -> None:
    """The page kept in reports/ is the one that weakstep makes of the demo semester today."""
    kept = ROOT / "reports" / "semester"
    command = re.search(
        r'^COMMAND = "(.*)"$', (ROOT / "reports" / "make_sample.py").read_text(), flags=re.MULTILINE
    )
    assert command is not None
    today = replace(readme_job["result"], command=command[1])
    remedy = "the sample is stale: run 'python reports/make_sample.py' and commit reports/"
    assert words((kept / "report.html").read_text(encoding="utf-8")) == words(
        page(today, zoom=False)
    ), remedy
    said = summary(contents(today, short=True), today)
    assert (kept / "summary.md").read_text(encoding="utf-8") == said, remedy


def test_readme_shows_the_sample() -> None:
    """The README shows the picture kept in reports/, a PNG of the page's top."""
    assert "](reports/semester.png)" in README
    assert (ROOT / "reports" / "semester.png").read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


def test_readme_lists_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    """Each command of `weakstep --help` stands in the README's table, and no other does."""
    with pytest.raises(SystemExit, match="0"):
        main(["--help"])
    offered = set(re.findall(r"^    (\w+) ", capsys.readouterr().out, flags=re.MULTILINE))
    described = set(re.findall(r"^\| `weakstep (\w+)", README, flags=re.MULTILINE))
    assert offered == described


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md", "datasets/README.md"])
def test_links_lead_somewhere(document: str) -> None:
    """Every relative link in the documents names a file that exists."""
    path = ROOT / document
    text = path.read_text(encoding="utf-8")
    links = re.findall(r"\]\(([^)#]+)\)", text)
    missing = [link for link in links if "://" not in link and not (path.parent / link).exists()]
    assert missing == []
    named = re.findall(r"`?((?:tests|reports|datasets|src)/[\w/.-]+\.(?:py|sh|toml|csv))`?", text)
    assert [name for name in named if not (ROOT / name).exists()] == []
