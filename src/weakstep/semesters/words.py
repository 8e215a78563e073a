"""The history in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.failures.words import chance_words, counted, in_sentence, percent
from weakstep.semesters.telling import month_name
from weakstep.trials.comparing import ALL
from weakstep.trials.comparison_words import answer, failures_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np

    from weakstep.process.model import Process
    from weakstep.semesters.model import Change, ChangeOutcome, FamilyTrend, History
    from weakstep.trials.comparing import Comparison
    from weakstep.trials.dealing import HowDealt

_AS_GOOD_AS_HELD = 0.9  # of the runs inside the window
SURE = 0.05  # shared out over the families of a log
_NEW_HANDS: Mapping[HowDealt, str] = {
    "runs within operators": "",
    "operators": "; mostly new hands each semester, so whole operators were dealt",
    "too few operators": "; mostly other operators worked in each semester, and they were few",
}


def day_words(day: np.datetime64) -> str:
    """
    Return a day as people write it.

    Examples
    --------
    >>> import numpy as np
    >>> day_words(np.datetime64("2026-05-03"))
    '3 May 2026'
    """
    year, month, number = str(day.astype("datetime64[D]")).split("-")
    return f"{int(number)} {month_name(int(month))} {year}"


def concerns(change: Change, process: Process) -> str:
    """Return what a change is about ("delay", "step mixing"); empty when the list does not say."""
    if change.column is not None:
        return in_sentence(process.parameter(change.column).label)
    return "" if change.step is None else in_sentence(process.step(change.step).label)


def change_sentence(outcome: ChangeOutcome, process: Process) -> str:
    """
    Return what was changed and what came of it.

    The failure family that the list names is told; all failures without one.
    """
    change = outcome.change
    about = concerns(change, process)
    said = [f"{day_words(change.date)}: {change.what}{f' ({about})' if about else ''}."]
    if outcome.comparison is None:
        said.append(f"What came of it cannot be told: {outcome.why_not}.")
    else:
        said.append(answer(outcome.comparison, process, change.family or ALL))
        said += _followed(outcome.comparison)
    if outcome.comparison is not None and outcome.days is not None:
        runs = [counted(number, "run") for number in outcome.comparison.runs]
        begin, last, first, end = map(day_words, outcome.days)
        said.append(f"Compared: {runs[0]} of {begin} to {last} with {runs[1]} of {first} to {end}.")
    if outcome.semesters > 1:
        said.append(
            f"They lie in {outcome.semesters} semesters, which may differ for other reasons, too."
        )
    if outcome.same_day:
        said.append(
            f"Changed on the same day, and not to be told apart: {'; '.join(outcome.same_day)}."
        )
    if outcome.meanwhile:
        also = [f"{one.what} on {day_words(one.date)}" for one in outcome.meanwhile]
        said.append(
            f"Changed elsewhere meanwhile, and perhaps part of the difference: {'; '.join(also)}."
        )
    if change.from_review is not None:
        said.append(f"It acted on the verdict of {_review_words(change.from_review)}.")
    return " ".join(said)


def _followed(comparison: Comparison) -> list[str]:
    """Say how many runs were inside the window that was agreed on."""
    if comparison.spread is None or comparison.spread.inside is None:
        return []
    before, since = comparison.spread.inside
    told = f"Inside the window: {percent(before)} of runs before, {percent(since)} since"
    if since <= before and since < _AS_GOOD_AS_HELD:
        told += ": it was not held, so that hardly anything can have come of it"
    return [f"{told}."]


def _review_words(text: str) -> str:
    """Return how the list names a review; "yes" names none."""
    if text.lower() in ("yes", "y", "true", "x", "1"):
        return "a review"
    if "review" not in text.lower():
        return f"the review '{text}'"
    return text if text.lower().startswith(("the ", "our ", "a ")) else f"the {text}"


def trend_sentence(trend: FamilyTrend, history: History, process: Process) -> str:
    """
    Return how a family went over the semesters in one sentence.

    A fall or a rise is stated only when luck is unlikely, counting every family that was looked at,
    and the interval agrees.
    """
    sure_at = SURE / len(history.trends)
    shown = [
        (rate, one.name)
        for rate, one in zip(trend.rates, history.semesters, strict=True)
        if rate is not None
    ]
    (first, begin), (last, end) = shown[0], shown[-1]
    what = failures_of(trend.family, process)
    what = what[:1].upper() + what[1:]
    path = f"from {percent(first.estimate)} ({begin}) to {percent(last.estimate)} ({end})"
    odds = trend.odds_per_semester
    sure = odds is not None and not odds.lower <= 1.0 <= odds.upper
    if trend.luck <= sure_at and odds is not None and sure:
        way = "fall" if odds.estimate < 1.0 else "rise"
        return (
            f"{what} {way} from semester to semester: {path}, their odds by a factor of "
            f"{odds.estimate:.2f} a semester ({odds.lower:.2f} to {odds.upper:.2f}, 95 %; chance "
            f"of luck {chance_words(trend.luck)}){_NEW_HANDS[trend.dealt]}."
        )
    if trend.differ is not None and trend.differ <= sure_at:
        return (
            f"{what} went {path}; semesters differ by more than luck (chance of luck "
            f"{chance_words(trend.differ)}), but there is no steady way up or down"
            f"{_NEW_HANDS[trend.dealt]}."
        )
    asked = ""
    if sure_at < trend.luck <= SURE:  # the reader knows 5 % and would wonder
        asked = f", where {100.0 * sure_at:.1f} % is asked of each of {len(history.trends)} rates"
    return (
        f"{what} went {path}; that may be luck (chance {chance_words(trend.luck)}{asked}), so no "
        f"trend can be shown yet{_NEW_HANDS[trend.dealt]}."
    )
