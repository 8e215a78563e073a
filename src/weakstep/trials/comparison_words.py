"""A comparison in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.failures.words import (
    chance_words,
    counted,
    failures_words,
    in_sentence,
    named,
    number_words,
    percent,
    share_words,
)
from weakstep.trials.comparing import ALL, rate_of
from weakstep.trials.names import setting_words
from weakstep.trials.spreads import FEWEST_VALUES

if TYPE_CHECKING:
    from weakstep.interval import Interval
    from weakstep.process.model import Process
    from weakstep.trials.comparing import Comparison, RateChange
    from weakstep.trials.moved import Spread

SURE = 0.05
WEEKS_DIFFER = 0.05
MOST_TOLD = 6


def comparison_text(comparison: Comparison, process: Process) -> str:
    """Return the whole comparison as paragraphs, the answer first."""
    blocks = [answer(comparison, process)]
    blocks += [_family(change, comparison, process) for change in comparison.changes]
    if comparison.column is not None:
        blocks.append(_own_values(comparison, comparison.column, process))
    blocks += [_how(comparison, process), *_notes(comparison, process)]
    return "\n\n".join(blocks)


def answer(comparison: Comparison, process: Process, family: str = ALL) -> str:
    """
    Return what the comparison says of a family in one sentence.

    A fall or a rise is stated only when luck is unlikely and the interval agrees. A family that
    never failed has no figures of its own: all failures are told then.
    """
    change = rate_of(comparison, family)
    what = failures_of(change.family, process)
    points = change.difference
    apart = not points.lower <= 0.0 <= points.upper
    if change.luck <= SURE and apart:
        way = "fell" if points.estimate < 0.0 else "rose"
        return (
            f"{_first(what)} {way} from {percent(change.before.estimate)} to "
            f"{percent(change.after.estimate)}, by {_by(points)} (95 %): more than luck explains "
            f"(chance of luck {chance_words(change.luck)}){_hands(comparison, 'but ')}."
        )
    told = f"the difference may lie anywhere {points_words(points)} (95 %)"
    if apart:
        told += f", but luck alone makes one as large in {chance_words(change.luck)} of cases"
    elif change.luck <= SURE:
        told += f", though luck makes one as large in only {chance_words(change.luck)} of cases"
    return (
        f"No change of {what} can be shown yet: {percent(change.before.estimate)} "
        f"{comparison.names[0]}, {percent(change.after.estimate)} {comparison.names[1]}; "
        f"{told}{_hands(comparison)}."
    )


def _by(difference: Interval) -> str:
    """Return the size of a difference that excludes no change ("4 to 18 points")."""
    ends = sorted(round(100.0 * abs(end)) for end in (difference.lower, difference.upper))
    return f"{ends[0]} to {counted(ends[1], 'point')}"


def _hands(comparison: Comparison, but: str = "") -> str:
    return f"; {but}mostly other operators worked then" if comparison.new_hands else ""


def failures_of(family: str, process: Process) -> str:
    """Return a family as the failures it stands for; "failures" for all of them."""
    if family == ALL:
        return "failures"
    return failures_words(next(one.label for one in process.families if one.name == family))


def points_words(difference: Interval) -> str:
    """
    Return the interval of a difference of rates in words.

    Examples
    --------
    >>> from weakstep.interval import Interval
    >>> points_words(Interval(-0.1, -0.2, 0.01, 0.95))
    'from 20 points less to 1 point more'
    """
    low, high = round(100.0 * difference.lower), round(100.0 * difference.upper)
    return f"from {_points(low)} to {_points(high)}"


def _points(points: int) -> str:
    size = counted(abs(points), "point")
    return "no change" if points == 0 else f"{size} {'more' if points > 0 else 'less'}"


def _first(words: str) -> str:
    return words[:1].upper() + words[1:]


def _family(change: RateChange, comparison: Comparison, process: Process) -> str:
    items = process.items
    lines = [f"{_first(failures_of(change.family, process))}"]
    for name, lost, seen, rate in zip(
        comparison.names,
        change.failed,
        change.tested,
        (change.before, change.after),
        strict=True,
    ):
        lines.append(f"  {name}: {lost} of {seen} {items} failed, {share_words(rate)}")
    lines.append(f"  difference: {points_words(change.difference)}")
    if change.allowed is not None:
        lines.append(f"  with other things held: {points_words(change.allowed)}")
    lines.append(f"  chance of a difference as large by luck: {chance_words(change.luck)}")
    # After a rise the question is not whether few failures are a fall.
    if change.still_possible is not None and change.difference.estimate <= 0.0:
        lines.append(f"  {_few_failed(change, items)}")
    return "\n".join(lines)


def _few_failed(change: RateChange, items: str) -> str:
    lost, seen = change.failed[1], change.tested[1]
    said = f"{lost} of {seen} still allows {percent(change.still_possible or 0.0)} (one-sided 95 %)"
    before = change.before.estimate
    if change.good_needed is None:
        return f"{said}."
    if change.still_possible is not None and change.still_possible < before:
        return f"{said}, which is below the {percent(before)} of before."
    return (
        f"{said}: to rule out the {percent(before)} of before takes about {change.good_needed} "
        f"good {items} in a row."
    )


def _own_values(comparison: Comparison, column: str, process: Process) -> str:
    """Tell the values of the parameter that was changed on purpose."""
    parameter, spread = process.parameter(column), comparison.spread
    label = _first(named(parameter))
    if spread is None:
        return (
            f"{label}: fewer than {FEWEST_VALUES} runs of a period have a value, too few to "
            "compare its own spread."
        )
    if parameter.kind == "yes_no":
        return (
            f"{label}: yes in {percent(spread.medians[0])} of runs before and "
            f"{percent(spread.medians[1])} after."
        )
    return f"{label}: {_spread(spread, process)}."


def _spread(spread: Spread, process: Process) -> str:
    parameter = process.parameter(spread.column)
    medians = [number_words(round(v, parameter.decimals), parameter) for v in spread.medians]
    if spread.as_factor:
        before, after = (f"a factor of {value:.2f}" for value in spread.deviations)
    else:
        before, after = (
            number_words(float(f"{value:.2g}"), parameter) for value in spread.deviations
        )
    text = (
        f"median {medians[0]} before and {medians[1]} after; one standard deviation {before} "
        f"before and {after} after"
    )
    ratio = spread.ratio
    if ratio.lower > 0.0 and ratio.upper < float("inf"):
        of_what = "ratio of the logs'" if spread.as_factor else "ratio"
        text += f" ({of_what} {ratio.estimate:.2f}, {ratio.lower:.2f} to {ratio.upper:.2f}, 95 %)"
    if spread.inside is not None:
        text += (
            f"; inside the window {percent(spread.inside[0])} of runs before and "
            f"{percent(spread.inside[1])} after"
        )
    return text


def _how(comparison: Comparison, process: Process) -> str:
    """Say once how the figures of all families were computed."""
    held = [in_sentence(process.parameter(column).label) for column in comparison.held]
    dealt = {
        "runs within operators": "whole runs dealt to the two periods by lot, within operators",
        "operators": "operators with all their runs dealt to the two periods by lot",
        "too few operators": "by the model's own error, in which operators differ",
    }[comparison.dealt]
    return (
        f"Intervals are 95 % and take {process.items} of one run together. Held by the model: "
        f"{', '.join(['who ran it', *held])}. Luck: {dealt}."
    )


def _notes(comparison: Comparison, process: Process) -> list[str]:
    notes = []
    if comparison.moved:
        told = [
            f"{in_sentence(process.parameter(one.column).label)} ("
            f"{setting_words(process, one.column, float(f'{one.before:.4g}'))} to "
            f"{setting_words(process, one.column, float(f'{one.after:.4g}'))})"
            for one in comparison.moved[:MOST_TOLD]
        ]
        more = len(comparison.moved) - len(told)
        also = f", and {more} more" if more else ""
        ending = (
            _holds(comparison, process)
            if comparison.column
            else "Any of them may be behind a difference; name the one that was changed on "
            "purpose with --column to hold the others."
        )
        notes.append(f"Also different between the periods: {', '.join(told)}{also}. {ending}")
    if comparison.weeks_differ is not None and comparison.weeks_differ <= WEEKS_DIFFER:
        notes.append(
            "Within the periods, weeks differ by more than chance (chance "
            f"{chance_words(comparison.weeks_differ)}): the intervals are then too narrow."
        )
    if comparison.new_hands:
        notes.append(
            "Most runs of a period were made by operators who did not work in the other: new hands "
            "cannot be told from the change."
        )
    if comparison.undated:
        notes.append(f"{counted(comparison.undated, 'run')} without a date left out.")
    notes.append(
        "Before and after are not a trial: whatever else changed at the same time would look the "
        "same. Runs of both kinds in random order settle it ('weakstep trial')."
    )
    return notes


def _holds(comparison: Comparison, process: Process) -> str:
    """Say which of the parameters that moved are held, and which cannot be."""
    causes = [one for one in comparison.moved if process.parameter(one.column).is_factor]
    told = []
    if causes:
        which = "them" if len(comparison.held) == len(comparison.moved) else "those named above"
        told.append(f"The model holds {which}, as far as the log can tell them apart.")
    if len(causes) < len(comparison.moved):
        told.append("Measured outcomes come of a change and are not held.")
    return " ".join(told)
