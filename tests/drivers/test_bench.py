"""The drivers against the simulated bench as a process, through ordinary VISA addresses, in virtual time."""

import math
from collections.abc import Iterator
from typing import Any

import pytest

from drivers.failures import OutputMayBeOn
from drivers.ports import open_port
from drivers.reference import open_reference
from drivers.sources import DcSource, Generator, open_source
from sequencer.definitions.dialects import shipped_dialect
from sequencer.errors import BenchError
from sequencer.values.bench import Port, Reference, Source
from tests.drivers.simulated import SimulatedBench
from tests.simulators.table import CONFIG

Json = dict[str, Any]

SPOKEN = shipped_dialect("scpi-1999")


@pytest.fixture
def bench() -> Iterator[SimulatedBench]:
    meters = [{**CONFIG["meters"][0], "port": True}]
    simulated = SimulatedBench({**CONFIG, "meters": meters})
    yield simulated
    simulated.end()


def dc_source(bench: SimulatedBench) -> Source:
    return Source(
        name="dc",
        kind="dc source",
        address=bench.addresses["dc"],
        identity="dc source",
        max_voltage=20.0,
        max_current=1.0,
        bipolar=True,
    )


def generator(bench: SimulatedBench) -> Source:
    return Source(name="ac", kind="generator", address=bench.addresses["ac"], max_voltage=7.0)


def reference(bench: SimulatedBench) -> Reference:
    return Reference(name="bench", address=bench.addresses["bench"], identity="METERJURY")


def test_a_voltage_is_applied_read_and_taken_off(bench: SimulatedBench) -> None:
    bench.do("wire", kind="parallel", source="dc", polarity=1, multimeters=["bench"], meters=["A"])
    with open_source(dc_source(bench), SPOKEN) as source, open_reference(reference(bench), SPOKEN) as meter:
        assert isinstance(source, DcSource)
        meter.prepare("dc voltage", 10.0)
        source.apply_voltage(-3.0, 0.01)
        source.output_on()
        bench.do("advance", seconds=2)
        taken = meter.read()
        # 10 MΩ of meter and 10 MΩ of reference behind 0.01 Ω: the drop is 6 nV. Its noise is 30 µV.
        assert taken.value == pytest.approx(-3.0, abs=3e-4)
        assert (taken.range_si, taken.aperture_s) == (10.0, 0.02)
        assert not source.is_limiting()
        assert bench.do("outputs")["outputs"]["dc"]
    assert not any(bench.do("outputs")["outputs"].values())


def test_an_overload_reads_infinite(bench: SimulatedBench) -> None:
    bench.do("wire", kind="parallel", source="dc", polarity=1, multimeters=["bench"], meters=[])
    with open_source(dc_source(bench), SPOKEN) as source, open_reference(reference(bench), SPOKEN) as meter:
        assert isinstance(source, DcSource)
        meter.prepare("dc voltage", 0.1)
        source.apply_voltage(3.0, 0.01)
        source.output_on()
        bench.do("advance", seconds=2)
        assert meter.read().value == math.inf


def test_an_open_loop_is_seen_in_the_source(bench: SimulatedBench) -> None:
    bench.do("wire", kind="series", source="dc", polarity=1, multimeters=["bench"], meters=["A"])
    with open_source(dc_source(bench), SPOKEN) as source, open_reference(reference(bench), SPOKEN) as meter:
        assert isinstance(source, DcSource)
        meter.prepare("dc current", 0.01)
        source.apply_current(0.005, 2.0)
        source.output_on()
        bench.do("advance", seconds=2)
        assert source.is_limiting(), "the meter stands on volts, so that no current flows"
        bench.do("dial", meter="A", dial="mA", select="", jack="mA")
        bench.do("advance", seconds=2)
        assert not source.is_limiting()
        assert meter.read().value == pytest.approx(0.005, rel=1e-3)


def test_a_generator_gives_what_was_asked_at_open_terminals(bench: SimulatedBench) -> None:
    bench.do("wire", kind="parallel", source="ac", polarity=1, multimeters=["bench"], meters=[])
    with open_source(generator(bench), SPOKEN) as source, open_reference(reference(bench), SPOKEN) as meter:
        assert isinstance(source, Generator)
        meter.prepare("ac voltage", 10.0, 400.0)
        source.apply(400.0, 1.5)
        source.output_on()
        bench.do("advance", seconds=5)
        # 50 Ω into 1 MΩ takes 0.005 %; a forgotten load setting would read 3 V, peak-to-peak for rms 0.53 V.
        assert meter.read().value == pytest.approx(1.5, rel=2e-4)


def test_what_the_source_cannot_do_is_refused_in_its_own_words(bench: SimulatedBench) -> None:
    generous = Source(name="dc", kind="dc source", address=bench.addresses["dc"], max_voltage=100.0, max_current=1.0)
    with open_source(generous, SPOKEN) as source:
        assert isinstance(source, DcSource)
        with pytest.raises(BenchError, match="complains after 'VOLT 30': -222 Data out of range"):
            source.apply_voltage(30.0, 0.01)


def test_a_dropped_connection_still_ends_in_off(bench: SimulatedBench) -> None:
    with open_source(dc_source(bench), SPOKEN) as source:
        assert isinstance(source, DcSource)
        source.apply_voltage(3.0, 0.01)
        source.output_on()
        bench.do("fault", name="dc", what="connection dropped", times=1)
        with pytest.raises(BenchError):
            source.apply_voltage(4.0, 0.01)
        assert bench.do("outputs")["outputs"]["dc"]
    assert not bench.do("outputs")["outputs"]["dc"]


def test_a_bench_that_is_gone_may_be_on(bench: SimulatedBench) -> None:
    source = open_source(dc_source(bench), SPOKEN)
    assert isinstance(source, DcSource)
    source._output._pause = lambda seconds: None
    source.apply_voltage(3.0, 0.01)
    source.output_on()
    bench.child.kill()
    bench.child.wait()
    with pytest.raises(OutputMayBeOn, match="OUTPUT MAY BE ON: dc at TCPIP"):
        source.close()


def test_a_meter_sends_frames_of_what_it_shows(bench: SimulatedBench) -> None:
    bench.do("wire", kind="parallel", source="dc", polarity=1, multimeters=["bench"], meters=["A"])
    port = open_port(Port(label="A", address=bench.ports["A"]))
    with open_source(dc_source(bench), SPOKEN) as source, port:
        assert isinstance(source, DcSource)
        source.apply_voltage(3.0, 0.01)
        source.output_on()
        bench.do("advance", seconds=3)
        port.drain()
        assert port.poll() == ()
        bench.do("advance", seconds=1)
        frames = port.poll()
        assert len(frames) in (2, 3, 4), "three updates a second; the first may have lost its start"
        assert {frame.unit for frame in frames} == {"V"}
        assert all(float(frame.value) == pytest.approx(3.0, abs=0.003) for frame in frames)


def test_another_device_at_the_address_is_left_as_it_is(bench: SimulatedBench) -> None:
    with open_source(dc_source(bench), SPOKEN) as source:
        assert isinstance(source, DcSource)
        source.apply_voltage(3.0, 0.01)
        source.output_on()
        exchanged = Source(name="ac", kind="generator", address=bench.addresses["dc"], identity="generator")
        with pytest.raises(BenchError, match="expected 'generator', got 'METERJURY,SIMULATED DC SOURCE,1,0'"):
            open_source(exchanged, SPOKEN)
        assert source.is_on(), "it is somebody else's"
    with pytest.raises(BenchError, match="expected 'LARKFIELD'"):
        open_reference(Reference(name="bench", address=bench.addresses["bench"], identity="LARKFIELD"), SPOKEN)


def test_a_source_that_does_not_speak_the_dialect_is_off_when_opening_fails(bench: SimulatedBench) -> None:
    wrong = Source(name="ac", kind="generator", address=bench.addresses["dc"])
    with pytest.raises(BenchError, match="-113 Undefined header"):
        open_source(wrong, SPOKEN)
    assert not bench.do("outputs")["outputs"]["dc"]
