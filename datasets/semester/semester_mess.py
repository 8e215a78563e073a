"""The entry mess of the demo semester: what hands do to cells and rows, cell by cell."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from semester_hands import Sheet, reading

Rewrite = Callable[[float], tuple[str, str]]
Fits = Callable[[float], bool]

WHOLE_ROW = "*"  # stands for the column where a finding concerns a whole row


def _anything(_value: float) -> bool:
    return True


class Messer:
    """Picks cells at random, never one that was touched before, and rewrites them."""

    def __init__(self, sheet: Sheet, rng: np.random.Generator) -> None:
        self.sheet = sheet
        self.rng = rng

    def _plain(self, parameter: str, fits: Fits) -> list[int]:
        found = []
        for index, row in enumerate(self.sheet.rows):
            cell = row[parameter]
            if cell.kind == "plain" and WHOLE_ROW not in row and fits(float(cell.honest)):
                found.append(index)
        return found

    def numbers(
        self, parameter: str, count: int, kind: str, rewrite: Rewrite, fits: Fits = _anything
    ) -> None:
        """Rewrite `count` plain cells of a number column whose value fits."""
        candidates = self._plain(parameter, fits)
        for index in self.rng.choice(candidates, size=min(count, len(candidates)), replace=False):
            text, honest = rewrite(float(self.sheet.rows[int(index)][parameter].honest))
            self.sheet.set(int(index), parameter, text, honest, kind)

    def every(self, parameter: str, kind: str, rewrite: Rewrite, fits: Fits) -> None:
        """Rewrite every plain cell of a number column whose value fits."""
        self.numbers(parameter, len(self.sheet.rows), kind, rewrite, fits)

    def missing(self, parameter: str, count: int, text: str) -> None:
        """Leave `count` cells without a value: blank, a dash, n/a or an impossible zero."""
        kind = {"": "blank", "0": "zero for missing"}.get(text, "mark for missing")
        self.numbers(parameter, count, kind, lambda _value: (text, "missing"))

    def names(self, parameter: str, old: str, new: str, runs: int, kind: str) -> None:
        """Write a name in another spelling, meaning the same, in all rows of a few runs."""
        having = [row["run_id"].text for row in self.sheet.rows if row[parameter].text == old]
        chosen = self.rng.choice(list(dict.fromkeys(having)), size=runs, replace=False)
        for index, row in enumerate(self.sheet.rows):
            if row["run_id"].text in chosen:
                self.sheet.set(index, parameter, new, row[parameter].honest, kind)

    def outcomes(self, text: str, honest: str, count: int, kind: str) -> None:
        """Replace the outcome of `count` good chips by words that say less."""
        rows = [i for i, row in enumerate(self.sheet.rows) if row["outcome"].honest == "good"]
        for index in self.rng.choice(rows, size=count, replace=False):
            self.sheet.set(int(index), "outcome", text, honest, kind)

    def free_wording(self) -> None:
        """Name the outcome words of this hand as what they are: a mess to be read."""
        for index, row in enumerate(self.sheet.rows):
            cell = row["outcome"]
            if cell.kind == "plain" and cell.text != cell.honest:
                self.sheet.set(index, "outcome", cell.text, cell.honest, "outcome in own words")

    def ditto(self, parameter: str, count: int, text: str) -> None:
        """Put a ditto mark into later chips of a run; its reading is the cell above."""
        rows = self.sheet.rows
        later = [
            index
            for index in range(1, len(rows))
            if rows[index]["run_id"].text == rows[index - 1]["run_id"].text
            and rows[index][parameter].kind == "plain" == rows[index - 1][parameter].kind
        ]
        spaced = [index for position, index in enumerate(later) if position % 3 == 0]
        for index in self.rng.choice(spaced, size=min(count, len(spaced)), replace=False):
            above = rows[int(index) - 1][parameter]
            self.sheet.set(int(index), parameter, text, above.honest, "ditto")

    def paste_twice(self) -> None:
        """Paste one row a second time, directly below itself."""
        index = int(self.rng.integers(10, len(self.sheet.rows) - 10))
        copy = dict(self.sheet.rows[index])
        copy[WHOLE_ROW] = replace(copy["chip_id"], text="", honest="duplicate", kind="pasted twice")
        self.sheet.rows.insert(index + 1, copy)

    def copy_previous_run(self) -> None:
        """Fill one run in by copying the run before it, keeping only ids and results."""
        rows = self.sheet.rows
        runs = list(dict.fromkeys(row["run_id"].text for row in rows))
        target = runs[int(self.rng.integers(5, len(runs) - 5))]
        source = rows[min(i for i, row in enumerate(rows) if row["run_id"].text == target) - 1]
        kept = {"chip_id", "run_id", "batch_id", "outcome", "failure_location"}
        for row in rows:
            if row["run_id"].text == target:
                row.update({name: cell for name, cell in source.items() if name not in kept})
                row[WHOLE_ROW] = replace(row["run_id"], text="", honest="ask", kind="copied run")


def mess_bench(messer: Messer) -> None:
    """OP1 and OP2: units inside cells, a few °F, zeros for missing, one row pasted twice."""
    messer.numbers("delay_s", 4, "unit in cell", _minutes_and_seconds, lambda s: 60 < s < 300)
    messer.numbers("delay_s", 3, "unit in cell", _minutes, lambda s: s > 20)
    messer.numbers("plasma_s", 3, "unit in cell", _minutes)
    messer.numbers("plasma_s", 3, "range", lambda s: (f"{s - 5:.0f}-{s + 5:.0f} s", reading(s)))
    messer.numbers("plasma_s", 4, "about", lambda s: (f"~{s:.0f}", reading(s)))
    messer.numbers("cure_c", 4, "unit in cell", _fahrenheit)
    messer.numbers("mix_min", 1, "impossible value", lambda _v: ("400", "ask"))
    messer.numbers("cure_h", 3, "free text", lambda _v: ("overnight", "ask"), lambda h: h > 10)
    for parameter, count, text in (
        ("rh_pct", 12, ""),
        ("rh_pct", 4, "0"),
        ("pumpdown_s", 8, ""),
        ("pumpdown_s", 3, "0"),
        ("dry_min", 4, "n/a"),
        ("wait_h", 5, "-"),
        ("room_c", 6, ""),
    ):
        messer.missing(parameter, count, text)
    messer.names("operator", "OP2", "op 2", 3, "name spelled another way")
    messer.outcomes("?", "unknown", 1, "outcome unknown")
    messer.outcomes("not tested", "not_tested", 2, "outcome unknown")
    messer.paste_twice()


def mess_plasma_room(messer: Messer) -> None:
    """OP3: clock-like times, bounds, overnight, a run copied from the one before."""
    messer.copy_previous_run()
    messer.numbers("delay_s", 1, "clock-like", _clock, lambda s: 60 < s < 120)
    messer.numbers("delay_s", 1, "bound only", lambda _s: ("< 60", "ask"), lambda s: s < 60)
    messer.numbers("plasma_s", 3, "about", lambda s: (f"ca. {s:.0f}", reading(s)))
    messer.numbers("wait_h", 3, "free text", lambda _v: ("overnight", "ask"), lambda h: h > 12)
    messer.every("cure_h", "free text", lambda _v: ("overnight", "ask"), lambda h: h > 10)
    messer.missing("rh_pct", 4, "n/a")
    messer.missing("pumpdown_s", 5, "")
    messer.missing("tape_passes", 3, "?")


def mess_group_b(messer: Messer) -> None:
    """OP4 and OP5: ditto marks, words for numbers, the ratio in every writing."""
    for index, row in enumerate(messer.sheet.rows):
        if row["ratio"].text not in ("10:1", "10"):
            messer.sheet.set(index, "ratio", row["ratio"].text, "10", "ratio in another writing")
    messer.ditto("room_c", 5, '"')
    messer.ditto("rh_pct", 4, "same")
    messer.ditto("cure_c", 3, '"')
    messer.numbers("power_w", 5, "free text", lambda _v: ("full power", "ask"))
    messer.every("cure_h", "free text", lambda _v: ("overnight", "ask"), lambda h: h > 10)
    messer.numbers("plasma_s", 3, "range", lambda s: (f"{s - 4:.0f} to {s + 4:.0f}", reading(s)))
    messer.missing("rh_pct", 8, "-")
    messer.missing("pumpdown_s", 10, "")
    messer.missing("dry_min", 4, "")
    messer.outcomes("fail?", "ask", 1, "outcome in doubt")
    messer.outcomes("worked after re-press", "ask", 1, "outcome in doubt")


def mess_newcomer(messer: Messer) -> None:
    """OP6: units after masses, one humidity that cannot be, base and agent swapped once."""
    messer.numbers("base_g", 5, "own unit in cell", lambda g: (f"{g:.2f} g", reading(g)))
    messer.numbers("delay_s", 4, "unit in cell", _minutes_and_seconds, lambda s: 60 < s < 300)
    messer.numbers("rh_pct", 1, "impossible value", lambda _v: ("412", "ask"))
    messer.numbers("plasma_s", 3, "about", lambda s: (f"about {s:.0f} s", reading(s)))
    messer.missing("pumpdown_s", 6, "")
    messer.missing("wait_h", 4, "n/a")
    messer.missing("rh_pct", 5, "")
    _swap_masses(messer)


def _swap_masses(messer: Messer) -> None:
    rows = messer.sheet.rows
    plain = [i for i, row in enumerate(rows) if row["base_g"].kind == "plain"]
    row = rows[int(messer.rng.choice(plain))]
    base, agent = row["base_g"], row["agent_g"]
    row["base_g"] = replace(base, text=agent.text, honest="ask", kind="base and agent swapped")
    row["agent_g"] = replace(agent, text=base.text, honest="ask", kind="base and agent swapped")


def _minutes_and_seconds(seconds: float) -> tuple[str, str]:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s", reading(round(seconds))


def _minutes(seconds: float) -> tuple[str, str]:
    text = f"{seconds / 60:.2f}".rstrip("0").rstrip(".")
    return f"{text} min", reading(float(text) * 60)


def _fahrenheit(celsius: float) -> tuple[str, str]:
    text = f"{celsius * 1.8 + 32:.0f}"
    return f"{text} F", reading((float(text) - 32) / 1.8)


def _clock(seconds: float) -> tuple[str, str]:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}", "ask"
