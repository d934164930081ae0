"""Points on artifacts: one unit at a time, with zeros before; every number is invented."""

from dataclasses import replace

import pytest

from sequencer.errors import InputError
from sequencer.steps.choose import settle_of
from sequencer.steps.expand import expand
from sequencer.steps.moves import count_moves
from sequencer.values.bench import Artifact, Bench
from sequencer.values.plan import ArtifactPoints
from sequencer.values.step import Sequence, Zero
from tests.steps.builders import ARTIFACTS, FARADS, MODELS, OHMS, WITH_OHMS, bench, plan, sweep


def table(artifacts: tuple[Artifact, ...] = ARTIFACTS) -> Bench:
    return replace(bench(), artifacts=artifacts)


def expanded(*values: float, models: tuple[str, ...] = ("ohms",)) -> Sequence:
    return expand(plan(sweep("resistance", *values), models=models), table(), MODELS)


def test_each_unit_is_alone_on_each_artifact_and_no_source_is_named() -> None:
    sequence = expanded(100.0, 1e3, models=("ohms", "ohms"))
    assert [(setup.wiring, setup.artifact, setup.reference, setup.source) for setup in sequence.setups] == [
        ("alone", "R100", "R100", ""),
        ("alone", "R1k", "R1k", ""),
    ] * 2
    assert [step.units for step in sequence.steps] == [(1,), (1,), (2,), (2,)]
    assert [step.nominal for step in sequence.steps] == [100.0, 1e3, 100.0, 1e3]


def test_a_point_is_served_by_the_artifact_within_a_tenth_of_it() -> None:
    # 100.02 Ω serves 90.018 Ω to 110.022 Ω.
    assert [setup.artifact for setup in expanded(110.0).setups] == ["R100"]
    assert [setup.artifact for setup in expanded(90.02).setups] == ["R100"]
    with pytest.raises(InputError, match="no artifact within 10% of it on this bench; the nearest is R100 with 100 Ω"):
        expanded(110.1)


def test_two_points_do_not_share_an_artifact() -> None:
    sequence = expanded(100.0, 105.0)
    assert [step.nominal for step in sequence.steps] == [100.0]
    (left_out,) = sequence.not_covered
    assert left_out.nominal == 105.0
    assert left_out.reason == "artifact R100 serves 100 Ω resistance already"


def test_a_plan_may_ask_for_whatever_artifacts_there_are() -> None:
    wanted = sweep("resistance", points=ArtifactPoints())
    assert [step.nominal for step in expand(plan(wanted, models=("ohms",)), table(), MODELS).steps] == [100.02, 999.7]
    with pytest.raises(InputError, match="no artifact of capacitance on this bench"):
        expand(
            plan(sweep("capacitance", points=ArtifactPoints()), models=("ohms",)),
            table(ARTIFACTS[:1]),
            MODELS,
        )


def test_the_range_is_chosen_by_what_the_artifact_is() -> None:
    # 590 Ω fits the 600 Ω range, an artifact of 612 Ω that serves it does not.
    bigger = replace(ARTIFACTS[0], name="R612", value=612.0)
    sequence = expand(plan(sweep("resistance", 590.0), models=("ohms",)), table((bigger,)), MODELS)
    assert not sequence.setups[0].zeros[0].relative


def test_a_zero_is_subtracted_where_the_manual_says_so_and_recorded_elsewhere() -> None:
    sequence = expanded(100.0, 1e3)
    assert [setup.zeros for setup in sequence.setups] == [
        (Zero(key="1:1:600.0 Ω", unit=1, leads="shorted", relative=True),),
        (Zero(key="1:1:", unit=1, leads="shorted"),),
    ]


def test_a_zero_on_a_higher_range_holds_that_range() -> None:
    on_high = replace(OHMS, rows=(replace(OHMS.rows[0], after=""), replace(OHMS.rows[1], after="zero"), OHMS.rows[2]))
    models = {**MODELS, "ohms": replace(WITH_OHMS, functions=(on_high,))}
    sequence = expand(plan(sweep("resistance", 1e3), models=("ohms",)), table(), models)
    (zero,) = sequence.setups[0].zeros
    assert (zero.relative, zero.held_range, zero.held_full_scale) == (True, "6000.0 Ω", 6e3)


def test_capacitance_has_its_zero_with_open_leads_and_takes_its_time() -> None:
    sequence = expand(plan(sweep("capacitance", 1e-6), models=("ohms",)), table(), MODELS)
    assert sequence.setups[0].zeros[0].leads == "open"
    assert sequence.steps[0].settle_s == 15.0


def test_high_resistance_takes_its_time_where_no_manual_says_how_long() -> None:
    assert settle_of(WITH_OHMS, OHMS, 6e6) == pytest.approx(1.0)
    assert settle_of(WITH_OHMS, OHMS, 10e6) == 15.0
    assert settle_of(WITH_OHMS, replace(FARADS, settle_s=4.0), 1e-6) == 4.0


def test_a_millivolt_position_that_asks_for_a_zero_gets_one_beside_other_units() -> None:
    volts = MODELS["millivolts"]
    zeroed = replace(volts.functions[0], rows=(replace(volts.functions[0].rows[0], after="zero"),))
    models = {**MODELS, "millivolts": replace(volts, functions=(zeroed, *volts.functions[1:]))}
    sequence = expand(plan(sweep("dc voltage", 0.4), models=("plain", "millivolts")), table(), models)
    (setup,) = sequence.setups
    assert setup.wiring == "parallel"
    assert setup.zeros == (Zero(key="2:0:0.6 V", unit=2, leads="shorted", relative=True),)


def test_a_low_impedance_mode_stands_alone_on_the_terminals() -> None:
    low = replace(MODELS["plain"].functions[0], mode="low-impedance")
    models = {**MODELS, "plain": replace(MODELS["plain"], functions=(low,))}
    wanted = replace(sweep("dc voltage", 3.0), mode="low-impedance")
    sequence = expand(plan(wanted, models=("plain", "plain")), bench(), models)
    assert [step.units for step in sequence.steps] == [(1,), (2,)]


def test_moves_count_a_zero_as_a_lead_move_of_its_own() -> None:
    # Shorted, R100, shorted again, R1k; one dial turn.
    moves = count_moves(expanded(100.0, 1e3).setups, frozenset())
    assert (moves.leads, moves.dials) == (4, 1)
    # R1k and R1k again share the recorded zero: shorted, R1k for each of two units.
    moves = count_moves(expanded(1e3, models=("ohms", "ohms")).setups, frozenset())
    assert (moves.leads, moves.dials) == (4, 2)
