"""Tables of counts: groups, places on the item, steps, and what the trade suspects."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weakstep.report.figures.ranking import EVIDENCE
from weakstep.report.names import Names
from weakstep.report.plot import Table
from weakstep.report.words import (
    agree,
    count,
    grouped,
    p_value,
    percent,
    plain,
    sentence,
    share_words,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from weakstep.failures.further_model import Interaction, MeasuredOutcome
    from weakstep.failures.model import Suspicion, Tally

SUSPECTED = ("", "weak", "some", "strong")


def evened_out(tally: Tally, column: str) -> dict[str, str]:
    """Return the share each group would show with the help of the others, by group."""
    return {
        group.name: share_words(group.shrunken) for group in tally.groups if group.column == column
    }


def places(names: Names, tally: Tally) -> Table | None:
    """Return where on the item it failed, None when no place was logged."""
    if not tally.places:
        return None
    return Table(
        f"Where on the {names.process.item} it failed",
        ("place", "count", "share of those with a place"),
        tuple(
            (place.words, str(place.count),
             share_words(place.share))
            for place in tally.places
        ),
        (False, True, True),
        "In brackets the 95 % interval.",
    )  # fmt: skip


def step_yields(names: Names, tally: Tally) -> Table | None:
    """Return what each step let through if the trade's suspicions are right; None without any."""
    if not tally.steps:
        return None
    return Table(
        "Yield of each step, if the failures came from where the trade suspects",
        ("step", "lost there", "yield", "yield so far"),
        tuple(
            (names.step(step.step), plain(step.lost, 1),
             share_words(step.share), percent(step.rolled))
            for step in tally.steps
        ),
        (False, True, True, True),
        "Each failure is shared out over the steps suspected for its mode. This orders questions; "
        "it proves nothing.",
    )  # fmt: skip


def suspected(names: Names, suspicions: Sequence[Suspicion]) -> Table | None:
    """Return the trade's suspicion of each mode and step beside this log's evidence."""
    if not suspicions:
        return None
    steps = list(dict.fromkeys(item.step for item in suspicions))
    modes = list(dict.fromkeys(item.mode for item in suspicions))
    cells = {(item.mode, item.step): _suspicion(names, item) for item in suspicions}
    kept = [step for step in steps if any(cells.get((mode, step)) for mode in modes)]
    if not kept:
        return None
    return Table(
        "What the trade suspects, and what this log says",
        ("step", *(names.mode(mode) for mode in modes)),
        tuple(
            (names.step(step), *(cells.get((mode, step), "") or "–" for mode in modes))
            for step in kept
        ),
        (False,) * (1 + len(modes)),
        "First what the process description suspects (weak, some or strong), then what this log "
        "says of this failure alone: the step’s parameter that it is most linked to with the "
        "evidence, no sign of any, or too few such failures to ask.",
    )


def _suspicion(names: Names, item: Suspicion) -> str:
    suspected = SUSPECTED[item.suspected] or "not suspected"
    if item.column is not None and item.mode_evidence not in (None, "none"):
        return f"{suspected}; {EVIDENCE[item.mode_evidence][0]}: {names.label(item.column)}"
    if item.column is not None:
        return f"{suspected}; no sign" if item.suspected else ""
    if item.evidence not in (None, "none"):
        return f"{suspected}; too few to ask, {EVIDENCE[item.evidence][0]} for its family"
    return (
        f"{suspected}; too few to ask"
        if item.suspected and item.evidence
        else SUSPECTED[item.suspected]
    )


def pairs(found: Sequence[Interaction]) -> tuple[str, ...]:
    """Return what is said about listed pairs of parameters; the acquitted ones only as a count."""
    said = [sentence(pair.sentence) for pair in found if pair.evidence != "none"]
    rest = len(found) - len(said)
    if rest:
        pair = "pair of parameters" if rest == 1 else "pairs of parameters"
        more = "further " if said else ""
        said.append(
            f"{grouped(rest)} {more}{pair} that the description lists as plausibly acting together "
            f"{agree(rest, 'was', 'were')} tried; no evidence that "
            f"{agree(rest, 'it does', 'they do')}."
        )
    return tuple(said)


def measured(names: Names, outcome: MeasuredOutcome) -> tuple[str, Table]:
    """Return how well items held by a measured value, and what early failure is linked to."""
    process, column = names.process, outcome.column
    items = count(outcome.failed + outcome.held, process.item, process.items)
    half = (
        f"half of them below {names.value(column, outcome.median)}"
        if outcome.median is not None
        else "more than half held to the largest value"
    )
    held = (
        f"; {grouped(outcome.held)} held to the value written or failed elsewhere"
        if outcome.held
        else ""
    )
    verb = agree(outcome.failed + outcome.held, "was", "were")
    lead = sentence(f"{names.label(column)}: {items} {verb} measured, {half}{held}")
    table = Table(
        f"Parameters by their link with low {names.label(column)}",
        ("parameter", "step", "early failure", "p", "evidence"),
        tuple(
            (names.label(link.column), names.step(link.step), link.shape, p_value(link.p),
             EVIDENCE[link.evidence][0])
            for link in outcome.links
        ),
        (False, False, False, True, False),
        f"p is family-wise over what was tried here. Most likely Weibull distribution: shape "
        f"{plain(outcome.weibull_shape)}, scale {names.value(column, outcome.weibull_scale)}.",
    )  # fmt: skip
    return lead, table
