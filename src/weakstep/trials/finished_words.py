"""What a finished trial showed, in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from weakstep.failures.words import chance_words, counted, named, number_words, percent
from weakstep.process.words import printed_unit
from weakstep.trials.comparison_words import points_words
from weakstep.trials.plan_words import effect_name, labels_of, outcome_words

if TYPE_CHECKING:
    from weakstep.interval import Interval
    from weakstep.process.model import Process
    from weakstep.trials.effects import Effect
    from weakstep.trials.finished import Finished

_MOST_OFF_PLAN = 8


def finished_text(found: Finished, process: Process) -> str:
    """Return the whole reading of a trial, what was learned first."""
    parts = [learned(found, process), *_what_then(found)]
    parts += [_levels(found, process)] if found.levels else [_effects(found, process)]
    if found.bend is not None:
        clear = not found.bend.lower <= 0.0 <= found.bend.upper
        parts.append(
            "The middle does not lie on the line between the levels: the effect bends."
            if clear
            else "At the middle nothing speaks against a straight line between the levels."
        )
    missing = len(found.plan.runs) - found.runs
    if missing:
        parts.append(f"{counted(missing, 'planned run')} without an outcome.")
    parts += _off_plan(found, process)
    return "\n\n".join(parts)


def learned(found: Finished, process: Process) -> str:
    """Return what was learned in one sentence."""
    outcome = outcome_words(found.plan, process)
    alpha = found.plan.alpha
    if len(found.plan.columns) > 1:
        names = labels_of(found.plan, process)
        real = [
            f"{name} ({_way(effect.estimate)})"
            for name, luck, effect in zip(names, found.luck, found.effects, strict=False)
            if luck <= alpha
        ]
        if real:
            return f"The trial shows an effect on {outcome} of: {', '.join(real)}."
        return f"The trial shows no effect of any parameter varied on {outcome}."
    first, last = found.levels[0], found.levels[-1]
    parameter = process.parameter(found.plan.columns[0])
    places = [number_words(level.value, parameter) for level in (first, last)]
    if found.plan.rates is None:
        measured = process.parameter(found.plan.outcome)
        told = [number_words(float(f"{at.outcome.estimate:.4g}"), measured) for at in (first, last)]
    else:
        told = [percent(at.outcome.estimate) for at in (first, last)]
    if found.luck[0] <= alpha:
        return (
            f"The trial shows it: {outcome} {told[0]} at {places[0]} and {told[1]} at {places[1]} "
            f"of {named(parameter)} (chance of luck {chance_words(found.luck[0])})."
        )
    return (
        f"The trial does not show an effect of {named(parameter)}: {outcome} {told[0]} at "
        f"{places[0]} and {told[1]} at {places[1]} (chance of luck {chance_words(found.luck[0])})."
    )


def _what_then(found: Finished) -> list[str]:
    """Say what a trial that shows nothing could have shown, and what one that does leads to."""
    plan = found.plan
    if min(found.luck) <= plan.alpha:
        return [
            "Hold what did better inside the range of the trial, write the change into the list of "
            "changes, and look again with 'weakstep compare' after some weeks."
        ]
    told = []
    if found.difference is not None and not found.difference.lower <= 0.0 <= found.difference.upper:
        told.append(
            "It is close: the interval below leaves out no difference at all, but by the plan the "
            "lot decides."
        )
    if plan.rates is not None:
        told.append(
            f"Planned for {percent(max(plan.rates))} against {percent(min(plan.rates))}, which it "
            f"had an {percent(plan.power)} chance to show; a smaller effect is not ruled out."
            if len(plan.columns) == 1
            else "Smaller effects than it was planned for are not ruled out."
        )
    return [" ".join(told)] if told else []


def _way(effect: Interval) -> str:
    return "more at the high level" if effect.estimate > 0.0 else "less at the high level"


def _levels(found: Finished, process: Process) -> str:
    parameter = process.parameter(found.plan.columns[0])
    lines = []
    for at in found.levels:
        where = f"  at {number_words(at.value, parameter)}: "
        if found.plan.rates is None:
            lines.append(f"{where}mean {_range(at.outcome)} in {counted(at.runs, 'run')}")
        else:
            rate = at.outcome
            lines.append(
                f"{where}{at.failed} of {at.tested} failed in {counted(at.runs, 'run')}, "
                f"{percent(rate.estimate)} ({round(100 * rate.lower)} to {percent(rate.upper)})"
            )
    if found.difference is not None:
        told = (
            _range(found.difference) if found.plan.rates is None else points_words(found.difference)
        )
        lines.append(f"  highest less lowest level: {told} (95 %)")
    return "\n".join(lines)


def _range(interval: Interval) -> str:
    return f"{interval.estimate:.4g} ({interval.lower:.4g} to {interval.upper:.4g})"


def _effects(found: Finished, process: Process) -> str:
    names = labels_of(found.plan, process)
    unit = "odds ratio"
    if found.plan.rates is None:
        measured = printed_unit(process.parameter(found.plan.outcome).unit)
        unit = f"difference of means in {measured}" if measured else "difference of means"
    lines = [f"Effects, high against low level ({unit}, 95 % interval), largest first:"]
    for effect in sorted(found.effects, key=lambda one: -abs(one.estimate.estimate)):
        lines.append(f"  {effect_names(effect, names)}: {_told(found, effect.estimate)}")
    for name, luck in zip(names, found.luck, strict=True):
        lines.append(f"  chance of {name} doing as much by the lot: {chance_words(luck)}")
    return "\n".join(lines)


def effect_names(effect: Effect, names: tuple[str, ...]) -> str:
    """Return an effect with all that the design cannot tell from it."""
    return ", or ".join(effect_name(word, names) for word in effect.words)


def _told(found: Finished, effect: Interval) -> str:
    if found.plan.rates is None:
        return _range(effect)
    low, middle, high = (math.exp(x) for x in (effect.lower, effect.estimate, effect.upper))
    return f"{middle:.2f} ({low:.2f} to {high:.2f})"


def _off_plan(found: Finished, process: Process) -> list[str]:
    if not found.off_plan:
        return []
    told = []
    for run, column, planned, was in found.off_plan[:_MOST_OFF_PLAN]:
        parameter = process.parameter(column)
        told.append(
            f"  {run}: {number_words(was, parameter)} instead of "
            f"{number_words(planned, parameter)} ({parameter.label})"
        )
    more = len(found.off_plan) - len(told)
    head = "Not set as planned (counted at the planned level all the same):"
    return ["\n".join([head, *told, *([f"  and {more} more"] if more else [])])]
