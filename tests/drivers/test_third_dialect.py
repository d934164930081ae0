"""An instrument of its own words is added by one file: nothing else in this project knows it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.dc_source import DcSource
from drivers.links import VisaLink
from drivers.paces import walk
from drivers.reference import open_reference
from drivers.sources import open_source
from sequencer.definitions.dialects import load_dialect
from sequencer.errors import BenchError
from sequencer.values.bench import Reference, Source
from sequencer.values.dialect import Role
from tests.drivers.instrument import Instrument
from tests.drivers.odd import IDENTITY, OddInstrument

DIALECT = load_dialect(str(Path(__file__).with_name("odd.toml")))


@pytest.fixture
def odd() -> OddInstrument:
    return OddInstrument()


@pytest.fixture
def address(odd: OddInstrument) -> Iterator[str]:
    with Instrument(odd.reply, ends=b"\r") as served:
        yield served.address


@pytest.mark.parametrize("role", ["multimeter", "dc source"])
def test_every_word_of_the_file_is_understood(odd: OddInstrument, address: str, role: Role) -> None:
    odd.is_on = False
    with VisaLink("it", address, ends=DIALECT.common.ends) as link:
        found = list(walk(link, DIALECT, role, with_output=True))
    assert [pace for pace in found if not pace.is_good or pace.is_in_the_dark] == []
    assert not odd.is_on


def test_a_voltage_is_given_and_read(odd: OddInstrument, address: str) -> None:
    meter = Reference(name="meter", address=address, identity="TOY")
    supply = Source(name="supply", kind="dc source", address=address, max_voltage=20.0, max_current=0.01)
    with open_source(supply, DIALECT) as source, open_reference(meter, DIALECT) as reference:
        assert isinstance(source, DcSource)
        assert reference.identity == IDENTITY
        reference.prepare("dc voltage", 2.0)
        source.apply_voltage(1.5, 0.01)
        source.output_on()
        taken = reference.read()
        assert (taken.text, taken.value, taken.range_si) == ("DV +1.50000E+00", 1.5, 2.0)
        assert taken.aperture_s == 0.2
        assert taken.resolution == pytest.approx(1e-5)
        source.apply_voltage(5.0, 0.01)
        over = reference.read()
        assert (over.text, over.value, over.resolution) == ("DV OVER", float("inf"), None)
    assert not odd.is_on


def test_a_limit_that_cannot_be_set_keeps_the_source_from_what_needs_a_lower_one(address: str) -> None:
    supply = Source(name="supply", kind="dc source", address=address, max_voltage=20.0, max_current=0.01)
    with open_source(supply, DIALECT) as source:
        assert isinstance(source, DcSource)
        with pytest.raises(BenchError, match=r"its limit cannot be set and is 0\.01 A; 0\.001 A is wanted"):
            source.apply_voltage(1.5, 0.001)
        with pytest.raises(BenchError, match="no words for dc current"):
            source.apply_current(0.001, 1.0)
        assert not source.is_limiting(), "it cannot tell"


def test_a_range_that_is_not_listed_does_not_exist(address: str) -> None:
    opened = open_reference(Reference(name="meter", address=address), DIALECT)
    with opened as reference, pytest.raises(BenchError, match=r"no range 10 of dc voltage, but 0\.2, 2, 20"):
        reference.prepare("dc voltage", 10.0)


def test_complaints_are_told_in_the_instruments_words(address: str) -> None:
    opened = open_reference(Reference(name="meter", address=address), DIALECT)
    with opened as reference, pytest.raises(BenchError, match="complains after 'WHAT': 7 unknown word"):
        reference._exchange.set("WHAT")
