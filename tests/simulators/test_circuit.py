"""The circuit, against values worked by hand and the loading errors of the check values."""

import math

import pytest

from simulators.circuit import Load, Output, solve
from simulators.signals import make_wave


def volts(name: str, ohm: float = math.inf, farad: float = 0.0) -> Load:
    return Load(name=name, path="voltage", ohm=ohm, farad=farad)


def amperes(name: str, ohm: float) -> Load:
    return Load(name=name, path="current", ohm=ohm)


@pytest.mark.parametrize(
    ("source_ohm", "percent"), [(1e3, -0.0099990), (1e4, -0.0999001), (1e5, -0.990099), (1e6, -9.090909)]
)
def test_a_meter_of_10_megohm_loads_a_source(source_ohm: float, percent: float) -> None:
    # Check value L-01: -100·Rs/(Rs + Ri) %.
    found = solve("parallel", Output(dc=1.0, ohm=source_ohm), 1, 0.0, [volts("A", 1e7)])
    assert (found.inputs["A"].dc - 1) * 100 == pytest.approx(percent, rel=1e-6)


def test_a_divider_of_two_megohm_resistors_under_a_meter() -> None:
    # Check value L-04: 10 V across two 1 MΩ, meter 10 MΩ; the divider is 5 V behind 500 kΩ.
    found = solve("parallel", Output(dc=5.0, ohm=5e5), 1, 0.0, [volts("A", 1e7)])
    assert found.inputs["A"].dc == pytest.approx(4.761905, abs=5e-7)


def test_an_ammeter_of_a_hundredth_of_an_ohm_in_a_one_ohm_circuit() -> None:
    # Check value L-06: exactly -0.990099 %.
    found = solve("series", Output(dc=1.0, ohm=1.0), 1, 0.0, [amperes("A", 0.01)])
    assert (found.inputs["A"].dc - 1) * 100 == pytest.approx(-0.990099, abs=5e-7)


def test_inputs_in_parallel_share_one_node() -> None:
    # Two 10 MΩ inputs are 5 MΩ; 6 V behind 1 MΩ leave 5 V at the node.
    found = solve("parallel", Output(dc=6.0, ohm=1e6), 1, 0.0, [volts("A", 1e7), volts("B", 1e7)])
    assert found.inputs["A"].dc == pytest.approx(5.0)
    assert found.inputs["B"].dc == pytest.approx(5.0)
    assert found.volts == pytest.approx(5.0)
    assert found.amperes == pytest.approx(1e-6)


def test_an_ammeter_in_parallel_is_a_short_and_the_current_limit_acts() -> None:
    # Limit 10 mA; the short is burden 1.8 Ω plus two leads of 0.1 Ω: 20 mV at the source.
    found = solve("parallel", Output(dc=5.0, ohm=0.01, limit=0.01), 1, 0.1, [amperes("A", 1.8), volts("B")])
    assert found.limiting
    assert found.inputs["A"].dc == pytest.approx(0.01)
    assert found.volts == pytest.approx(0.020)
    assert found.inputs["B"].dc == pytest.approx(0.019)


def test_a_current_flows_through_all_burdens_until_the_compliance() -> None:
    # Burdens 100 Ω + 100 Ω, three leads of 1 Ω: 203 Ω.
    loop = [amperes("A", 100), amperes("B", 100)]
    free = solve("series", Output(mode="current", dc=0.01, limit=12), 1, 1.0, loop)
    assert free.volts == pytest.approx(2.03)
    assert not free.limiting
    assert free.inputs["B"].dc == 0.01
    held = solve("series", Output(mode="current", dc=0.1, limit=12), 1, 1.0, loop)
    assert held.limiting
    assert held.inputs["A"].dc == pytest.approx(12 / 203)


@pytest.mark.parametrize("gap", [Load(name="B", path="open"), volts("B", 1e7)])
def test_anything_but_a_current_path_opens_the_loop(gap: Load) -> None:
    found = solve("series", Output(mode="current", dc=-0.01, limit=12), 1, 0.05, [amperes("A", 5), gap])
    assert found.inputs["A"].dc == 0
    assert (found.volts, found.amperes, found.limiting) == (-12, 0, True)
    # A voltmeter in the only gap sees all that the source gives; an open one sees nothing.
    assert found.inputs["B"].dc == (-12 if gap.path == "voltage" else 0)


def test_swapped_leads_turn_the_sign_at_the_meters_only() -> None:
    found = solve("parallel", Output(dc=3.0), -1, 0.0, [volts("A", 1e7)])
    assert found.inputs["A"].dc == pytest.approx(-3.0)
    assert found.volts == 3.0


def test_an_output_that_is_off_leaves_nothing() -> None:
    found = solve("parallel", None, 1, 0.05, [volts("A", 1e7), amperes("B", 1)])
    assert [signal.dc for signal in found.inputs.values()] == [0, 0]


def test_input_capacitance_loads_a_generator() -> None:
    # 1 nF behind 50 Ω at the corner 1/(2πRC) = 3.183 MHz leaves 1/√2.
    wave = make_wave("SIN", 1 / (2 * math.pi * 50 * 1e-9))
    found = solve("parallel", Output(peak=1.0, wave=wave, ohm=50), 1, 0.0, [volts("A", farad=1e-9)])
    assert found.inputs["A"].peak == pytest.approx(math.sqrt(0.5))


def test_a_generator_drives_a_loop_through_its_output_resistance() -> None:
    wave = make_wave("SIN", 50.0)
    found = solve("series", Output(peak=6.0, wave=wave, ohm=50), 1, 0.5, [amperes("A", 4.5), amperes("B", 4.5)])
    assert found.inputs["A"].peak == pytest.approx(6.0 / 60.5)


def test_no_resistance_at_all_is_no_division_by_zero() -> None:
    found = solve("parallel", Output(dc=1.0, limit=2.0), 1, 0.0, [amperes("A", 0.0)])
    assert found.limiting
    assert found.inputs["A"].dc == pytest.approx(2.0)
