"""Currents through a resistor and across a shunt, on the simulated bench; every number is invented."""

from dataclasses import replace
from pathlib import Path

import pytest

from sequencer.values.bench import Bench, SimulatedBench, SimulatedThing, TrueError
from sequencer.values.event import Applied, LoopOpened
from sequencer.values.model import MeterModel
from tests.running.harness import Table, table
from tests.steps.builders import MODELS, bench, function, plan, row, sweep
from tests.steps.test_loops import R10, R100, UNIT, fed, spans, with_shunt

AC_TRUTH = replace(
    MODELS["truth"],
    functions=(
        *MODELS["truth"].functions,
        function("ac current", row(0.1, 1e-7, burden=0.1, unit="A"), row(1.0, 1e-6, burden=0.1, unit="A")),
    ),
)
WITH_AC = {**MODELS, "plain": UNIT, "truth": AC_TRUTH}
QUIET = SimulatedBench(things=(SimulatedThing(label="A", noise_digits=0.0),))


def on_a_resistor(**changes: object) -> Bench:
    return replace(bench(), sources=(fed(**changes),), artifacts=(R100, R10), simulated=QUIET)


def settings(at: Table) -> list[float]:
    return [event.source_setting for event in at.archive.events(at.run) if isinstance(event, Applied)]


def test_a_voltage_through_a_resistor_gives_the_current_that_was_asked_for(tmp_path: Path) -> None:
    with table(tmp_path, plan(sweep("dc current", 0.01, -0.05)), on_a_resistor()) as at:
        at.performer.perform()
        columns = at.archive.columns(at.run)
        assert list(columns.value) == pytest.approx([0.01, -0.05], rel=0.002)
        assert list(columns.reference) == pytest.approx([0.01, -0.05], rel=0.002)


def test_a_burden_that_no_manual_prints_is_steered_away(tmp_path: Path) -> None:
    things = (*QUIET.things, SimulatedThing(label="R100", errors=(TrueError(measures="resistance", offset=4.0),)))
    on = replace(on_a_resistor(), simulated=SimulatedBench(things=things))
    with table(tmp_path, plan(sweep("dc current", 0.05)), on) as at:
        at.performer.perform()
        # 4 Ω more than the certificate says, in about 103 Ω: 4 % too little, steered to within 1 %.
        (setting,) = settings(at)
        assert setting == pytest.approx(0.05 * 1.035, rel=0.01)
        (applied,) = (event for event in at.archive.events(at.run) if isinstance(event, Applied))
        assert applied.flags == ()
        assert list(at.archive.columns(at.run).reference) == pytest.approx([0.05], rel=0.01)


def test_a_loop_through_a_resistor_that_opens_is_void(tmp_path: Path) -> None:
    with table(tmp_path, plan(sweep("dc current", 0.01)), on_a_resistor()) as at:
        turned: list[int] = []

        def progress(number: int, total: int, text: str) -> None:
            if not turned:
                turned.append(number)
                at.control.ask("dial", meter="A", dial="V", select="", jack="V")

        at.performer.operator.progress = progress  # type: ignore[method-assign]
        at.performer.perform()
        voids = [event.text for event in at.archive.events(at.run) if isinstance(event, LoopOpened)]
        assert voids == ["the loop is open"]
        assert [float(text) for text in at.archive.columns(at.run).text] == pytest.approx([0.01], rel=0.005)


def test_an_ac_current_is_made_by_a_generator_and_a_resistor(tmp_path: Path) -> None:
    generator = fed(kind="generator", name="ac", covers=spans("ac current"), output_ohm=50.0, max_voltage=7.0)
    on = replace(on_a_resistor(), sources=(generator,))
    wanted = plan(sweep("ac current", 0.002, 0.02, frequencies=(400.0,)))
    with table(tmp_path, wanted, on, models=WITH_AC) as at:
        at.performer.perform()
        columns = at.archive.columns(at.run)
        assert list(columns.value) == pytest.approx([0.002, 0.02], rel=0.002)
        assert list(columns.reference) == pytest.approx([0.002, 0.02], rel=0.002)


def shunted(*measures: str) -> tuple[Bench, dict[str, MeterModel]]:
    on, models = with_shunt(bench(), *measures)  # type: ignore[arg-type]
    return replace(on, artifacts=(R100, R10), simulated=QUIET), models


def test_a_current_across_a_shunt_is_kept_as_the_voltage_that_was_read(tmp_path: Path) -> None:
    on, models = shunted("dc current")
    with table(tmp_path, plan(sweep("dc current", 0.01, 0.2)), on, models=models) as at:
        at.performer.perform()
        columns = at.archive.columns(at.run)
        assert columns.text == ("0.01000", "0.2000")
        assert list(columns.reference) == pytest.approx([0.01, 0.2], rel=1e-4)
        assert list(columns.reference_range) == pytest.approx([0.1, 1.0])
        applied = [event for event in at.archive.events(at.run) if isinstance(event, Applied)]
        assert {reading.of for event in applied for reading in event.reference} == {"loop"}
        # 10 mA through 10 Ω are 0.1 V, and that is what the voltmeter said.
        assert float(applied[0].reference[0].text) == pytest.approx(0.1, rel=1e-3)


def test_a_shunt_that_is_not_what_its_certificate_says_shifts_the_truth(tmp_path: Path) -> None:
    on, models = shunted("dc current")
    things = (*QUIET.things, SimulatedThing(label="R10", errors=(TrueError(measures="resistance", gain=0.01),)))
    with table(
        tmp_path,
        plan(sweep("dc current", 0.2)),
        replace(on, simulated=SimulatedBench(things=things)),
        models=models,
    ) as at:
        at.performer.perform()
        assert list(at.archive.columns(at.run).reference) == pytest.approx([0.202], rel=1e-4)
        assert at.archive.columns(at.run).text == ("0.2000",)


def test_one_resistor_makes_the_current_and_tells_it(tmp_path: Path) -> None:
    on, models = shunted("dc current")
    both = replace(on, sources=(fed(series_resistor="R10", compliance=12.0),))
    with table(tmp_path, plan(sweep("dc current", 0.1)), both, models=models) as at:
        at.performer.perform()
        assert list(at.archive.columns(at.run).reference) == pytest.approx([0.1], rel=0.01)


def test_a_handheld_across_a_shunt_is_asked_for_volts(tmp_path: Path) -> None:
    on, models = with_shunt(
        replace(bench(), references=(replace(bench().references[0], driver="keyed"),)), "dc current"
    )
    on = replace(on, artifacts=(R100, R10), simulated=QUIET)
    with table(tmp_path, plan(sweep("dc current", 0.2)), on, models=models) as at:
        at.performer.perform()
        assert list(at.archive.columns(at.run).reference) == pytest.approx([0.2], rel=1e-4)
