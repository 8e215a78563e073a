"""Every public name of `weakstep.charts`: found there, documented, imported late."""

from __future__ import annotations

import inspect
import pkgutil
import re
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

from weakstep import charts

FUNCTIONS = [
    name for name in charts.__all__ if inspect.isfunction(inspect.unwrap(getattr(charts, name)))
]


@pytest.mark.parametrize("name", charts.__all__)
def test_name_is_found(name: str) -> None:
    """It is listed, comes from its module, and has words of its own."""
    assert name in dir(charts)
    assert getattr(charts, name) is not None


@pytest.mark.parametrize("name", FUNCTIONS)
def test_function_has_typed_arguments_and_an_example(name: str) -> None:
    """Every argument and the result carry a type; the docstring has a sentence and an example."""
    function = inspect.unwrap(getattr(charts, name))
    signature = inspect.signature(function)
    assert all(one.annotation is not one.empty for one in signature.parameters.values())
    assert signature.return_annotation is not signature.empty
    words = inspect.getdoc(function) or ""
    assert words.splitlines()[0].endswith((".", "normal.", ":")) or "\n\n" in words
    assert "Examples" in words or name in {"binomial_zones", "poisson_zones"}


def test_no_module_hides_a_function() -> None:
    """A module of the same name, once imported, would stand in the way of the function."""
    modules = {module.name for module in pkgutil.iter_modules(charts.__path__)}
    assert len(modules) > 30
    assert modules.isdisjoint(charts.__all__)


def test_import_is_light() -> None:
    """Nothing heavy is loaded before a function is asked for."""
    code = (
        "import sys, weakstep.charts\n"
        "print([m for m in ('scipy', 'pandas', 'numpy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_unknown_name() -> None:
    """The message lists what there is."""
    with pytest.raises(AttributeError, match=r"offers .*individuals"):
        charts.no_such_chart  # noqa: B018


def test_type_checkers_see_the_same_names() -> None:
    """The stub beside the package lists just the names that are imported late."""
    stub = Path(charts.__file__ or "").with_suffix(".pyi").read_text(encoding="utf-8")
    listed = re.findall(r"from weakstep\.charts\.(\w+) import (?:\(\s*)?\w+ as (\w+)", stub)
    assert sorted(name for _, name in listed) == charts.__all__
    for module, name in listed:
        assert getattr(import_module(f"weakstep.charts.{module}"), name) is getattr(charts, name)
