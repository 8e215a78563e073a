"""The documents are under test: README code runs, commands are listed, samples are fresh."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from weakstep.cli import main

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_readme_python_runs_as_printed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The README's Python job runs in a folder that holds `logs`, and leaves a page."""
    (code,) = re.findall(r"```python\n(.*?)```", README, flags=re.DOTALL)
    shutil.copytree(ROOT / "datasets" / "semester" / "logs", tmp_path / "logs")
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    exec(compile(code, "README.md", "exec"), names)
    page = names["page"]
    assert isinstance(page, Path)
    assert page.resolve() == (tmp_path / "report" / "report.html").resolve()
    assert page.stat().st_size > 10_000


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
