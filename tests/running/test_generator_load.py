"""A generator that is set for another load than meters are, on the simulated bench; every number is invented."""

from dataclasses import replace
from pathlib import Path

import pytest

from sequencer.definitions.dialects import shipped_dialect
from sequencer.errors import BenchError
from sequencer.running import rehearsal
from sequencer.running.settling import load_setting
from sequencer.values.bench import Bench, SimulatedBench, SimulatedThing
from sequencer.values.dialect import Dialect
from sequencer.values.event import Probed
from tests.running.harness import table
from tests.steps.builders import bench, plan, sweep

VOLTS = plan(sweep("ac voltage", 3.0, frequencies=(400.0,)), models=("plain",))


def set_for(load_ohm: float, dialect: str) -> Bench:
    base = bench()
    sources = tuple(replace(one, dialect=dialect) if one.name == "ac" else one for one in base.sources)
    hidden = SimulatedBench(things=(SimulatedThing(label="ac", load_ohm=load_ohm),))
    return replace(base, sources=sources, simulated=hidden)


def without_load(name: str) -> Dialect:
    """A shipped dialect as somebody writes it who knows of no load setting."""
    dialect = shipped_dialect(name)
    return replace(dialect, generator=dialect.generator and replace(dialect.generator, load=None))


def test_a_load_setting_that_can_be_read_back_is_named_before_anything_is_on(tmp_path: Path) -> None:
    with (
        pytest.raises(BenchError, match="its load setting is 50 Ω") as caught,
        table(tmp_path, VOLTS, set_for(50.0, "scpi-1999")),
    ):
        pass
    assert "twice the amplitude" in caught.value.hint


@pytest.mark.parametrize(
    ("load_ohm", "dialect", "words"),
    [
        (50.0, "scpi-1999", "shows 2 V where about 1 V was applied (generator ac gives twice as much: "),
        (1e6, "scpi-vpp", "shows 500 mV where about 1 V was applied (generator ac gives half as much: "),
    ],
)
def test_one_that_cannot_is_found_and_named_at_the_first_point(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, load_ohm: float, dialect: str, words: str
) -> None:
    monkeypatch.setattr(rehearsal, "shipped_dialect", without_load)
    with table(tmp_path, VOLTS, set_for(load_ohm, dialect)) as at:
        at.performer.perform()
        complaints = [event.complaint for event in at.archive.events(at.run) if isinstance(event, Probed)]
        assert complaints
        assert all(words in complaint and "\n" not in complaint for complaint in complaints)
        assert at.archive.columns(at.run).text == ("",)
        assert any(words in line for line in at.heard.lines)
        assert not any(at.control.ask("outputs")["outputs"].values())


def test_other_levels_are_not_blamed_on_the_load() -> None:
    assert load_setting(1.9, 1.0) == ""
    assert load_setting(0.4, 1.0) == ""
    assert load_setting(0.0, 1.0) == ""
