import math

import pytest

from drivers.scripted import ScriptedLink
from drivers.sources import DcSource, Generator, open_source
from sequencer.definitions.dialects import shipped_dialect
from sequencer.errors import BenchError, InputError
from sequencer.values.bench import Source
from tests.drivers.pretend import Device, dc_source, generator, there

SPOKEN = shipped_dialect("scpi-1999")
DC, AC = there(SPOKEN.dc_source), there(SPOKEN.generator)
ASK_LOAD = there(AC.load).ask


def dc(*, max_voltage: float = 20.0, compliance: float = 30.0) -> tuple[Device, ScriptedLink, DcSource]:
    device = dc_source(DC)
    link = device.link()
    source = DcSource(link, DC, max_voltage=max_voltage, max_current=1.0, compliance=compliance)
    source.start()
    link.written.clear()
    return device, link, source


def ac() -> tuple[Device, ScriptedLink, Generator]:
    device = generator(AC)
    link = device.link()
    source = Generator(link, AC, max_voltage=10.0)
    source.start()
    link.written.clear()
    return device, link, source


def said(link: ScriptedLink) -> list[str]:
    """The settings, without the questions."""
    return [line for line in link.written if line and not line.endswith("?")]


def test_a_voltage_is_limited_before_it_rises() -> None:
    _, link, source = dc()
    source.apply_voltage(-3.0, 0.01)
    assert said(link) == ["CURR:LIM 0.01", "VOLT -3"]


def test_a_current_is_limited_before_it_rises_and_the_mode_changes_with_the_output_off() -> None:
    device, link, source = dc()
    source.apply_voltage(3.0, 0.01)
    source.output_on()
    link.written.clear()
    source.apply_current(0.1, 12.0)
    assert said(link) == ["OUTP OFF", "FUNC:MODE CURR", "VOLT:LIM 12", "CURR 0.1"]
    assert not device.is_on


@pytest.mark.parametrize(
    ("volts", "amperes"), [(20.1, 0.1), (-20.1, 0.1), (3.0, 1.1), (math.nan, 0.1), (math.inf, 0.1), (3.0, math.nan)]
)
def test_a_voltage_beyond_a_hard_limit_is_never_sent(volts: float, amperes: float) -> None:
    _, link, source = dc()
    with pytest.raises(BenchError, match="is more than this bench allows it"):
        source.apply_voltage(volts, amperes)
    assert link.written == []


@pytest.mark.parametrize(("amperes", "volts"), [(1.1, 5.0), (-1.1, 5.0), (0.1, 20.1), (math.nan, 5.0)])
def test_a_current_beyond_a_hard_limit_is_never_sent(amperes: float, volts: float) -> None:
    _, link, source = dc()
    with pytest.raises(BenchError, match="is more than this bench allows it"):
        source.apply_current(amperes, volts)
    assert link.written == []


def test_no_loop_gets_more_than_thirty_volts_or_the_declared_compliance() -> None:
    _, _, strong = dc(max_voltage=100.0)
    with pytest.raises(BenchError, match=r"30\.1 V is more than this bench allows it, 30 V"):
        strong.apply_current(0.1, 30.1)
    strong.apply_current(0.1, 30.0)
    _, _, declared = dc(max_voltage=100.0, compliance=12.0)
    with pytest.raises(BenchError, match="12 V"):
        declared.apply_current(0.1, 12.1)


def test_a_hard_limit_itself_is_allowed() -> None:
    _, link, source = dc()
    source.apply_voltage(20.0, 1.0)
    assert said(link) == ["CURR:LIM 1", "VOLT 20"]


@pytest.mark.parametrize(
    ("condition", "in_voltage_mode", "in_current_mode"), [(0, 0, 0), (1, 1, 0), (2, 0, 1), (3, 1, 1)]
)
def test_which_bit_means_limiting_follows_the_mode(condition: int, in_voltage_mode: int, in_current_mode: int) -> None:
    device, _, source = dc()
    device.questions["STAT:QUES:COND?"] = str(condition)
    source.apply_voltage(3.0, 0.1)
    assert source.is_limiting() == bool(in_voltage_mode)
    source.apply_current(0.1, 3.0)
    assert source.is_limiting() == bool(in_current_mode)


def test_a_generator_is_set_for_open_terminals_in_volts_rms() -> None:
    device = generator(AC)
    link = device.link()
    source = Generator(link, AC, max_voltage=10.0)
    source.start()
    assert said(link)[-2:] == ["OUTP:LOAD INF", "VOLT:UNIT VRMS"]
    link.written.clear()
    source.apply(400.0, 1.5, "triangle")
    assert said(link) == ["FUNC TRI", "FREQ 400", "VOLT:OFFS 0", "VOLT 1.5"]
    assert link.written[-1] == "OUTP:LOAD?"


def test_a_load_setting_that_does_not_stay_is_an_error_at_once_and_at_every_point() -> None:
    device = generator(AC)
    device.questions[ASK_LOAD] = "+5.00000000E+01"
    source = Generator(device.link(), AC, max_voltage=10.0)
    with pytest.raises(BenchError, match="its load setting is 50 Ω"):
        source.start()
    device, _, source = ac()
    device.questions[ASK_LOAD] = "+5.00000000E+01"
    with pytest.raises(BenchError, match="meters would see up to twice the amplitude"):
        source.apply(55.0, 1.5)


def test_another_amplitude_than_asked_for_is_an_error() -> None:
    device, _, source = ac()
    device.replies["VOLT?"] = "4.2426"
    with pytest.raises(BenchError, match=r"asked for 1\.5 V rms, it took 4\.2426"):
        source.apply(55.0, 1.5)


@pytest.mark.parametrize(("vrms", "offset"), [(10.1, 0.0), (8.0, 8.0), (math.nan, 0.0)])
def test_an_amplitude_beyond_the_hard_limit_is_never_sent(vrms: float, offset: float) -> None:
    _, link, source = ac()
    with pytest.raises(BenchError, match="is more than this bench allows it"):
        source.apply(55.0, vrms, offset=offset)
    assert link.written == []


def test_a_source_that_is_set_by_hand_has_nothing_to_open() -> None:
    with pytest.raises(InputError, match="source knob is set by hand"):
        open_source(Source(name="knob", kind="by hand"), SPOKEN)


def test_a_device_that_is_not_the_source_is_left_alone() -> None:
    device = dc_source(DC)
    link = device.link()
    source = DcSource(link, DC, max_voltage=20.0, max_current=1.0)
    with pytest.raises(BenchError, match="expected 'LARKFIELD'"):
        source.start("LARKFIELD")
    source.let_go()
    assert link.written == ["*IDN?"]
    assert device.is_on


def test_nothing_is_said_to_an_output_that_is_on() -> None:
    _, link, source = dc()
    source.output_on()
    link.written.clear()
    source.output_on()
    assert said(link) == []


def test_a_mode_that_is_neither_is_nonsense() -> None:
    device, link, source = dc()
    device.replies["FUNC:MODE?"] = "POW"
    with pytest.raises(BenchError, match="got 'POW', accepted: VOLT or CURR"):
        source.apply_voltage(3.0, 0.1)
    assert said(link) == []
