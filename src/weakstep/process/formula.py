"""Plain arithmetic over columns and constants, walked as a syntax tree and never executed."""

from __future__ import annotations

import ast
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from weakstep.errors import ProcessError

if TYPE_CHECKING:
    import numpy as np

FUNCTIONS = ("exp", "log", "log10", "sqrt", "abs", "min", "max")
_OPERATORS: dict[type[ast.operator], str] = {
    ast.Add: "add",
    ast.Sub: "subtract",
    ast.Mult: "multiply",
    ast.Div: "divide",
    ast.Pow: "power",
}
_LONGEST = 500
_ALLOWED = "numbers, names, + - * / **, parentheses and " + ", ".join(FUNCTIONS)


def names(formula: str, key: str = "formula") -> set[str]:
    """
    Return the column and constant names that *formula* uses.

    Parameters
    ----------
    formula : str
        Arithmetic of numbers, names, ``+ - * / **``, unary minus, parentheses and
        exp, log, log10, sqrt, min, max, abs.
    key : str
        Where the formula stands, for the error message.

    Raises
    ------
    ProcessError
        The formula is not plain arithmetic; the message names *key* and the part refused.

    Examples
    --------
    >>> sorted(names("10 * poured_g / (density_g_cm3 * mould_area_cm2)"))
    ['density_g_cm3', 'mould_area_cm2', 'poured_g']
    """
    found: set[str] = set()
    _check(_tree(formula, key), key, found)
    return found


def evaluate(formula: str, values: Mapping[str, Any], key: str = "formula") -> np.ndarray:
    """
    Compute *formula* over whole columns.

    A result that is not a finite number (missing input, division by zero, logarithm of zero)
    is NaN.

    Parameters
    ----------
    formula : str
        See `names`.
    values : mapping of str to float or array, shape (n_rows,)
        One entry per name; arrays in the unit that the column's name states.
    key : str
        Where the formula stands, for the error message.

    Returns
    -------
    array of float, shape (n_rows,) or () when every value is a single number

    Raises
    ------
    ProcessError
        Not plain arithmetic, or a name without a value.

    Examples
    --------
    >>> evaluate("base_g / agent_g", {"base_g": [10.0, 20.0, 30.0], "agent_g": [1.0, 0.0, 3.0]})
    array([10., nan, 10.])
    """
    import numpy as np

    tree = _tree(formula, key)
    needed: set[str] = set()
    _check(tree, key, needed)
    missing = sorted(needed - set(values))
    if missing:
        msg = f"{key}: no value for {', '.join(missing)} in formula {formula!r}."
        raise ProcessError(msg)
    columns = {name: np.asarray(values[name], dtype=float) for name in needed}
    with np.errstate(all="ignore"):
        result = np.asarray(_compute(tree, columns), dtype=float)
    return np.where(np.isfinite(result), result, np.nan)


@lru_cache(maxsize=256)
def _tree(formula: str, key: str) -> ast.expr:
    if len(formula) > _LONGEST:
        msg = f"{key}: the formula has {len(formula)} characters; at most {_LONGEST} are allowed."
        raise ProcessError(msg)
    try:
        return ast.parse(formula.strip(), mode="eval").body
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        msg = f"{key}: found {formula!r}, expected arithmetic of {_ALLOWED}."
        raise ProcessError(msg) from None


def _check(node: ast.expr, key: str, found: set[str]) -> None:
    """Walk *node*, gather its names in *found*, refuse whatever is not plain arithmetic."""
    match node:
        case ast.Constant(value=bool()):
            _refuse(node, key)
        case ast.Constant(value=int() | float()):
            return
        case ast.Name(id=name):
            found.add(name)
        case ast.UnaryOp(op=ast.USub() | ast.UAdd(), operand=operand):
            _check(operand, key, found)
        case ast.BinOp(left=left, op=operator, right=right) if type(operator) in _OPERATORS:
            _check(left, key, found)
            _check(right, key, found)
        case ast.Call(func=ast.Name(id=function), args=arguments, keywords=[]) if (
            function in FUNCTIONS
        ):
            _check_arity(node, function, len(arguments), key)
            for argument in arguments:
                _check(argument, key, found)
        case _:
            _refuse(node, key)


def _check_arity(node: ast.expr, function: str, given: int, key: str) -> None:
    two_or_more = function in ("min", "max")
    if (given < 2) if two_or_more else (given != 1):
        expected = "two or more values" if two_or_more else "one value"
        msg = f"{key}: {ast.unparse(node)!r} gives {function} {given} values, expected {expected}."
        raise ProcessError(msg)


def _refuse(node: ast.expr, key: str) -> None:
    msg = f"{key}: found {ast.unparse(node)!r}, expected arithmetic of {_ALLOWED}."
    raise ProcessError(msg)


def _compute(node: ast.expr, columns: Mapping[str, np.ndarray]) -> Any:
    """Compute a tree that `_check` has passed."""
    import numpy as np

    match node:
        case ast.Constant(value=int() | float() as value):
            return np.float64(value)
        case ast.Name(id=name):
            return columns[name]
        case ast.UnaryOp(op=operator, operand=operand):
            inner = _compute(operand, columns)
            return -inner if isinstance(operator, ast.USub) else inner
        case ast.BinOp(left=left, op=operation, right=right):
            ufunc: Callable[..., Any] = getattr(np, _OPERATORS[type(operation)])
            return ufunc(_compute(left, columns), _compute(right, columns))
        case ast.Call(func=ast.Name(id=function), args=arguments):
            return _call(function, [_compute(argument, columns) for argument in arguments])
    raise AssertionError(ast.dump(node))


def _call(function: str, arguments: list[Any]) -> Any:
    import numpy as np

    if function == "min":
        return np.minimum.reduce(np.broadcast_arrays(*arguments))
    if function == "max":
        return np.maximum.reduce(np.broadcast_arrays(*arguments))
    ufunc: Callable[..., Any] = getattr(np, function)
    return ufunc(arguments[0])
