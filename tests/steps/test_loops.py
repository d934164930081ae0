"""Currents that a voltage makes through a resistor, and currents read across a shunt; every number is invented."""

from dataclasses import replace

import pytest

from sequencer.errors import InputError
from sequencer.judging.shunts import shunt_reference
from sequencer.steps.expand import expand
from sequencer.values.accuracy import Level
from sequencer.values.bench import Artifact, Bench, Cover, Source
from sequencer.values.measure import Measure
from sequencer.values.model import MeterModel
from tests.steps.builders import MODELS, believed, bench, function, plan, row, sweep

R100 = Artifact(name="R100", measures="resistance", value=100.0, uncertainty=0.01, max_current=0.1)
R10 = Artifact(name="R10", measures="resistance", value=10.0, uncertainty=0.002, max_current=0.5)
AC_AMPERES = function("ac current", row(0.06, 1e-5, burden=2.0, unit="A"), dial="mA~", jack="mA")
UNIT = replace(MODELS["plain"], functions=(*MODELS["plain"].functions, AC_AMPERES))


def spans(*measures: Measure) -> tuple[Cover, ...]:
    return tuple(Cover(measure=measure, low=0.0, high=100.0) for measure in measures)


def fed(**changes: object) -> Source:
    made = Source(
        name="fed",
        kind="dc source",
        covers=spans("dc current"),
        max_voltage=20.0,
        compliance=12.0,
        output_ohm=1.0,
        bipolar=True,
        series_resistor="R100",
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def table(source: Source) -> Bench:
    return replace(bench(), sources=(source,), artifacts=(R100, R10))


def with_shunt(on: Bench, *measures: Measure) -> tuple[Bench, dict[str, MeterModel]]:
    shunt, model = shunt_reference("loop", spans(*measures), on.references[0], MODELS["truth"], R10)
    references = (replace(on.references[0], covers=spans("dc voltage", "ac voltage")),)
    return replace(on, references=references, shunts=(shunt,)), {**MODELS, "plain": UNIT, shunt.model_file: model}


def test_a_current_through_a_resistor_is_made_by_a_voltage() -> None:
    sequence = expand(plan(sweep("dc current", 0.01, 0.05)), table(fed()), MODELS)
    (setup,) = sequence.setups
    assert (setup.wiring, setup.resistor, setup.source) == ("series", "R100", "fed")
    # 100 Ω, 1 Ω in the source, 0.1 Ω in the reference, 2 Ω in the unit, and three pairs of leads of 0.05 Ω.
    assert setup.loop_ohm == pytest.approx(100 + 1 + 0.1 + 2 + 3 * 0.05)
    assert [step.loop_ohm for step in sequence.steps] == [pytest.approx(103.25)] * 2
    assert (setup.voltage_limit, setup.current_limit) == (12.0, 0.1)


def test_its_probe_stays_at_two_volts_and_a_milliampere() -> None:
    assert expand(plan(sweep("dc current", 0.01)), table(fed()), MODELS).setups[0].probe == 1e-3
    big = replace(table(fed()), artifacts=(replace(R100, value=10e3),))
    (setup,) = expand(plan(sweep("dc current", 1e-3)), big, MODELS).setups
    assert setup.loop_ohm is not None
    assert setup.probe * setup.loop_ohm == pytest.approx(2.0)


def test_it_is_steered_even_where_a_plan_asks_for_no_trim() -> None:
    assert expand(plan(sweep("dc current", 0.01)), table(fed()), MODELS).steps[0].trim == Level(
        value=0.01, relative=True
    )
    asked = replace(sweep("dc current", 0.01), trim=Level(value=1e-5, relative=False))
    assert expand(plan(asked), table(fed()), MODELS).steps[0].trim == Level(value=1e-5, relative=False)


def test_the_resistor_takes_its_part_of_the_compliance() -> None:
    # At 0.1 A: 10.1 V in resistor and source, 0.22 V in unit, reference and leads, half as much again in reserve.
    assert expand(plan(sweep("dc current", 0.1)), table(fed(compliance=10.44)), MODELS).steps
    with pytest.raises(InputError, match="no reserve of compliance"):
        expand(plan(sweep("dc current", 0.1)), table(fed(compliance=10.42)), MODELS)


def test_a_resistor_is_not_overloaded() -> None:
    with pytest.raises(InputError, match="above the rating of R100, 100 mA"):
        expand(plan(sweep("dc current", 0.11)), table(fed()), MODELS)


def test_a_generator_makes_an_ac_current_only_through_a_resistor() -> None:
    generator = fed(kind="generator", covers=spans("ac current"))
    models = {**MODELS, "plain": UNIT}
    truth = replace(
        MODELS["truth"],
        functions=(*MODELS["truth"].functions, function("ac current", row(1.0, 1e-6, burden=0.1, unit="A"))),
    )
    models["truth"] = truth
    wanted = plan(sweep("ac current", 0.01, frequencies=(400.0,)))
    (setup,) = expand(wanted, table(generator), models).setups
    assert (setup.wiring, setup.resistor, setup.probe_frequency) == ("series", "R100", 400.0)
    with pytest.raises(InputError, match="source fed gives a voltage: it needs a series_resistor"):
        expand(wanted, table(replace(generator, series_resistor="")), models)


def test_a_current_is_read_across_a_shunt() -> None:
    on, models = with_shunt(bench(), "dc current")
    on = replace(on, artifacts=(R100, R10))
    sequence = expand(plan(sweep("dc current", 0.01, 0.2)), on, models)
    (setup,) = sequence.setups
    assert (setup.reference, setup.voltmeter, setup.shunt) == ("loop", "truth", "R10")
    # Ranges of 1 V and 10 V across 10 Ω: 0.1 A and 1 A.
    assert [step.reference_range for step in sequence.steps] == [pytest.approx(0.1), pytest.approx(1.0)]
    assert sequence.setups[0].probe == 1e-3


def test_a_shunt_is_not_overloaded() -> None:
    on, models = with_shunt(bench(), "dc current")
    on = replace(on, artifacts=(replace(R10, max_current=0.05),))
    with pytest.raises(InputError, match="no reference on this bench covers it"):
        expand(plan(sweep("dc current", 0.1)), on, models)


def test_the_better_of_an_ammeter_and_a_shunt_is_believed() -> None:
    on, models = with_shunt(bench(), "dc current")
    both = replace(on, artifacts=(R10,), references=bench().references)
    # Half a percent for both at 10 mA; three digits of 1 µA for the ammeter, of 0.1 µA and the certificate's 2 µA
    # (k = 2) for the shunt. With a certificate ten times as wide it is 20 µA.
    assert expand(plan(sweep("dc current", 0.01)), both, models).setups[0].reference == "loop"
    shunt = both.shunts[0]
    assert shunt.shunt is not None
    wide = replace(both, shunts=(replace(shunt, shunt=replace(shunt.shunt, share=1e-3)),))
    assert expand(plan(sweep("dc current", 0.01)), wide, models).setups[0].reference == "truth"


def test_a_source_that_feeds_a_resistor_is_not_believed_for_the_current() -> None:
    on = believed(table(fed()), "fed", "dc current")
    with pytest.raises(InputError, match="no reference on this bench covers it"):
        expand(plan(sweep("dc current", 0.01)), on, MODELS)
