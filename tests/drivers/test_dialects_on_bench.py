"""Every shipped dialect against a simulated instrument that speaks this one and no other, in virtual time."""

import copy
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from drivers.dc_source import DcSource
from drivers.generator import Generator
from drivers.output import WATCHDOG_S
from drivers.reference import open_reference
from drivers.sources import open_source
from sequencer.definitions.dialects import shipped_dialect, shipped_dialects
from sequencer.errors import BenchError
from sequencer.values.bench import Reference, Source
from sequencer.values.dialect import Dialect, Role
from sequencer.values.measure import Waveform
from simulators import speech
from tests.drivers.simulated import SimulatedBench
from tests.simulators.table import CONFIG

DIALECTS = [shipped_dialect(name) for name in shipped_dialects()]
MEASURES = ("dc voltage", "ac voltage", "dc current", "ac current")


def of_role(role: Role) -> list[Dialect]:
    return [dialect for dialect in DIALECTS if role in dialect.roles]


@contextmanager
def speaking(dialect: str, kind: str, **more: object) -> Iterator[SimulatedBench]:
    """A bench whose instrument of one kind speaks a dialect."""
    settings = copy.deepcopy(CONFIG)
    settings[kind][0] |= {"speaks": dialect, **more}
    bench = SimulatedBench(settings)
    try:
        yield bench
    finally:
        bench.end()


def test_every_shipped_dialect_is_simulated_and_no_other() -> None:
    simulated = {"multimeter": speech.MULTIMETERS, "dc source": speech.DC_SOURCES, "generator": speech.GENERATORS}
    for role, speeches in simulated.items():
        assert set(speeches) == {dialect.name for dialect in DIALECTS if role in dialect.roles}


@pytest.mark.parametrize("dialect", of_role("multimeter"), ids=lambda dialect: dialect.name)
def test_a_multimeter_is_set_and_read(dialect: Dialect) -> None:
    assert dialect.multimeter
    covered = [function.measure for function in dialect.multimeter.functions if function.measure in MEASURES]
    with speaking(dialect.name, "multimeters") as bench:
        bench.do("wire", kind="parallel", source="dc", polarity=1, multimeters=["bench"], meters=[])
        meter = Reference(name="bench", address=bench.addresses["bench"])
        supply = Source(name="dc", kind="dc source", address=bench.addresses["dc"], max_voltage=20.0, max_current=1.0)
        with open_reference(meter, dialect, cycles=10) as reference, open_source(supply, DIALECTS[0]) as source:
            for measure in covered:
                reference.prepare(measure, 1.0, 400.0 if measure.startswith("ac") else None)
                assert reference.read().aperture_s == pytest.approx(0.2)
            assert isinstance(source, DcSource)
            source.apply_voltage(3.0, 0.01)
            source.output_on()
            reference.prepare("dc voltage", 10.0)
            bench.do("advance", seconds=1)
            # 3 V behind 0.01 Ω and 10 MΩ; noise of 30 µV.
            assert reference.read().value == pytest.approx(3.0, abs=3e-4)
            with pytest.raises(BenchError, match="asked for the range 7 of dc voltage, it took 10"):
                reference.prepare("dc voltage", 7.0)


def test_a_null_is_subtracted_until_the_next_setting() -> None:
    dialect = shipped_dialect("scpi-configure")
    with speaking(dialect.name, "multimeters") as bench:
        bench.do("wire", kind="parallel", source="dc", polarity=1, multimeters=["bench"], meters=[])
        meter = Reference(name="bench", address=bench.addresses["bench"])
        supply = Source(name="dc", kind="dc source", address=bench.addresses["dc"], max_voltage=20.0, max_current=1.0)
        with open_reference(meter, dialect) as reference, open_source(supply, DIALECTS[0]) as source:
            assert isinstance(source, DcSource)
            source.apply_voltage(3.0, 0.01)
            source.output_on()
            reference.prepare("dc voltage", 10.0)
            bench.do("advance", seconds=1)
            reference.null()
            assert reference.read().value == pytest.approx(0.0, abs=3e-4)
            reference.prepare("dc voltage", 10.0)
            assert reference.read().value == pytest.approx(3.0, abs=3e-4)


def test_a_dialect_without_a_null_says_so() -> None:
    with speaking("scpi-1999", "multimeters") as bench:
        meter = Reference(name="bench", address=bench.addresses["bench"])
        with open_reference(meter, shipped_dialect("scpi-1999")) as reference:
            reference.prepare("dc voltage", 10.0)
            with pytest.raises(BenchError, match="its dialect has no words for a null of this function"):
                reference.null()


@pytest.mark.parametrize("dialect", of_role("dc source"), ids=lambda dialect: dialect.name)
def test_a_dc_source_gives_voltage_and_current_and_tells_when_the_limit_decides(dialect: Dialect) -> None:
    assert dialect.dc_source
    with speaking(dialect.name, "dc_sources") as bench:
        bench.do("wire", kind="parallel", source="dc", polarity=1, multimeters=["bench"], meters=[])
        supply = Source(name="dc", kind="dc source", address=bench.addresses["dc"], max_voltage=20.0, max_current=1.0)
        meter = Reference(name="bench", address=bench.addresses["bench"])
        reference_dialect = shipped_dialect("scpi-1999")
        with open_source(supply, dialect) as source, open_reference(meter, reference_dialect) as reference:
            assert isinstance(source, DcSource)
            reference.prepare("dc voltage", 10.0)
            source.apply_voltage(3.0, 0.01)
            source.output_on()
            bench.do("advance", seconds=1)
            assert reference.read().value == pytest.approx(3.0, abs=3e-4)
            assert not source.is_limiting()
            source.apply_current(0.005, 2.0)
            assert not source.is_on(), "between a voltage and a current the output is off"
            source.output_on()
            bench.do("advance", seconds=1)
            assert source.is_limiting(), "a voltmeter lets no current through: the compliance decides"
            assert reference.read().value == pytest.approx(2.0, abs=3e-4)
            bench.do("wire", kind="series", source="dc", polarity=1, multimeters=["bench"], meters=[])
            reference.prepare("dc current", 0.01)
            bench.do("advance", seconds=1)
            assert not source.is_limiting()
            assert reference.read().value == pytest.approx(0.005, rel=1e-3)
            bench.do("wire", kind="parallel", source="dc", polarity=1, multimeters=["bench"], meters=[])
            source.apply_voltage(3.0, 0.001)
            source.output_on()
            assert source.is_limiting(), "an ammeter in parallel takes all the current that there is"
        assert not bench.do("outputs")["outputs"]["dc"]


def test_remote_sense_holds_the_voltage_where_the_meters_are() -> None:
    """5 Ω of ammeter behind 0.05 Ω of each pair of leads: Ohm's law says how much the leads take."""
    dialect = shipped_dialect("scpi-supply")
    currents = []
    for remote_sense in (False, True):
        with speaking(dialect.name, "dc_sources", output_ohm=0.0) as bench:
            bench.do("wire", kind="parallel", source="dc", polarity=1, multimeters=["bench"], meters=[])
            supply = Source(
                name="dc",
                kind="dc source",
                address=bench.addresses["dc"],
                max_voltage=20.0,
                max_current=1.0,
                remote_sense=remote_sense,
            )
            meter = Reference(name="bench", address=bench.addresses["bench"])
            with open_source(supply, dialect) as source, open_reference(meter, DIALECTS[0]) as reference:
                assert isinstance(source, DcSource)
                reference.prepare("dc current", 1.0)
                source.apply_voltage(1.0, 0.5)
                source.output_on()
                bench.do("advance", seconds=1)
                currents.append(reference.read().value)
    assert currents == pytest.approx([1 / 5.1, 1 / 5.05], rel=1e-4)


@pytest.mark.parametrize("waveform", ["sine", "square", "triangle"])
@pytest.mark.parametrize("dialect", of_role("generator"), ids=lambda dialect: dialect.name)
def test_a_generator_gives_what_was_asked_at_open_terminals(dialect: Dialect, waveform: Waveform) -> None:
    with speaking(dialect.name, "generators") as bench:
        bench.do("wire", kind="parallel", source="ac", polarity=1, multimeters=["bench"], meters=[])
        source = Source(name="ac", kind="generator", address=bench.addresses["ac"], max_voltage=7.0)
        meter = Reference(name="bench", address=bench.addresses["bench"])
        with open_source(source, dialect) as generator, open_reference(meter, DIALECTS[0]) as reference:
            assert isinstance(generator, Generator)
            generator.apply(400.0, 1.5, waveform)
            generator.output_on()
            reference.prepare("ac voltage", 10.0, 400.0)
            bench.do("advance", seconds=5)
            # 50 Ω into 1 MΩ takes 0.005 %; a load forgotten would read twice or half, a unit mistaken up to 2.8 times.
            assert reference.read().value == pytest.approx(1.5, rel=2e-4)
            generator.apply(400.0, 1.5, waveform, offset=0.5)
            reference.prepare("dc voltage", 1.0)
            bench.do("advance", seconds=5)
            assert reference.read().value == pytest.approx(0.5, rel=2e-3)


def test_a_generator_without_a_queue_refuses_in_the_words_of_its_register() -> None:
    dialect = shipped_dialect("scpi-vpp")
    with speaking(dialect.name, "generators") as bench:
        source = Source(name="ac", kind="generator", address=bench.addresses["ac"], max_voltage=10.0)
        with open_source(source, dialect) as generator:
            assert isinstance(generator, Generator)
            # 20 Vpp at open terminals is 10 Vpp at a matched load; 8 V rms would be 11.3 Vpp there.
            with pytest.raises(BenchError, match=r"complains after 'VOLT 11\.3137085': 16 execution error"):
                generator.apply(400.0, 8.0)


def test_a_watchdog_switches_off_when_nobody_speaks() -> None:
    dialect = shipped_dialect("scpi-supply")
    assert dialect.dc_source
    words = dialect.dc_source.output.watchdog
    assert words
    with speaking(dialect.name, "dc_sources") as bench:
        bench.do("wire", kind="parallel", source="dc", polarity=1, multimeters=[], meters=[])
        supply = Source(name="dc", kind="dc source", address=bench.addresses["dc"], max_voltage=20.0, max_current=1.0)
        with open_source(supply, dialect) as source:
            assert isinstance(source, DcSource)
            source.apply_voltage(3.0, 0.01)
            assert source._exchange.number(words.ask) == 0, "with the output off there is nothing to watch"
            source.output_on()
            assert source._exchange.number(words.ask) == 1
            for _ in range(3):
                bench.do("advance", seconds=0.9 * WATCHDOG_S)
                assert source.is_on(), "any message starts the time anew"
            bench.do("advance", seconds=1.1 * WATCHDOG_S)
            assert not bench.do("outputs")["outputs"]["dc"]
            source.output_on()
            source.output_off()
            assert source._exchange.number(words.ask) == 0


@pytest.mark.parametrize(
    ("kind", "simulated", "spoken"),
    [("multimeters", "scpi-configure", "scpi-1999"), ("dc_sources", "scpi-supply", "scpi-1999"),
     ("dc_sources", "scpi-1999", "scpi-supply"), ("generators", "scpi-vpp", "scpi-1999")],
)  # fmt: skip
def test_a_wrong_dialect_is_heard_at_once(kind: str, simulated: str, spoken: str) -> None:
    dialect = shipped_dialect(spoken)

    def set_something() -> None:
        if kind == "multimeters":
            with open_reference(meter, dialect) as reference:
                reference.prepare("dc voltage", 10.0)
        else:
            with open_source(supply, dialect) as source:
                assert isinstance(source, DcSource)
                source.apply_voltage(3.0, 0.01)

    with speaking(simulated, kind) as bench:
        meter = Reference(name="bench", address=bench.addresses["bench"])
        supply = Source(
            name="it",
            kind="generator" if kind == "generators" else "dc source",
            address=bench.addresses["ac" if kind == "generators" else "dc"],
            max_voltage=20.0,
            max_current=1.0,
        )
        with pytest.raises(BenchError, match=r"Undefined header|no answer"):
            set_something()
        assert not any(bench.do("outputs")["outputs"].values())
