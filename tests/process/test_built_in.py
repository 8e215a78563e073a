"""The built-in process: its columns, steps, factors, outcomes and cautions."""

from __future__ import annotations

from weakstep.process.model import Process

# Every column of the built-in process, by step of the work.
COLUMNS = """
chip_id run_id batch_id started_at operator design_id mould_id mould_material kit_lot glass_lot
punch_id plasma_machine gas mould_uses release_uses base_g agent_g ratio kit_days_open mix_min
degas_min vacuum_kpa poured_g slab_mm cure_c cure_h equivalent_cure pdms_age_h punch_mm punch_holes
tape_passes dry_min touched pumpdown_s pressure_pa power_w plasma_s plasma_dose_j oil_hours
chamber_runs chamber_load delay_s repositioned press_s bake_c bake_min wait_h room_c rh_pct
absolute_humidity_g_m3 test_kpa test_hold_min burst_kpa outcome failure_location notes chips_made
chips_failed mould_softening_c
"""


def test_the_built_in_process_has_every_column(built_in: Process) -> None:
    """Nothing that a lab may log is left out."""
    assert set(COLUMNS.split()) <= {parameter.name for parameter in built_in.parameters}


def test_steps_stand_in_working_order(built_in: Process) -> None:
    """From the mould to the test."""
    order = "mould mixing degassing pouring cure punching cleaning plasma contact after room test"
    assert " ".join(step.name for step in built_in.steps) == order


def test_identities_and_outcomes_are_no_factors(built_in: Process) -> None:
    """Who made it, what the mould stands and how it was tested do not cause failures."""
    factors = {parameter.name for parameter in built_in.parameters if parameter.is_factor}
    assert factors.isdisjoint(
        ["operator", "mould_softening_c", "test_kpa", "test_hold_min", "burst_kpa", "mix_cm3"]
    )
    assert {"delay_s", "plasma_s", "rh_pct", "oil_hours", "touched"} <= factors


def test_every_factor_says_what_to_check_and_how_to_tighten(built_in: Process) -> None:
    """A ranking that names a factor can always say what to do."""
    for parameter in built_in.parameters:
        if parameter.is_factor:
            assert parameter.step, parameter.name
            assert parameter.check_first.endswith("."), parameter.name
            assert parameter.tightening.endswith("."), parameter.name


def test_no_value_on_a_log_scale_is_ruled_out_by_being_zero(built_in: Process) -> None:
    """Brought into contact at once is a delay of 0 s (common practice, no source)."""
    delay = built_in.parameter("delay_s")
    assert delay.scale == "log"
    assert delay.lower == 0.0


def test_outcomes_belong_to_their_families(built_in: Process) -> None:
    """Modes and families are those of the trade's table of failures."""
    families = {
        "bond": "no_bond partial_bond delamination leak late_delamination",
        "port": "port_leak tear blocked",
        "cure": "undercure bubbles",
        "other": "collapse overtreated demould_damage broken",
    }
    for family, modes in families.items():
        for mode in modes.split():
            assert built_in.mode(mode).family == family
    assert {m.name for m in built_in.modes if m.verdict == "untested"} == {"not_tested", "unknown"}


def test_interactions_and_the_standing_caution(built_in: Process) -> None:
    """Only pairs that the trade thinks plausible; one caution stands on every page."""
    assert built_in.interactions == (("plasma_s", "delay_s"), ("rh_pct", "delay_s"))
    assert [caution.name for caution in built_in.cautions if caution.always] == ["standing"]
