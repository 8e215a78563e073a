"""Signals in words: one line each, with what to check first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.failures.words import counted, in_sentence, named, number_words, percent
from weakstep.watching.baseline import FAILURES, JOINT, OTHERS

if TYPE_CHECKING:
    from weakstep.process.model import Parameter, Process
    from weakstep.watching.baseline import Baseline
    from weakstep.watching.monitor import Found, Watched


_RUNS_NAMED = 8  # of those told together
_REASONS_TOLD = 3


def signal_words(found: Found, process: Process) -> str:
    """Return a signal as one line: what, since when, how much, what to check first."""
    still = "still " if found.still else ""
    since = f"run {found.run}"
    if found.since != found.run:
        since += f", since about run {found.since}"
    if found.chart == JOINT:
        parts = ", ".join(in_sentence(process.parameter(name).label) for name in found.parts)
        return (
            f"{since}: together, parameters {still}lie apart from the baseline, most of all "
            f"{parts}. {_check(process.parameter(found.parts[0]))}"
        )
    kind, _, family = found.chart.partition(":")
    if kind == FAILURES:
        what = _failures_words(family, process)
        more = f"{what} still come more often" if found.still else f"more {what}"
        return (
            f"{since}: {more}, {percent(found.now or 0.0)} of {process.items} "
            f"against {percent(found.before or 0.0)} in the baseline. "
            "Check first: what goes with them, by a review of the log with these runs."
        )
    parameter = process.parameter(found.chart)
    what = named(parameter)
    now, before = (
        number_words(float(f"{value or 0.0:.4g}"), parameter) for value in (found.now, found.before)
    )
    if found.way == "more spread":
        told = (
            f"{what} {still}varies more, standard deviation {now} against {before} in the baseline"
        )
    else:
        told = f"{what} is {still}{found.way}, {now} against {before} in the baseline"
    return f"{since}: {told}. {_check(parameter)}"


def _failures_words(family: str, process: Process) -> str:
    if family == OTHERS:
        return "failures of the rare kinds"
    labels = {one.name: one.label for one in process.families}
    label = in_sentence(labels.get(family, family))
    return label if "failures" in label else f"failures ({label})"


def _check(parameter: Parameter) -> str:
    first = parameter.check_first or "Ask how it is measured and written, and what was changed."
    return f"Check first: {first}"


def summary_words(watched: Watched, baseline: Baseline, process: Process) -> str:
    """Return what was looked at, and what could not be."""
    lines = [
        f"{counted(watched.new_runs, 'new run')} against a baseline of "
        f"{counted(len(baseline.runs), 'run')}; chance of any false alarm in "
        f"{counted(baseline.semester, 'run')}: {percent(baseline.chance)}."
    ]
    if not baseline.columns:
        lines.append(f"No parameter is watched{_why_not(baseline, process)}.")
    if process.sha256 != baseline.process_sha256:
        lines.append(
            "The description of the process was changed since the baseline was made; "
            "a review makes a new one."
        )
    if watched.missing:
        labels = [_label(name, process) for name in watched.missing]
        lines.append(f"Not in the new runs: {', '.join(labels)}.")
    for name, run in watched.stopped:
        label = in_sentence(process.parameter(name).label)
        lines.append(f"No longer logged since run {run}: {label}.")
    if watched.outside and baseline.window is not None:
        parameter = process.parameter(baseline.window[0])
        lines.append(
            f"{counted(len(watched.outside), 'new run')} outside the window of {named(parameter)}"
            f"{_last_named(watched.outside)}."
        )
    if watched.early:
        lines.append(
            f"{counted(len(watched.early), 'new run')} from before the end of the baseline"
            f"{_last_named(watched.early)}. Was the name or the time of an old run changed?"
        )
    if watched.used_again:
        lines.append(
            "Rows later than the baseline are not watched, for they carry names of "
            f"{counted(len(watched.used_again), 'run')} in it{_last_named(watched.used_again)}. "
            "Give new runs new names."
        )
    if watched.unread:
        lines.append(
            f"{counted(len(watched.unread), 'problem')} in the new rows, which 'weakstep check' "
            f"lists; the first: {watched.unread[0]}"
        )
    return "\n".join(lines)


def _label(name: str, process: Process) -> str:
    """Label of a column of the baseline; its name where the description has it no longer."""
    return in_sentence(process.parameter(name).label) if process.has(name) else name


def _why_not(baseline: Baseline, process: Process) -> str:
    told = [f"{_label(name, process)} ({reason})" for name, reason in baseline.not_watched.items()]
    more = len(told) - _REASONS_TOLD
    named_first = f": {', '.join(told[:_REASONS_TOLD])}" if told else ""
    return named_first + (f" and {more} more" if more > 0 else "")


def _last_named(runs: tuple[str, ...]) -> str:
    last = ", the last of them" if len(runs) > _RUNS_NAMED else ""
    return f"{last}: {', '.join(runs[-_RUNS_NAMED:])}"
