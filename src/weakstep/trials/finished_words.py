"""What a finished trial showed, in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from weakstep.failures.words import chance_words, counted, named, number_words, percent, share_words
from weakstep.process.words import printed_unit
from weakstep.trials.comparison_words import points_words
from weakstep.trials.designs import SCREENING
from weakstep.trials.filled_words import fit_words
from weakstep.trials.names import effect_names, labels_of, outcome_words, setting_words

if TYPE_CHECKING:
    from weakstep.interval import Interval
    from weakstep.process.model import Process
    from weakstep.trials.bends import Bent
    from weakstep.trials.effects import Effect
    from weakstep.trials.finished import AtLevel, Finished

_LARGEST_RATIO = 1000.0  # beyond it, only that it is larger says anything


def finished_text(found: Finished, process: Process) -> str:
    """Return the whole reading of a trial, what was learned first."""
    parts = [learned(found, process), *_what_then(found, process)]
    parts.append(_levels(found, process) if found.levels else _effects(found, process))
    parts += [_bend(bent, found, process) for bent in found.bends]
    return "\n\n".join([*parts, *fit_words(found, process)])


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
        real += [f"the middle {_of_what(one, process)}" for one in _bent(found)]
        if real:
            return f"The trial shows an effect on {outcome} of: {', '.join(real)}."
        return f"The trial does not show an effect of any parameter varied on {outcome}."
    parameter = process.parameter(found.plan.columns[0])
    told = _told_at(found, process)
    luck = f"chance of luck {chance_words(found.luck[0])}"
    if found.luck[0] <= alpha:
        return f"The trial shows it: {outcome} {told} of {named(parameter)} ({luck})."
    if _bent(found):
        return (
            f"The trial shows that {named(parameter)} matters, but not that one end is better than "
            f"the other ({luck}): {outcome} {told}."
        )
    return f"The trial does not show an effect of {named(parameter)}: {outcome} {told} ({luck})."


def _told_at(found: Finished, process: Process) -> str:
    """Return the outcome at every level ("3 % at 36 s and 33 % at 105 s")."""
    told = [
        f"{_level_outcome(at, found, process)} at "
        f"{setting_words(process, found.plan.columns[0], at.value)}"
        for at in found.levels
    ]
    return f"{', '.join(told[:-1])} and {told[-1]}"


def _level_outcome(at: AtLevel, found: Finished, process: Process) -> str:
    if found.plan.rates is not None:
        return percent(at.outcome.estimate)
    measured = process.parameter(found.plan.outcome)
    return number_words(float(f"{at.outcome.estimate:.4g}"), measured)


def _bent(found: Finished) -> list[Bent]:
    return [one for one in found.bends if one.shown]


def _what_then(found: Finished, process: Process) -> list[str]:
    """Say what a trial that shows nothing could have shown, and what one that does leads to."""
    plan, told = found.plan, []
    shown = [luck for luck in found.luck if luck <= plan.alpha]
    ends = found.difference
    if ends is not None and bool(shown) == (ends.lower <= 0.0 <= ends.upper):
        told.append(
            "It is close: by the interval below it may be no difference at all, but by the plan "
            "the chance of luck decides."
            if shown
            else "It is close: the interval below leaves out no difference at all, but by the plan "
            "the chance of luck decides."
        )
    if shown or _bent(found):
        told += _doubts(found, shown)
        told.append(
            "Hold what did better inside the range of the trial, write the change into the list of "
            "changes, and look again with 'weakstep compare' after some weeks."
        )
    else:
        told.append(
            f"It was planned for {_planned_for(found, process)}, with a chance of "
            f"{percent(plan.power)} to show it; a smaller effect is not ruled out."
        )
    return [" ".join(told)]


def _planned_for(found: Finished, process: Process) -> str:
    plan = found.plan
    if plan.rates is not None:
        return f"{percent(max(plan.rates))} against {percent(min(plan.rates))}"
    size = float(f"{plan.difference:.3g}")
    return f"a difference of {number_words(size, process.parameter(plan.outcome))}"


def _doubts(found: Finished, shown: list[float]) -> list[str]:
    """Say what a fraction of the combinations, and several looks at once, leave open."""
    plan, told = found.plan, []
    looks = len(plan.columns) + len(found.bends)
    if plan.generators.startswith(SCREENING):
        told.append("A screening design was used: settle what it shows in a smaller trial.")
    elif any(
        luck <= plan.alpha and len(effect.words) > 1
        for luck, effect in zip(found.luck, found.effects, strict=False)
    ):
        told.append("By the design it may be that of the pairs named with it below instead.")
    # An interval tells of a bend that it is shown, not how clearly: only small chances of luck do.
    if looks > 1 and not any(luck <= plan.alpha / looks for luck in shown):
        chance = percent(1.0 - (1.0 - plan.alpha) ** looks)
        told.append(
            f"With {looks} things looked at, luck alone shows one or more in up to {chance} of "
            "trials."
        )
    return told


def _way(effect: Interval) -> str:
    return "more at the high level" if effect.estimate > 0.0 else "less at the high level"


def _levels(found: Finished, process: Process) -> str:
    outcome = outcome_words(found.plan, process)
    lines = [f"{outcome[:1].upper()}{outcome[1:]} by level, with 95 % intervals:"]
    unit = _unit(found, process)
    for at in found.levels:
        where = f"  at {setting_words(process, found.plan.columns[0], at.value)}: "
        if found.plan.rates is None:
            lines.append(f"{where}mean {_range(at.outcome)}{unit} in {counted(at.runs, 'run')}")
        else:
            lines.append(
                f"{where}{at.failed} of {at.tested} failed in {counted(at.runs, 'run')}, "
                f"{share_words(at.outcome)}"
            )
    if found.difference is not None:
        lines.append(f"  highest less lowest level: {_apart(found.difference, found, process)}")
    return "\n".join(lines)


def _apart(difference: Interval, found: Finished, process: Process) -> str:
    """Return a difference of outcomes: in points, or in the outcome's unit."""
    if found.plan.rates is not None:
        return points_words(difference)
    return f"{_range(difference)}{_unit(found, process)}"


def _unit(found: Finished, process: Process) -> str:
    """Return the unit of a measured outcome after a blank; nothing where there is none."""
    if found.plan.rates is not None:
        return ""
    return f" {printed_unit(process.parameter(found.plan.outcome).unit)}".rstrip()


def _range(interval: Interval) -> str:
    return f"{interval.estimate:.4g} ({interval.lower:.4g} to {interval.upper:.4g})"


def _effects(found: Finished, process: Process) -> str:
    names = labels_of(found.plan, process)
    scale = "odds ratio"
    if found.plan.rates is None:
        scale = f"difference of means in{_unit(found, process)}".removesuffix(" in")
    lines = [
        f"Effects on {outcome_words(found.plan, process)}, high against low level ({scale} with "
        "95 % interval), largest first:"
    ]
    lucks = dict(zip((effect.words for effect in found.effects), found.luck, strict=False))
    for effect in sorted(found.effects, key=lambda one: -abs(one.estimate.estimate)):
        luck = lucks.get(effect.words)
        ending = "" if luck is None else f", chance of luck {chance_words(luck)}"
        lines.append(f"  {effect_names(effect.words, names)}: {_told(found, effect)}{ending}")
    return "\n".join(lines)


def _told(found: Finished, effect: Effect) -> str:
    if found.plan.rates is None:
        return _range(effect.estimate)
    one = effect.estimate
    low, middle, high = (_ratio(math.exp(x)) for x in (one.lower, one.estimate, one.upper))
    return f"{middle} ({low} to {high})"


def _ratio(odds: float) -> str:
    """Return an odds ratio with as many digits as say something."""
    if odds > _LARGEST_RATIO:
        return f"more than {_LARGEST_RATIO:.0f}"
    return f"less than {1.0 / _LARGEST_RATIO:g}" if odds < 1.0 / _LARGEST_RATIO else f"{odds:.3g}"


def _bend(bent: Bent, found: Finished, process: Process) -> str:
    """Say whether the middle lies on the line between the levels."""
    told = _apart(bent.size, found, process)
    ending = (
        "the effect bends, it does not follow a straight line between the levels"
        if bent.shown
        else "a straight line between the levels is not ruled out"
    )
    return (
        f"The middle {_of_what(bent, process)} less the mean of the levels: {told} "
        f"({100.0 * bent.size.level:g} %): {ending}."
    )


def _of_what(bent: Bent, process: Process) -> str:
    if len(bent.columns) > 1:
        return "of all parameters"
    return f"of {named(process.parameter(bent.columns[0]))}"
