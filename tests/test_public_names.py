"""Every public name of the packages of plain functions: found there, documented, imported late."""

from __future__ import annotations

import inspect
import pkgutil
import re
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from types import ModuleType

import pytest

from weakstep import charts, trials

PACKAGES = [charts, trials]
NAMES = [(package, name) for package in PACKAGES for name in package.__all__]
FUNCTIONS = [
    (package, name)
    for package, name in NAMES
    if inspect.isfunction(inspect.unwrap(getattr(package, name)))
]


def label(value: object) -> str:
    """Return how a test names a package."""
    return value.__name__.rpartition(".")[2] if isinstance(value, ModuleType) else str(value)


@pytest.mark.parametrize(("package", "name"), NAMES, ids=label)
def test_name_is_found(package: ModuleType, name: str) -> None:
    """It is listed, comes from its module, and has words of its own."""
    assert name in dir(package)
    assert getattr(package, name) is not None


@pytest.mark.parametrize(("package", "name"), FUNCTIONS, ids=label)
def test_function_has_typed_arguments_and_words(package: ModuleType, name: str) -> None:
    """Every argument and the result carry a type; the docstring begins with a sentence."""
    function = inspect.unwrap(getattr(package, name))
    signature = inspect.signature(function)
    assert all(one.annotation is not one.empty for one in signature.parameters.values())
    assert signature.return_annotation is not signature.empty
    words = inspect.getdoc(function) or ""
    first = words.split("\n\n")[0]
    assert first.endswith(".") or (first.endswith(",") and ".. math::" in words)


@pytest.mark.parametrize("name", [name for package, name in FUNCTIONS if package is charts])
def test_chart_function_tells_arguments_result_and_refusals(name: str) -> None:
    """The docstring has sections for them, and describes every argument by its name."""
    function = inspect.unwrap(getattr(charts, name))
    words = inspect.getdoc(function) or ""
    sections = dict(re.findall(r"^(\w+)\n-{3,}\n(.*?)(?=^\w+\n-{3,}|\Z)", words, re.M | re.S))
    assert {"Parameters", "Returns", "Raises"} <= set(sections)
    described = re.findall(r"^(\w+(?:, \w+)*)(?: :.*)?$", sections["Parameters"], re.M)
    told = {argument for line in described for argument in line.split(", ")}
    assert set(inspect.signature(function).parameters) <= told


@pytest.mark.parametrize("name", [name for package, name in FUNCTIONS if package is charts])
def test_chart_function_has_an_example(name: str) -> None:
    """Charts work on plain numbers, so that each can show some."""
    words = inspect.getdoc(inspect.unwrap(getattr(charts, name))) or ""
    assert "Examples" in words


@pytest.mark.parametrize("package", PACKAGES, ids=label)
def test_no_module_hides_a_function(package: ModuleType) -> None:
    """A module of the same name, once imported, would stand in the way of the function."""
    modules = {module.name for module in pkgutil.iter_modules(package.__path__)}
    assert len(modules) > 25
    assert modules.isdisjoint(package.__all__)


@pytest.mark.parametrize("package", PACKAGES, ids=label)
def test_import_is_light(package: ModuleType) -> None:
    """Nothing heavy is loaded before a function is asked for."""
    code = (
        f"import sys, {package.__name__}\n"
        "print([m for m in ('scipy', 'pandas', 'numpy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize(("package", "offers"), [(charts, "individuals"), (trials, "two_level")])
def test_unknown_name(package: ModuleType, offers: str) -> None:
    """The message lists what there is."""
    with pytest.raises(AttributeError, match=f"offers .*{offers}"):
        package.no_such_name  # noqa: B018


@pytest.mark.parametrize("package", PACKAGES, ids=label)
def test_type_checkers_see_the_same_names(package: ModuleType) -> None:
    """The stub beside the package lists just the names that are imported late."""
    stub = Path(package.__file__ or "").with_suffix(".pyi").read_text(encoding="utf-8")
    home = re.escape(package.__name__)
    listed = re.findall(rf"from {home}\.(\w+) import (?:\(\s*)?\w+ as (\w+)", stub)
    assert sorted(name for _, name in listed) == package.__all__
    for module, name in listed:
        found = getattr(import_module(f"{package.__name__}.{module}"), name)
        assert found is getattr(package, name)
