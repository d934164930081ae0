"""What files become: values in SI units, exact; the same from frozen texts; the shipped files."""

import math
from datetime import date
from pathlib import Path

import pytest

from sequencer.definitions import InputText, load_bench, load_inputs, load_model, reload_inputs, shipped_plans
from sequencer.errors import InputError
from sequencer.judging.limits import promise
from sequencer.steps.expand import expand
from sequencer.values.accuracy import Accuracy, IntervalAccuracy, Level
from sequencer.values.bench import Cover, PlannedFault, Port, TrueError
from sequencer.values.model import Adder, Conditions, Jack, Offer, Row, Safety
from sequencer.values.plan import ArtifactPoints, DecadePoints, Decision, ListedPoints, RangeChangePoints, RangePoints
from tests.definitions.folder import BENCH, MODEL, PLAN, Folder

SIMULATED = shipped_plans() / "benches" / "simulated.toml"
PLAN_FILE = shipped_plans() / "bench-set.toml"


def rows(folder: Folder, text: str, measure: str = "dc voltage") -> tuple[Row, ...]:
    model = MODEL.replace('{ range = "6.000 V", accuracy = "0.5 % + 2" }', text)
    (folder.path / "only.toml").write_text(model.replace('"dc voltage"', f'"{measure}"'), encoding="utf-8")
    return load_model(folder.path / "only.toml").functions[0].rows


def test_decimals_give_full_scale_and_resolution(folder: Folder) -> None:
    (row,) = rows(folder, '{ range = "600.0 mV", accuracy = "0.5 % + 3" }')
    assert row == Row(
        printed="600.0 mV",
        full_scale=0.6,
        resolution=0.0001,
        display_to=0.6,
        accuracy=Accuracy(of_reading=0.005, digits=3),
    )


def test_ranges_expand(folder: Folder) -> None:
    found = rows(folder, '{ ranges = ["6.000 V", "60.00 V"], accuracy = "1 % + 2", page = 4 }')
    assert [(row.printed, row.full_scale, row.resolution, row.page) for row in found] == [
        ("6.000 V", 6.0, 0.001, 4),
        ("60.00 V", 60.0, 0.01, 4),
    ]


def test_every_key_of_a_row(folder: Folder) -> None:
    text = (
        '{ range = "6000 uA", resolution = "1 µA", display_to = "6599 µA", band = "45 Hz to 1 kHz", from = "5 %", '
        'to = "5 mA", accuracy = "±(1 % rdg + 3 dgt)", typical = true, after = "zero", burden = "1.8 mV/mA", '
        'page = 7, note = "n" }'
    )
    (row,) = rows(folder, text, "ac current")
    assert row == Row(
        printed="6000 µA",
        full_scale=0.006,
        resolution=1e-6,
        display_to=0.006599,
        band=(45.0, 1000.0),
        at_least=Level(value=0.05, relative=True),
        at_most=Level(value=0.005, relative=False),
        accuracy=Accuracy(of_reading=0.01, digits=3),
        typical=True,
        after="zero",
        burden_ohm=1.8,
        page=7,
        note="n",
    )


def test_columns_of_a_reference_by_age(folder: Folder) -> None:
    accuracy = '{ "1 y" = "40 ppm + 7 ppm of range", "24 h" = "20 ppm", "90 d" = "30 ppm" }'
    (row,) = rows(folder, f'{{ range = "1.000000 V", accuracy = {accuracy} }}')
    assert row.accuracy is None
    assert row.intervals == (
        IntervalAccuracy(label="24 h", within_s=86400.0, accuracy=Accuracy(of_reading=20e-6)),
        IntervalAccuracy(label="90 d", within_s=90 * 86400.0, accuracy=Accuracy(of_reading=30e-6)),
        IntervalAccuracy(label="1 y", within_s=365.25 * 86400, accuracy=Accuracy(of_reading=40e-6, of_range=7e-6)),
    )


def test_unspecified_row_promises_nothing(folder: Folder) -> None:
    (row,) = rows(folder, '{ range = "6.000 V", accuracy = "unspecified" }')
    assert row.accuracy is None
    assert row.intervals == ()


def test_the_model_of_the_format_reference() -> None:
    model = load_model(shipped_plans() / "models" / "larkfield-l60.toml")
    assert (model.name, model.counts, model.auto_off_s, model.weight_kg) == ("Larkfield L60", 6000, 900.0, 0.31)
    assert model.update_s == 1 / 3
    assert model.offers == (Offer(price=42.0, currency="EUR", on=date(2026, 5, 2)),)
    assert model.conditions == Conditions(
        temperature=(18.0, 28.0), humidity="below 75 %, not condensing", outside=0.1, valid_for_s=365.25 * 86400
    )
    assert model.jacks[2] == Jack(
        name="10A", maximum=10.0, maximum_unit="A", fuse="10 A / 600 V", on_s=30.0, per_s=900.0
    )
    assert model.functions[2].add == (
        Adder(condition="crest factor", low=2.0, high=3.0, accuracy=Accuracy(of_reading=0.03)),
    )
    assert model.functions[3].rows[0].burden_ohm == 100.0


def test_reference_conditions_as_manuals_print_them() -> None:
    # P-18: 23 °C ± 5 °C (18-28 °C); user manuals (studylibde.com/doc/10270988; others). Two spellings of one window.
    plus_minus = load_model(shipped_plans() / "models" / "tamsin-t6.toml").conditions.temperature
    assert plus_minus == load_model(shipped_plans() / "models" / "larkfield-l60.toml").conditions.temperature
    assert plus_minus == (18.0, 28.0)


@pytest.mark.parametrize(
    ("text", "decision"),
    [
        ('"simple"', Decision(rule="simple")),
        ('"guarded"', Decision(rule="guarded")),
        ('"managed ratio"', Decision(rule="managed ratio")),
        ("{ scaled = 0.83 }", Decision(rule="scaled", parameter=0.83)),
        ('{ false_accept_below = "2 %" }', Decision(rule="false accept", parameter=0.02)),
    ],
)
def test_decision(folder: Folder, text: str, decision: Decision) -> None:
    folder.write(plan=PLAN.replace("[[unit]]", f"decision = {text}\n[[unit]]", 1))
    assert folder.load().plan.decision == decision


@pytest.mark.parametrize(
    ("text", "points"),
    [
        ('["400 mV", "-3 V"]', ListedPoints(values=(0.4, -3.0))),
        ("{ percent_of_each_range = [7, 50.5] }", RangePoints(shares=(0.07, 0.505))),
        (
            '{ from = "2 mV", to = "2 V", per_decade = 2, both_signs = true }',
            DecadePoints(start=0.002, stop=2.0, per_decade=2, both_signs=True),
        ),
        ('"around range changes"', RangeChangePoints()),
        ('"artifacts"', ArtifactPoints()),
    ],
)
def test_points(folder: Folder, text: str, points: object) -> None:
    folder.write(plan=PLAN.replace('["1 V", "-3 V"]', text))
    assert folder.load().plan.sweeps[0].points == points


@pytest.mark.parametrize(
    ("text", "trim"), [('"0.05 %"', Level(value=0.0005, relative=True)), ('"1 mV"', Level(value=0.001, relative=False))]
)
def test_trim(folder: Folder, text: str, trim: Level) -> None:
    folder.write(plan=PLAN + f"trim = {text}\n")
    assert folder.load().plan.sweeps[0].trim == trim


def test_one_frequency_or_a_list(folder: Folder) -> None:
    ac = PLAN.replace("dc voltage", "ac voltage").replace('"-3 V"', '"3 V"')
    folder.write(plan=ac + 'frequency = "1 kHz"\n')
    assert folder.load().plan.sweeps[0].frequencies == (1000.0,)
    folder.write(plan=ac + 'frequency = ["55 Hz", "1 kHz"]\n')
    assert folder.load().plan.sweeps[0].frequencies == (55.0, 1000.0)


def test_bench(folder: Folder) -> None:
    bench = folder.load().bench
    assert bench.references[0].calibrated == date(2026, 3, 9)
    assert not bench.references[0].never
    assert bench.references[0].model_file == "meter.toml"
    assert bench.sources[0].covers == (Cover(measure="dc voltage", low=0.0, high=6.0),)
    assert (bench.mains_hz, bench.lead_ohm, bench.ports) == (50.0, 0.05, ())


def test_a_volt_hertz_product_of_an_ac_voltage(folder: Folder) -> None:
    alternating = 'measures = "ac voltage"\nvolt_hertz = "2e7 V Hz"'
    folder.write(model=MODEL + MODEL[MODEL.index("[[function]]") :].replace('measures = "dc voltage"', alternating))
    functions = next(iter(folder.load().models.values())).functions
    assert [function.volt_hertz for function in functions] == [None, 2e7]


def corrected(entry: str) -> str:
    return BENCH.replace("[[source]]", f"corrections = [{{ {entry} }}]\n\n[[source]]")


def test_corrections_of_a_certificate(folder: Folder) -> None:
    entry = 'measure = "dc voltage", range = "6 V", at = "-5 V", correction = "-42 µV", uncertainty = "15 µV"'
    folder.write(bench=corrected(entry))
    (found,) = folder.load().bench.references[0].corrections
    assert (found.measure, found.full_scale, found.at, found.frequency) == ("dc voltage", 6.0, -5.0, None)
    assert (found.correction, found.uncertainty) == (-42e-6, 15e-6)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"15 µV"', '"-15 µV"', 'corrections[0].uncertainty: got "-15 µV", accepted: an uncertainty without a sign'),
        ('"6 V"', '"10 V"', 'corrections[0].range: got "10 V", accepted: a range of Meter for dc voltage: 6.000 V'),
        ('"15 µV"', '"15 µV", frequency = "1 kHz"', "accepted: a frequency for ac, and none for others"),
        ('"15 µV"', '"15 µA"', "corrections[0].uncertainty"),
    ],
)
def test_corrections_that_no_certificate_gives(folder: Folder, old: str, new: str, said: str) -> None:
    entry = 'measure = "dc voltage", range = "6 V", at = "5 V", correction = "-42 µV", uncertainty = "15 µV"'
    folder.write(bench=corrected(entry.replace(old, new)))
    assert said in folder.message()


def test_never_calibrated(folder: Folder) -> None:
    folder.write(bench=BENCH.replace("2026-03-09", '"never"'))
    reference = folder.load().bench.references[0]
    assert reference.never
    assert reference.calibrated is None


def test_simulated_port_of_a_unit_and_of_none(folder: Folder) -> None:
    things = '[[simulated.thing]]\nlabel = "A"\nport = true\n[[simulated.thing]]\nlabel = "Q"\nport = true\n'
    folder.write(bench=BENCH + things)
    assert folder.load().bench.ports == (Port(label="A", address=""),)


def test_true_errors(folder: Folder) -> None:
    thing = (
        '[[simulated.thing]]\nlabel = "A"\nerrors = [{ measures = "dc voltage", range = "6 V", gain = "-0.12 %", '
        'offset = "-0.5 mV", meant_to_fail = true }]\n'
    )
    folder.write(bench=BENCH + thing)
    simulated = folder.load().bench.simulated
    assert simulated is not None
    assert simulated.thing("A").errors == (
        TrueError(measures="dc voltage", full_scale=6.0, gain=-0.0012, offset=-0.0005, meant_to_fail=True),
    )


def test_bench_in_another_folder_names_models_from_its_own(folder: Folder) -> None:
    (folder.path / "benches").mkdir()
    text = BENCH.replace("meter.toml", "../meter.toml")
    (folder.path / "benches" / "here.toml").write_text(text, encoding="utf-8")
    inputs = load_inputs(folder.path / "plan.toml", folder.path / "benches" / "here.toml")
    assert inputs.bench.references[0].model_file == "meter.toml"
    assert [(text.role, text.name) for text in inputs.texts] == [
        ("plan", "plan.toml"),
        ("bench", "benches/here.toml"),
        ("model", "meter.toml"),
    ]


def test_plan_in_the_current_folder(folder: Folder, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder.path)
    assert load_inputs(Path("plan.toml"), Path("bench.toml")) == folder.load()


def test_windows_line_ends_and_a_byte_order_mark_change_nothing(folder: Folder) -> None:
    before = folder.load()
    for name in ("plan.toml", "bench.toml", "meter.toml"):
        path = folder.path / name
        path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    after = folder.load()
    assert (after.plan, after.bench, after.models) == (before.plan, before.bench, before.models)
    assert reload_inputs(after.texts) == after


@pytest.mark.parametrize("bench", ["simulated.toml", "workshop.toml"])
def test_shipped_files_load_and_reload(bench: str) -> None:
    inputs = load_inputs(PLAN_FILE, shipped_plans() / "benches" / bench)
    assert reload_inputs(inputs.texts) == inputs
    assert load_bench(shipped_plans() / "benches" / bench).sources == inputs.bench.sources


def test_frozen_texts_without_a_model() -> None:
    texts = [text for text in load_inputs(PLAN_FILE, SIMULATED).texts if "tamsin" not in text.name]
    with pytest.raises(InputError) as caught:
        reload_inputs(texts)
    assert "unit[1].model: got models/tamsin-t6.toml, which is not among the frozen files, accepted: " in str(
        caught.value
    )
    assert len(caught.value.faults) == 1


def test_frozen_texts_without_a_plan() -> None:
    with pytest.raises(InputError, match="one plan and one bench are needed, there are 0 and 1"):
        reload_inputs([InputText(role="bench", name="b.toml", text="")])


def test_every_category_has_its_evidence() -> None:
    models = load_inputs(PLAN_FILE, SIMULATED).models.values()
    assert {model.safety.evidence for model in models} == {"independent laboratory", "maker's statement", "none found"}
    assert all(isinstance(model.safety, Safety) and model.safety.category for model in models)


def test_true_errors_of_the_shipped_bench_stay_well_inside_or_well_outside() -> None:
    """Every unit is inside by a wide margin at every planned point, but for one unit on one range."""
    inputs = load_inputs(PLAN_FILE, SIMULATED)
    assert inputs.bench.simulated is not None
    sequence = expand(inputs.plan, inputs.bench, inputs.models)
    setups = {setup.key: setup for setup in sequence.setups}
    failing: set[tuple[str, str]] = set()
    judged = 0
    for step in sequence.steps:
        for dial in setups[step.setup].dials:
            unit = inputs.plan.units[dial.unit - 1]
            model = inputs.models[unit.model_file]
            at = promise(model, dial.function, step.nominal, frequency=step.frequency, temperature=23.0)
            function = model.functions[dial.function]
            row = min(
                (row for row in function.rows if abs(step.nominal) <= row.display_to * (1 + 1e-9)),
                key=lambda row: row.display_to,
            )
            if not math.isfinite(at.limit):
                continue
            judged += 1
            hidden = inputs.bench.simulated.thing(unit.label).error_on(step.measure, function.dial, row.full_scale)
            share = abs(hidden.gain * step.nominal + hidden.offset) / at.limit
            if hidden.meant_to_fail:
                failing.add((unit.label, row.printed))
                assert share >= 1.5, (unit.label, step)
            else:
                assert share <= 0.6, (unit.label, step)
    assert failing == {("D", "60.00 V")}
    assert judged > 180


def test_the_shipped_plan_is_as_large_as_announced() -> None:
    inputs = load_inputs(PLAN_FILE, SIMULATED)
    sequence = expand(inputs.plan, inputs.bench, inputs.models)
    assert [unit.label for unit in inputs.plan.units] == ["A", "B", "C", "D", "E"]
    together = [step for step in sequence.steps if step.measure not in ("resistance", "capacitance")]
    assert len(together) == 42
    assert sum(len(step.units) for step in together) == 208
    # Three resistors for five units, one capacitor for the three that measure capacitance.
    assert len(sequence.steps) - len(together) == 3 * 5 + 3
    assert {entry.unit for entry in sequence.not_covered} == {1, 2, 4}


def test_mishaps_of_a_simulated_thing(folder: Folder) -> None:
    thing = '[[simulated.thing]]\nlabel = "truth"\nfaults = [{ what = "no answer", after = 3 }]\n'
    folder.write(bench=BENCH + thing)
    simulated = folder.load().bench.simulated
    assert simulated is not None
    assert simulated.thing("truth").faults == (PlannedFault(what="no answer", after=3, times=1),)
    folder.write(bench=BENCH + thing.replace("no answer", "no anser"))
    assert '  hint: did you mean "no answer"?' in folder.message()


@pytest.mark.parametrize(
    ("label", "what", "kind"), [("truth", "fuse blown", "an instrument"), ("A", "rebooted", "a meter")]
)
def test_a_mishap_that_cannot_happen_to_a_thing(folder: Folder, label: str, what: str, kind: str) -> None:
    folder.write(bench=BENCH + f'[[simulated.thing]]\nlabel = "{label}"\nfaults = [{{ what = "{what}" }}]\n')
    assert f'simulated.thing[0].faults[0].what: got "{what}", accepted: for {kind}: no answer, ' in folder.message()
