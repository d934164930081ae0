"""Points that are read for what follows from them; every number is invented."""

from dataclasses import replace

import pytest

from sequencer.errors import InputError
from sequencer.steps.expand import expand
from sequencer.values.bench import Artifact, Bench
from sequencer.values.plan import Derived, Plan
from sequencer.values.step import Sequence
from tests.steps.builders import ARTIFACTS, MODELS, bench, plan, sweep

MEGOHM = Artifact(name="R1M", measures="resistance", value=1e6, uncertainty=200.0)
INPUT = Derived(what="input resistance", points=(5.0,))
BURDEN = Derived(what="burden voltage", points=(0.01, 0.05))


def table(*artifacts: Artifact) -> Bench:
    return replace(bench(), artifacts=(*ARTIFACTS, *artifacts))


def wanted(*derived: Derived, models: tuple[str, ...] = ("plain",)) -> Plan:
    return replace(plan(sweep("dc voltage", 3.0), models=models), derived=derived)


def deriving(sequence: Sequence) -> list[tuple[str, str, tuple[int, ...]]]:
    return [
        (setup.derives, setup.through, tuple(dial.unit for dial in setup.dials))
        for setup in sequence.setups
        if setup.derives
    ]


def test_an_input_resistance_takes_each_unit_twice() -> None:
    sequence = expand(wanted(INPUT, models=("plain", "plain")), table(MEGOHM), MODELS)
    assert sorted(deriving(sequence)) == [
        ("input resistance", "", (1,)),
        ("input resistance", "", (2,)),
        ("input resistance", "R1M", (1,)),
        ("input resistance", "R1M", (2,)),
    ]
    steps = {step.setup: step for step in sequence.steps}
    for setup in sequence.setups:
        if setup.derives:
            assert (steps[setup.key].nominal, steps[setup.key].tightest_limit) == (5.0, None)


def test_the_resistor_is_the_one_named_or_the_nearest_to_a_megohm_with_a_certificate() -> None:
    named = expand(wanted(replace(INPUT, resistor="R1k")), table(MEGOHM), MODELS)
    assert {through for _, through, _ in deriving(named)} == {"", "R1k"}
    box = replace(MEGOHM, name="box", uncertainty=float("nan"), read_by="truth")
    sequence = expand(wanted(INPUT), table(box), MODELS)
    assert {through for _, through, _ in deriving(sequence)} == {"", "R1k"}


def test_a_bench_without_a_resistor_leaves_it_out_in_words() -> None:
    sequence = expand(wanted(INPUT), bench(), MODELS)
    assert not deriving(sequence)
    assert [entry.reason for entry in sequence.not_covered] == [
        "for its input resistance: no certified resistor on this bench"
    ]


def test_a_burden_is_read_by_a_voltmeter_across_the_unit() -> None:
    sequence = expand(wanted(BURDEN), table(), MODELS)
    (setup,) = (setup for setup in sequence.setups if setup.derives)
    assert (setup.wiring, setup.voltmeter, setup.reference, setup.shunt) == ("series", "truth", "truth", "")
    steps = [step for step in sequence.steps if step.setup == setup.key]
    # 2 Ω at 10 and 50 mA; the reference has a 1 V range for twice that.
    assert [step.truth_nominal for step in steps] == [pytest.approx(0.02), pytest.approx(0.1)]
    assert [step.reference_range for step in steps] == [1.0, 1.0]
    assert setup.probe_range == 1.0


def test_a_unit_without_the_function_is_left_out() -> None:
    sequence = expand(wanted(BURDEN, models=("plain", "millivolts")), table(), MODELS)
    assert [(entry.unit, entry.reason) for entry in sequence.not_covered] == [
        (2, "for its burden voltage: With mV has no dc current function")
    ] * 2


def test_only_the_units_that_are_named_take_part() -> None:
    sequence = expand(wanted(replace(INPUT, units=("B",)), models=("plain", "plain")), table(MEGOHM), MODELS)
    assert {units for _, _, units in deriving(sequence)} == {(2,)}


def test_hazards_are_left_out() -> None:
    sequence = expand(wanted(replace(INPUT, points=(61.0,))), table(MEGOHM), MODELS)
    assert "above 60 V dc" in sequence.not_covered[0].reason


def test_a_plan_may_derive_only_what_a_bench_can_give() -> None:
    with pytest.raises(InputError, match="nothing in this plan can be measured"):
        expand(replace(wanted(INPUT), sweeps=()), replace(bench(), sources=()), MODELS)
