"""Keys that say what is believed besides references: sources by their own accuracy, levels of frequencies."""

import math
from datetime import date

import pytest

from sequencer.definitions import reload_inputs
from sequencer.values.bench import Cover, Reference
from sequencer.values.plan import Derived, ListedPoints
from tests.definitions.folder import BENCH, PLAN, Folder


@pytest.fixture
def folder(tmp_path_factory: pytest.TempPathFactory) -> Folder:
    return Folder(tmp_path_factory.mktemp("files"))


def source(*lines: str) -> str:
    return BENCH.replace("[simulated]", "\n".join((*lines, "", "[simulated]")))


def test_a_source_with_a_model_is_believed_by_its_setting(folder: Folder) -> None:
    folder.write(bench=source('model = "meter.toml"', "calibrated = 2026-03-09", 'calibration_uncertainty = "20 ppm"'))
    inputs = folder.load()
    (dc,) = inputs.bench.sources
    assert dc.truth == Reference(
        name="dc",
        driver="set",
        model_file="meter.toml",
        calibrated=date(2026, 3, 9),
        covers=(Cover(measure="dc voltage", low=0.0, high=6.0),),
        calibration_uncertainty=20e-6,
    )
    assert [one.name for one in inputs.bench.believable] == ["truth", "dc"]


def test_never_is_a_comparison(folder: Folder) -> None:
    folder.write(bench=source('model = "meter.toml"', 'calibrated = "never"'))
    (dc,) = folder.load().bench.sources
    assert dc.truth is not None
    assert dc.truth.never


def test_a_source_without_a_model_is_believed_for_nothing(folder: Folder) -> None:
    folder.write()
    assert folder.load().bench.sources[0].truth is None


def test_what_is_believed_was_calibrated_or_never(folder: Folder) -> None:
    folder.write(bench=source('model = "meter.toml"'))
    (fault,) = folder.faults()
    assert fault.key == "source[0].calibrated"
    assert "a date such as 2026-03-09" in fault.accepted


def test_a_model_of_a_source_that_is_not_there_is_a_fault(folder: Folder) -> None:
    folder.write(bench=source('model = "metre.toml"', "calibrated = 2026-03-09"))
    (fault,) = folder.faults()
    assert fault.key == "source[0].model"
    assert fault.hint == "there is a meter.toml in that folder"


HERTZ = PLAN.replace("dc voltage", "frequency").replace('["1 V", "-3 V"]', '["50 Hz", "1 kHz"]')


def test_a_frequency_is_measured_of_a_level(folder: Folder) -> None:
    folder.write(plan=HERTZ + 'level = "2 V"\n')
    (sweep,) = folder.load().plan.sweeps
    assert (sweep.points, sweep.level, sweep.frequencies) == (ListedPoints(values=(50.0, 1000.0)), 2.0, ())


@pytest.mark.parametrize(
    ("plan", "line", "key"),
    [
        (PLAN, 'level = "2 V"', "sweep[0].level"),
        (HERTZ, 'frequency = "50 Hz"', "sweep[0].frequency"),
        (HERTZ, 'level = "0 V"', "sweep[0].level"),
    ],
)
def test_a_level_is_one_of_a_frequency_alone(folder: Folder, plan: str, line: str, key: str) -> None:
    folder.write(plan=f"{plan}{line}\n")
    assert [fault.key for fault in folder.faults()] == [key]


LOOP = """
[[artifact]]
name = "R10"
measures = "resistance"
value = "10.002 Ω"
uncertainty = "2 mΩ"
max_current = "0.5 A"

[[shunt]]
name = "loop"
resistor = "R10"
voltmeter = "truth"
covers = [{ measure = "dc current", from = "1 mA", to = "0.5 A" }]

[simulated]
"""


def loop(*changes: tuple[str, str], bench: str = BENCH) -> str:
    text = bench.replace("[simulated]", LOOP.strip())
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return text


def test_a_shunt_is_a_reference_for_a_current(folder: Folder) -> None:
    folder.write(bench=loop())
    inputs = folder.load()
    (shunt,) = inputs.bench.shunts
    assert (shunt.name, shunt.driver, shunt.calibrated) == ("loop", "shunt", date(2026, 3, 9))
    assert shunt.shunt is not None
    assert (shunt.shunt.voltmeter, shunt.shunt.resistor) == ("truth", "R10")
    # The unit's volts: 6 V in steps of 1 mV across 10.002 Ω.
    (row,) = inputs.models[shunt.model_file].functions[0].rows
    assert row.full_scale == pytest.approx(6.0 / 10.002)
    assert row.resolution == pytest.approx(1e-3 / 10.002)
    assert reload_inputs(inputs.texts).bench.shunts == inputs.bench.shunts


def test_a_source_may_feed_a_resistor(folder: Folder) -> None:
    fed = source('series_resistor = "R10"').replace("[simulated]", LOOP.strip())
    folder.write(bench=fed)
    assert folder.load().bench.sources[0].series_resistor == "R10"


@pytest.mark.parametrize(
    ("change", "key", "accepted"),
    [
        (('voltmeter = "truth"', 'voltmeter = "thruth"'), "shunt[0].voltmeter", "a reference: truth"),
        (('resistor = "R10"', 'resistor = "R11"'), "shunt[0].resistor", "an artifact of resistance: R10"),
        (('max_current = "0.5 A"\n', ""), "shunt[0].resistor", "an artifact with max_current"),
        (("dc current", "dc voltage"), "shunt[0].covers[0].from", "a number and a unit of voltage"),
        (('name = "loop"', 'name = "dc"'), "shunt[0].name", "every name once"),
        (('name = "loop"', 'name = "R10"'), "shunt[0].name", "every name once"),
        (("dc current", "ac current"), "shunt[0].covers[0].measure", "a measure whose ac voltage Meter measures"),
    ],
)
def test_what_a_shunt_needs_must_be_there(folder: Folder, change: tuple[str, str], key: str, accepted: str) -> None:
    folder.write(bench=loop(change))
    faults = {fault.key: fault.accepted for fault in folder.faults()}
    assert faults[key].startswith(accepted)


def test_a_shunt_serves_currents_alone(folder: Folder) -> None:
    volts = (
        '{ measure = "dc current", from = "1 mA", to = "0.5 A" }',
        '{ measure = "dc voltage", from = "0 V", to = "1 V" }',
    )
    folder.write(bench=loop(volts))
    (fault,) = folder.faults()
    assert (fault.key, fault.accepted) == ("shunt[0].covers[0]", '"dc current" or "ac current"')


GENERATOR = """
[[source]]
name = "ac"
kind = "generator"
max_voltage = "7 V"
covers = [
  { measure = "ac current", from = "1 mA", to = "50 mA" },
  { measure = "frequency", from = "1 Hz", to = "1 MHz" },
]
"""


def test_a_generator_makes_currents_by_a_voltage_through_a_resistor_and_frequencies_of_one(folder: Folder) -> None:
    folder.write(bench=loop().replace("[simulated]", GENERATOR + 'series_resistor = "R10"\n\n[simulated]'))
    assert [cover.measure for cover in folder.load().bench.sources[1].covers] == ["ac current", "frequency"]
    folder.write(bench=loop().replace("[simulated]", GENERATOR + "\n[simulated]"))
    (fault,) = folder.faults()
    assert (fault.key, fault.got) == ("source[1].covers[0].measure", '"ac current"')


READ = """
[[artifact]]
name = "box"
measures = "resistance"
value = "100 Ω"
read_by = "truth"

[simulated]
"""


def test_an_artifact_without_a_certificate_is_read(folder: Folder) -> None:
    folder.write(bench=BENCH.replace("[simulated]", READ.strip()))
    (box,) = folder.load().bench.artifacts
    assert (box.read_by, box.four_wire, math.isnan(box.uncertainty)) == ("truth", False, True)


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('read_by = "truth"\n', "", "artifact[0].uncertainty"),
        ('read_by = "truth"', 'read_by = "nobody"', "artifact[0].read_by"),
        ('read_by = "truth"', 'read_by = "truth"\nfour_wire = true', "artifact[0].four_wire"),
    ],
)
def test_what_is_believed_of_an_artifact_is_said(folder: Folder, old: str, new: str, key: str) -> None:
    folder.write(bench=BENCH.replace("[simulated]", READ.strip().replace(old, new)))
    assert [fault.key for fault in folder.faults()] == [key]


def test_a_shunt_needs_a_certificate(folder: Folder) -> None:
    folder.write(bench=loop(('uncertainty = "2 mΩ"', 'read_by = "truth"')))
    assert [(fault.key, fault.accepted) for fault in folder.faults()] == [
        ("shunt[0].resistor", "an artifact with a certificate: its uncertainty")
    ]


def test_what_a_plan_derives(folder: Folder) -> None:
    folder.write(
        plan=PLAN
        + """
[[derived]]
what = "input resistance"
points = ["5 V"]
resistor = "R10"

[[derived]]
what = "burden voltage"
points = ["10 mA", "0.2 A"]
units = ["A"]
reference = "truth"
""",
        bench=loop(),
    )
    assert folder.load().plan.derived == (
        Derived(what="input resistance", points=(5.0,), resistor="R10"),
        Derived(what="burden voltage", points=(0.01, 0.2), units=("A",), reference="truth"),
    )


@pytest.mark.parametrize(
    ("lines", "key"),
    [
        ('what = "burden voltage"\npoints = ["5 V"]', "derived[0].points[0]"),
        ('what = "input resistance"\npoints = ["5 mA"]', "derived[0].points[0]"),
        ('what = "input resistance"\npoints = ["5 V"]\nresistor = "R11"', "derived[0].resistor"),
        ('what = "burden voltage"\npoints = ["5 mA"]\nresistor = "R10"', "derived[0].resistor"),
        ('what = "input resistance"\npoints = ["5 V"]\nunits = ["Z"]', "derived[0].units[0]"),
        ('what = "burden"\npoints = ["5 mA"]', "derived[0].what"),
        ('what = "burden voltage"\npoints = ["5 mA"]\nsource = "ac"', "derived[0].source"),
    ],
)
def test_what_cannot_be_derived_is_a_fault(folder: Folder, lines: str, key: str) -> None:
    folder.write(plan=f"{PLAN}\n[[derived]]\n{lines}\n", bench=loop())
    assert [fault.key for fault in folder.faults()] == [key]
