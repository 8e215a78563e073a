"""Numbers, windows and shapes in the words of the verdict."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.failures.model import Window
from weakstep.process.words import printed_unit

if TYPE_CHECKING:
    from weakstep.failures.candidates import Candidate
    from weakstep.failures.shapes import Shape
    from weakstep.interval import Interval
    from weakstep.process.model import Parameter

NEAR_ENOUGH = 0.02


def percent(share: float) -> str:
    """
    Return a share as a whole per cent, without claiming 0 or 100 where it is neither.

    Examples
    --------
    >>> percent(0.179), percent(0.002), percent(0.999), percent(0.0)
    ('18 %', 'under 1 %', 'over 99 %', '0 %')
    """
    if 0 < share <= 0.005:
        return "under 1 %"
    if 0.995 <= share < 1:
        return "over 99 %"
    return f"{share * 100:.0f} %"


def percent_range(value: Interval) -> str:
    """
    Return the ends of an interval of shares.

    Examples
    --------
    >>> from weakstep.interval import Interval
    >>> percent_range(Interval(0.3, 0.1, 0.55, 0.9)), percent_range(Interval(0.1, 0.001, 0.4, 0.9))
    ('10 to 55 %', 'under 1 % to 40 %')
    """
    lower, upper = percent(value.lower), percent(value.upper)
    if lower == upper:
        return lower
    return f"{lower.removesuffix(' %') if lower[0].isdigit() else lower} to {upper}"


def share_words(share: Interval) -> str:
    """
    Return a share with its interval.

    Examples
    --------
    >>> from weakstep.interval import Interval
    >>> share_words(Interval(0.41, 0.2, 0.58, 0.9))
    '41 % (20 to 58 %)'
    """
    return f"{percent(share.estimate)} ({percent_range(share)})"


def counted(number: int, thing: str) -> str:
    """
    Return a count with its noun.

    Examples
    --------
    >>> counted(1, "run"), counted(3, "run")
    ('1 run', '3 runs')
    """
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def failures_words(label: str) -> str:
    """
    Return a family's label as the failures it stands for, saying "failures" once.

    Examples
    --------
    >>> failures_words("bond"), failures_words("Bond failures")
    ('bond failures', 'bond failures')
    >>> failures_words("Failures of no stated kind")
    'failures of no stated kind'
    """
    words = in_sentence(label)
    return words if "failure" in words else f"{words} failures"


def in_sentence(label: str) -> str:
    """
    Return a label as it stands inside a sentence; abbreviations keep their capitals.

    Examples
    --------
    >>> in_sentence("Contact"), in_sentence("PDMS age")
    ('contact', 'PDMS age')
    """
    return label[:1].lower() + label[1:] if label[1:2].islower() else label


def named(parameter: Parameter) -> str:
    """
    Return a parameter as a sentence names it: with its article, or quoted where it is a question.

    Examples
    --------
    >>> from weakstep.process.model import Parameter
    >>> named(Parameter("delay_s", "Delay", "contact", "reading", "number", "s"))
    'the delay'
    >>> named(Parameter("touched", "bond face touched", "cleaning", "reading", "yes_no"))
    "'bond face touched'"
    """
    label = in_sentence(parameter.label)
    if parameter.kind == "yes_no":
        return f"'{label}'"
    return label if label.startswith(("the ", "any ")) else f"the {label}"


def chance_words(p: float) -> str:
    """Return a p-value as a chance of luck in words."""
    if p < 0.001:
        return "less than 0.1 %"
    return f"{100.0 * p:.1f} %"


def number_words(value: float, parameter: Parameter) -> str:
    """Return a value with its unit, as the parameter is printed."""
    text = f"{value:.{parameter.decimals}f}"
    # A window chosen finer than the printed digits must still be told exactly.
    if abs(float(text) - value) > 1e-9 * max(1.0, abs(value)):
        text = f"{value:.4g}"
    return f"{text} {printed_unit(parameter.unit)}".rstrip()


def about_words(value: float, parameter: Parameter) -> str:
    """
    Return a place on a parameter's scale as it is printed, where that is near enough.

    Examples
    --------
    >>> from weakstep.process.model import Parameter
    >>> delay = Parameter("delay_s", "delay", "contact", "reading", "number", "s", decimals=0)
    >>> about_words(40.99, delay), about_words(0.4132, delay)
    ('41 s', '0.413 s')
    """
    rounded = round(value, parameter.decimals)
    if abs(rounded - value) <= NEAR_ENOUGH * abs(value):
        return number_words(rounded, parameter)
    return f"{value:.3g} {printed_unit(parameter.unit)}".rstrip()


def window_words(window: Window, parameter: Parameter) -> str:
    """
    Return how to hold a parameter ("at or below 60 s").

    Examples
    --------
    >>> from weakstep.process.model import Parameter
    >>> delay = Parameter("delay_s", "delay", "contact", "reading", "number", "s", decimals=0)
    >>> window_words(Window(None, 60.0, "s"), delay)
    'at or below 60 s'
    """
    if parameter.kind == "yes_no":
        return "at no" if window.lower is None else "at yes"
    if window.lower is None and window.upper is not None:
        return f"at or below {number_words(window.upper, parameter)}"
    if window.lower is not None and window.upper is None:
        return f"at or above {number_words(window.lower, parameter)}"
    if window.lower is not None and window.upper is not None:
        low, high = (number_words(end, parameter) for end in (window.lower, window.upper))
        return f"between {low} and {high}"
    return "as it is"


def shape_words(candidate: Candidate, shape: Shape, sign: float) -> str:
    """
    Say in a phrase how failures depend on a column.

    Parameters
    ----------
    candidate : Candidate
    shape : Shape
        One of its shapes.
    sign : float
        Positive when failures rise with the shape.

    Returns
    -------
    str
        "rises above 60 s", "rises away from 30 s", "more failures with M3 than with the rest".
    """
    more = "more" if sign > 0 else "fewer"
    if candidate.kind == "category":
        return f"{more} failures with {candidate.levels[int(shape.knot)]} than with the rest"
    if candidate.kind == "yes_no":
        return f"{more} failures with yes than with no"
    way = "rises" if sign > 0 else "falls"
    if shape.kind == "line" or shape.scale is None:
        return way
    knot = about_words(shape.scale.undo(shape.knot), candidate.parameter)
    place = {"above": "above", "below": "below", "away": "away from"}[shape.kind]
    # "falls below 60 s": fewer failures the further the value lies below 60 s.
    return f"{way} {place} {knot}"
