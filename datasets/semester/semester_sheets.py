"""The four hands of the demo semester: their column order, words, units, dates, decimal marks."""

from __future__ import annotations

from functools import partial

import numpy as np
from semester_hands import Column, Hand, name, number, outcome, time

BENCH = Hand(("OP1", "OP2"), "bench.csv", ",", "utf-8", "\n")
PLASMA_ROOM = Hand(("OP3",), "plasma_room.csv", ";", "utf-8-sig", "\r\n")
GROUP_B = Hand(("OP4", "OP5"), "group_b.csv", "\t", "utf-8", "\n")
NEWCOMER = Hand(("OP6",), "newcomer.csv", ",", "utf-8", "\r\n")


def bench_columns(rng: np.random.Generator) -> list[Column]:
    """OP1 and OP2: a tidy sheet with units in the headers, masses weighed, ISO dates."""
    words = {
        "good": ("ok", "OK", "good", "✓"),
        "no_bond": ("no bond",),
        "leak": ("leaked a bit", "leak"),
    }
    return [
        Column("chip_id", "chip", name),
        Column("run_id", "run", name),
        Column("batch_id", "batch", name),
        Column("started_at", "date time", time("%Y-%m-%d %H:%M")),
        Column("operator", "operator", name),
        Column("mould_id", "mould", name),
        Column("kit_lot", "kit lot", name),
        Column("base_g", "base (g)", number(2)),
        Column("agent_g", "agent (g)", number(2)),
        Column("mix_min", "mix (min)", number(1, step=0.5)),
        Column("degas_min", "degas (min)", number(0, step=5)),
        Column("vacuum_kpa", "vacuum (kPa abs)", number(1)),
        Column("cure_c", "oven (°C)", number(1)),
        Column("cure_h", "cure time (h)", number(1)),
        Column("pdms_age_h", "PDMS age (h)", number(0)),
        Column("punch_id", "punch", name),
        Column("punch_holes", "punch holes", number(0)),
        Column("tape_passes", "tape passes", number(0)),
        Column("dry_min", "drying (min)", number(0)),
        Column("pumpdown_s", "pump-down (s)", number(0)),
        Column("pressure_pa", "pressure (Pa)", number(0)),
        Column("power_w", "power (W)", number(0)),
        Column("plasma_s", "plasma (s)", number(0)),
        Column("oil_hours", "oil hours", number(0)),
        Column("delay_s", "delay (s)", number(0)),
        Column("bake_min", "bake (min)", number(0, step=5)),
        Column("wait_h", "wait (h)", number(1)),
        Column("room_c", "room (°C)", number(1)),
        Column("rh_pct", "RH (%)", number(0)),
        Column("outcome", "outcome", outcome(words, rng)),
        Column("failure_location", "failure location", name),
    ]


def plasma_room_columns(rng: np.random.Generator) -> list[Column]:
    """OP3: decimal commas, semicolons, day first with points, pressures in mbar."""
    words = {"good": ("OK",), "partial_bond": ("partial bond", "patchy"), "leak": ("leaks",)}
    comma = partial(number, mark=",")
    return [
        Column("started_at", "Date", time("%d.%m.%Y %H:%M")),
        Column("run_id", "Run ID", name),
        Column("chip_id", "Chip ID", name),
        Column("operator", "Operator", name),
        Column("pumpdown_s", "Pump-down [s]", comma(0)),
        Column("pressure_pa", "Chamber pressure [mbar]", comma(2, per_unit=100.0)),
        Column("plasma_s", "Plasma time [s]", comma(0)),
        Column("oil_hours", "Oil hours", comma(0)),
        Column("delay_s", "Delay [s]", comma(0, step=5)),
        Column("room_c", "Room [°C]", comma(1)),
        Column("rh_pct", "Humidity [%]", comma(0)),
        Column("bake_min", "Bake [min]", comma(0, step=5)),
        Column("wait_h", "Wait [h]", comma(1)),
        Column("base_g", "Base [g]", comma(1)),
        Column("agent_g", "Agent [g]", comma(2)),
        Column("mix_min", "Mix [min]", comma(1)),
        Column("degas_min", "Degas [min]", comma(0)),
        Column("vacuum_kpa", "Vacuum [mbar abs]", comma(0, per_unit=0.1)),
        Column("cure_c", "Cure temp [°C]", comma(1)),
        Column("cure_h", "Cure time [h]", comma(1)),
        Column("pdms_age_h", "PDMS age [h]", comma(0)),
        Column("punch_holes", "Holes punched", comma(0)),
        Column("tape_passes", "Tape passes", comma(0)),
        Column("mould_id", "Mould", name),
        Column("kit_lot", "Lot", name),
        Column("outcome", "Result", outcome(words, rng)),
    ]


def group_b_columns(rng: np.random.Generator) -> list[Column]:
    """OP4 and OP5: tabs, day first with strokes, minutes for seconds, the ratio as a word."""
    ratios = (
        "10:1",
        "10:1",
        "10:1",
        "10:1",
        "1:10",
        "10-1",
        "10/1",
        "10:1 (w/w)",
        "10:01",
        "10 to 1",
        "10",
    )
    words = {
        "good": ("good", "ok", "works"),
        "delamination": ("delaminated",),
        "port_leak": ("leak at port",),
        "no_bond": ("no bond", "NO BOND"),
    }
    return [
        Column("run_id", "run no", name),
        Column("chip_id", "chip no", name),
        Column("started_at", "when", time("%d/%m/%Y %H:%M")),
        Column("operator", "who", name),
        Column("mould_id", "mold", name),
        Column("kit_lot", "lot", name),
        Column("ratio", "ratio", lambda _value: (str(rng.choice(ratios)), "10")),
        Column("mix_min", "stirred min", number(0)),
        Column("degas_min", "degassed min", number(0, step=5)),
        Column("cure_c", "cure temp C", number(0)),
        Column("cure_h", "cure time h", number(1, step=0.5)),
        Column("pdms_age_h", "age of PDMS h", number(0)),
        Column("punch_holes", "holes", number(0)),
        Column("tape_passes", "tape", number(0)),
        Column("dry_min", "dry min", number(0)),
        Column("pumpdown_s", "pump down (min)", number(2, per_unit=60.0)),
        Column("pressure_pa", "pressure Pa", number(0)),
        Column("power_w", "power", number(0)),
        Column("plasma_s", "exposure s", number(0)),
        Column("oil_hours", "oil hours", number(0, step=5)),
        Column("delay_s", "delay (min)", number(2, per_unit=60.0)),
        Column("bake_min", "bake min", number(0, step=10)),
        Column("room_c", "room C", number(0)),
        Column("rh_pct", "humidity", number(0)),
        Column("outcome", "result", outcome(words, rng)),
        Column("failure_location", "where", name),
    ]


def newcomer_columns(rng: np.random.Generator) -> list[Column]:
    """OP6: results first, month names, room in °F, pressure in mTorr, a column of their own."""
    words = {
        "good": ("✓", "good", "ok"),
        "leak": ("leaked a bit", "leak"),
        "partial_bond": ("half bonded", "partial"),
        "no_bond": ("no bond",),
    }
    colours = ("red", "blue", "green")
    return [
        Column("outcome", "outcome", outcome(words, rng)),
        Column("chip_id", "chip", name),
        Column("run_id", "run", name),
        Column("started_at", "started", time("%-d %b %Y %H:%M")),
        Column("operator", "operator", name),
        Column("", "sticker colour", lambda _value: (str(rng.choice(colours)), "")),
        Column("room_c", "room temp (F)", number(0, per_unit=1 / 1.8, zero=32.0)),
        Column("rh_pct", "RH %", number(0)),
        Column("wait_h", "wait before liquid (h)", number(0)),
        Column("bake_min", "bake (min)", number(0, step=5)),
        Column("delay_s", "delay to contact (s)", number(0, step=5)),
        Column("plasma_s", "plasma time (s)", number(0)),
        Column("power_w", "power (W)", number(0)),
        Column("pressure_pa", "pressure (mTorr)", number(0, per_unit=0.1333224, step=10)),
        Column("pumpdown_s", "pump-down (s)", number(0)),
        Column("oil_hours", "oil hours", number(0)),
        Column("dry_min", "dry (min)", number(0)),
        Column("tape_passes", "tape passes", number(0)),
        Column("punch_holes", "punch holes", number(0)),
        Column("cure_h", "cure (h)", number(1)),
        Column("cure_c", "cure (C)", number(1)),
        Column("degas_min", "degas (min)", number(0)),
        Column("mix_min", "mixing time (min)", number(1)),
        Column("agent_g", "agent (g)", number(2)),
        Column("base_g", "base (g)", number(2)),
        Column("kit_lot", "kit lot", name),
        Column("mould_id", "mould", name),
    ]
