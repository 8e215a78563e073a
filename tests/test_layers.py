"""The picture of the layers in DEVELOPERS.md, kept by walking every import of the package."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "src" / "weakstep"
MODULES = sorted(PACKAGE.rglob("*.py"))

SHARED = {"errors", "interval"}
MAY_IMPORT = {
    "process": SHARED,
    "runlog": SHARED | {"process"},
    "charts": SHARED,
    "drift": SHARED | {"charts"},
    "failures": SHARED | {"process", "runlog"},
    "trials": SHARED | {"process", "runlog", "failures"},
    "semesters": SHARED | {"process", "runlog", "failures", "trials"},
    "charting": SHARED | {"process", "runlog", "charts", "drift"},
    "reviewing": SHARED
    | {"charting", "process", "runlog", "charts", "drift", "failures", "trials", "semesters"},
    "watching": SHARED | {"process", "runlog", "charts", "failures", "reviewing"},
    "report": SHARED
    | {"process", "runlog", "charts", "drift", "failures", "trials", "semesters", "reviewing"}
    | {"charting", "watching"},
}
ONLY_HOME = {"pandera": "runlog", "plotly": "report", "jinja2": "report"}
HEAVY = {"pandas", "scipy", "statsmodels", "sklearn", "plotly", "pandera", "jinja2", "rich"}


def layer_of(path: Path) -> str:
    """Name of the layer a module belongs to: its folder, or its own name at the top."""
    relative = path.relative_to(PACKAGE)
    return relative.parts[0] if len(relative.parts) > 1 else relative.stem


def imported_names(node: ast.stmt) -> list[str]:
    """Full names of the modules one import statement asks for."""
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if isinstance(node, ast.ImportFrom):
        assert node.level == 0, "relative imports hide the layer"
        if node.module == "weakstep":
            return [f"weakstep.{alias.name}" for alias in node.names]
        return [node.module or ""]
    return []


def every_import(path: Path) -> list[str]:
    """All modules imported anywhere in a file, inside functions too."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [name for node in ast.walk(tree) for name in imported_names(node)]


def imports_at_start(path: Path) -> list[str]:
    """Modules imported when the file itself is imported (not under TYPE_CHECKING)."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [name for node in tree.body for name in imported_names(node)]


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_module_imports_only_layers_below_it(path: Path) -> None:
    """Data flows one way, so imports do too."""
    layer = layer_of(path)
    asked = {
        name.split(".")[1]
        for name in every_import(path)
        if name.startswith("weakstep.") and name != "weakstep.__version__"
    }
    allowed = MAY_IMPORT.get(layer)
    if allowed is None:
        assert layer in {"__init__", "__main__", "cli", "demo", "errors", "interval"}
        return
    assert asked <= allowed | {layer}


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_library_has_one_home_and_is_imported_late(path: Path) -> None:
    """Each special library has one home, and no module pays for a heavy one at import."""
    for name in every_import(path):
        top = name.split(".")[0]
        assert ONLY_HOME.get(top, layer_of(path)) == layer_of(path), name
    heavy = [name for name in imports_at_start(path) if name.split(".")[0] in HEAVY]
    assert heavy == []


def test_walk_sees_the_package() -> None:
    """The rules above are checked against real modules, not an empty list."""
    layers = {layer_of(path) for path in MODULES}
    assert set(MAY_IMPORT) <= layers
