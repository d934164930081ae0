from dataclasses import replace

import pytest

from sequencer.errors import InputError
from sequencer.steps.choose import Point, hazard_at, hazard_of
from sequencer.steps.expand import expand
from sequencer.values.bench import Cover
from sequencer.values.measure import Measure, Waveform
from sequencer.values.model import Jack, MeterModel
from sequencer.values.plan import DecadePoints, RangePoints
from sequencer.values.step import Pulse
from tests.steps.builders import MODELS, bench, plan, sweep


def test_values_rise_inside_a_setup_whatever_their_order_in_the_plan() -> None:
    sequence = expand(plan(sweep("dc voltage", 12.0, -3.0, 3.0, 0.4)), bench(), MODELS)
    assert [step.nominal for step in sequence.steps] == [0.4, 3.0, -3.0, 12.0]
    assert len(sequence.setups) == 1


def test_a_bipolar_source_needs_no_lead_swap_and_a_unipolar_one_does() -> None:
    wanted = plan(sweep("dc voltage", 3.0, -3.0))
    assert [setup.polarity for setup in expand(wanted, bench(), MODELS).setups] == [1]
    assert [setup.polarity for setup in expand(wanted, bench(bipolar=False), MODELS).setups] == [1, -1]


def test_a_dial_position_of_its_own_gets_a_setup_of_its_own() -> None:
    sequence = expand(plan(sweep("dc voltage", 0.4, 3.0), models=("plain", "millivolts")), bench(), MODELS)
    dials = [[dial.dial for dial in setup.dials] for setup in sequence.setups]
    assert dials == [["V", "mV"], ["V", "V"]]


def test_units_that_cannot_read_a_point_are_left_out_with_the_reason() -> None:
    wanted = plan(sweep("dc current", 0.1, 0.5), models=("plain", "millivolts"))
    sequence = expand(wanted, bench(), MODELS)
    assert [(step.nominal, step.units) for step in sequence.steps] == [(0.1, (1,))]
    reasons = {(entry.nominal, entry.unit): entry.reason for entry in sequence.not_covered}
    assert reasons[(0.5, 1)] == "above the rating of jack mA, 400 mA"
    assert reasons[(0.1, 2)] == "With mV has no dc current function"


@pytest.mark.parametrize(
    ("measure", "value", "frequencies", "words"),
    [
        ("dc voltage", 61.0, (), "above 60 V dc"),
        ("dc voltage", -61.0, (), "above 60 V dc"),
        ("ac voltage", 31.0, (400.0,), "above 30 V ac rms"),
        ("dc current", 1.1, (), "above 1 A"),
    ],
)
def test_hazards_are_said_in_words(measure: Measure, value: float, frequencies: tuple[float, ...], words: str) -> None:
    point = Point(measure=measure, nominal=value, frequency=frequencies[0] if frequencies else None)
    assert words in hazard_of(point)


def test_a_hazard_is_put_on_rated_jacks_only_and_has_to_be_confirmed() -> None:
    wanted = plan(sweep("dc voltage", 3.0, 61.0, -90.0, 91.0), models=("plain", "rated"))
    sequence = expand(wanted, bench(), MODELS)
    assert {(step.nominal, step.units): bool(hazard_at(step)) for step in sequence.steps} == {
        (3.0, (1, 2)): False,
        (61.0, (2,)): True,
        (-90.0, (2,)): True,
    }
    assert [(setup.has_hazard, setup.rating) for setup in sequence.setups] == [(False, 90.0), (True, 90.0)]
    reasons = {(entry.nominal, entry.unit): entry.reason for entry in sequence.not_covered}
    assert reasons[(91.0, 2)] == "above the rating of jack V, 90 V"
    assert reasons[(61.0, 1)].startswith("beyond its largest range")


def test_a_hazard_needs_printed_ratings_and_a_hard_limit() -> None:
    wanted = plan(sweep("dc voltage", 61.0), models=("rated",))
    unrated = {**MODELS, "rated": replace(MODELS["rated"], jacks=())}
    with pytest.raises(InputError, match="the jack of Rated has no printed rating"):
        expand(wanted, bench(), unrated)
    low = replace(MODELS["truth"], jacks=(Jack(name="HI", maximum=50.0, maximum_unit="V"),))
    with pytest.raises(InputError, match="reference truth: above the rating of jack HI, 50 V"):
        expand(wanted, bench(), {**MODELS, "truth": low})
    endless = replace(bench(), sources=(replace(bench().sources[0], max_voltage=None),))
    with pytest.raises(InputError, match="source dc has no hard limit in the bench file"):
        expand(wanted, endless, MODELS)


def test_points_beyond_a_volt_hertz_product_are_listed_not_driven() -> None:
    rows = MODELS["plain"].functions
    narrow = replace(MODELS["plain"], functions=tuple(replace(one, volt_hertz=3e4) for one in rows))
    wanted = plan(sweep("ac voltage", 3.0, frequencies=(1e4, 1.1e4)), models=("plain",))
    sequence = expand(wanted, bench(), {**MODELS, "plain": narrow})
    assert [step.frequency for step in sequence.steps] == [1e4]
    assert [entry.reason for entry in sequence.not_covered] == ["beyond its volt-hertz product, 30000 V·Hz"]


def test_points_at_the_thresholds_are_driven() -> None:
    # EN 61010-1:1993, 6.3.1.1: 60 V dc (30 V ac rms, 42.4 V peak from memory) are the limits, not beyond them.
    wanted = plan(sweep("dc voltage", 60.0), sweep("ac voltage", 29.9, frequencies=(400.0,)))
    models = MODELS
    assert [step.nominal for step in expand(wanted, bench(), models).steps] == [60.0]


def test_points_above_the_bench_limit_are_listed_not_driven() -> None:
    sequence = expand(plan(sweep("dc voltage", 3.0, 20.0)), bench(max_voltage=10.0), MODELS)
    assert [step.nominal for step in sequence.steps] == [3.0]
    assert sequence.not_covered[0].reason == "above the hard limit of source dc"


def test_decades_include_both_ends() -> None:
    points = DecadePoints(start=2e-5, stop=0.2, per_decade=2)
    sequence = expand(plan(sweep("dc current", points=points)), bench(), MODELS)
    taken = [step.nominal for step in sequence.steps]
    assert taken[0] == 2e-5
    assert taken[-1] == 0.2
    assert len(taken) == 9


def test_shares_of_a_range_that_autoranging_would_not_show_are_dropped_and_listed() -> None:
    points = RangePoints(shares=(0.05, 0.5), both_signs=True)
    sequence = expand(plan(sweep("dc voltage", points=points)), bench(), MODELS)
    assert [step.nominal for step in sequence.steps] == [0.3, -0.3, 3.0, -3.0, 30.0, -30.0]
    assert sequence.not_covered[0].reason == ("5% of 60.0 V (3 V) would be shown on 6.0 V, so it needs a locked range")


def test_the_probe_is_low_and_shown_well() -> None:
    setup = expand(plan(sweep("dc voltage", 0.004, 0.4, 12.0)), bench(), MODELS).setups[0]
    # 4 mV is four digits of the 6.000 V range; 0.4 V is the lowest point that moves the display by twenty.
    assert setup.probe == 0.4
    assert setup.current_limit == pytest.approx(0.01)
    loop = expand(plan(sweep("dc current", 0.1)), bench(), MODELS).setups[0]
    assert loop.probe == 1e-3
    assert loop.voltage_limit == 12.0


def test_loops_are_batched_until_the_compliance_is_half_as_much_again_as_the_burdens() -> None:
    # At 0.4 A each unit drops 0.8 V and 0.02 V in a lead, the reference 0.04 V and 0.02 V: (3 - 0.06 V) / 0.82 V = 3.6.
    wanted = plan(sweep("dc current", 0.4), models=("plain",) * 5)
    sequence = expand(wanted, bench(compliance=4.5), MODELS)
    assert [step.units for step in sequence.steps] == [(1, 2, 3), (4, 5)]


def test_at_once_bounds_the_units_on_the_terminals() -> None:
    sequence = expand(plan(sweep("dc voltage", 3.0), models=("plain",) * 3, at_once=2), bench(), MODELS)
    assert [step.units for step in sequence.steps] == [(1, 2), (3,)]


def test_one_by_one_wires_each_unit_alone() -> None:
    wanted = replace(plan(sweep("dc voltage", 3.0), models=("plain",) * 3), arrangement="one by one")
    assert [step.units for step in expand(wanted, bench(), MODELS).steps] == [(1,), (2,), (3,)]


def test_compliance_never_exceeds_thirty_volts() -> None:
    setup = expand(plan(sweep("dc current", 0.1)), bench(compliance=48.0), MODELS).setups[0]
    assert setup.voltage_limit == 30.0


def test_the_same_point_of_two_sweeps_is_one_step() -> None:
    sequence = expand(plan(sweep("dc voltage", 3.0), sweep("dc voltage", 3.0, 4.0)), bench(), MODELS)
    assert [step.nominal for step in sequence.steps] == [3.0, 4.0]


def test_the_reference_range_leaves_headroom() -> None:
    sequence = expand(plan(sweep("dc voltage", 1.0, 1.19)), bench(), MODELS)
    assert [step.reference_range for step in sequence.steps] == [1.0, 10.0]


def test_nothing_to_measure_is_an_error_with_the_reasons() -> None:
    with pytest.raises(InputError, match="no source on this bench covers it"):
        expand(plan(sweep("dc current", 0.1)), replace(bench(), sources=()), MODELS)


def test_no_source_is_taken_for_what_it_cannot_give() -> None:
    on = bench()
    spans = (Cover(measure="resistance", low=0.0, high=1e6), Cover(measure="ac current", low=0.0, high=1.0))
    wrong = replace(on, sources=tuple(replace(source, covers=spans) for source in on.sources))
    with pytest.raises(InputError, match="this version drives no diode"):
        expand(plan(sweep("diode", 0.6)), wrong, MODELS)
    with pytest.raises(InputError, match="no artifact of resistance on this bench"):
        expand(plan(sweep("resistance", 15.0)), wrong, MODELS)


def test_an_ac_level_below_zero_is_left_out() -> None:
    wanted = plan(sweep("ac voltage", -1.5, 1.5, frequencies=(400.0,)))
    sequence = expand(wanted, bench(), MODELS)
    assert [step.nominal for step in sequence.steps] == [1.5]
    assert sequence.not_covered[0].reason == "an ac level has no sign"


def timed(on_s: float) -> dict[str, MeterModel]:
    """The models, their loop's jack printed for a while in every quarter of an hour."""
    jack = Jack(name="mA", maximum=10.0, maximum_unit="A", on_s=on_s, per_s=900.0)
    return {**MODELS, "plain": replace(MODELS["plain"], jacks=(jack,))}


def test_a_jack_with_a_time_limit_gets_pulses_in_which_its_units_can_be_read() -> None:
    # By hand: settling 1 s (three updates of a third), 6 s for the reference, 8 s for a keyed unit: 15, 23, 31 s.
    wanted = plan(sweep("dc current", 0.1, 0.05), models=("plain", "plain", "plain"))
    sequence = expand(wanted, bench(), timed(30.0))
    assert [(step.nominal, step.units) for step in sequence.steps] == [
        (0.05, (1, 2)), (0.1, (1, 2)), (0.05, (3,)), (0.1, (3,)),
    ]  # fmt: skip
    assert {step.pulse for step in sequence.steps} == {Pulse(on_s=30.0, per_s=900.0)}
    assert {step.pulse for step in expand(wanted, bench(), MODELS).steps} == {None}


def test_a_unit_that_cannot_be_read_in_its_time_is_left_out() -> None:
    with pytest.raises(InputError, match="take about 15 s, and its jack 10 s at a time"):
        expand(plan(sweep("dc current", 0.1)), bench(), timed(10.0))


def test_a_unit_that_leaves_no_compliance_is_left_out() -> None:
    # 0.1 A through 2 Ω, 0.1 Ω and two leads of 0.05 Ω drop 0.22 V; with the reserve of 1.5 that needs 0.33 V.
    with pytest.raises(InputError, match="no reserve of compliance"):
        expand(plan(sweep("dc current", 0.1)), bench(compliance=0.3), MODELS)
    assert expand(plan(sweep("dc current", 0.1)), bench(compliance=0.34), MODELS).steps


def test_a_reference_that_is_read_by_eye_is_as_good_as_its_model() -> None:
    on = bench()
    by_eye = replace(on, references=(replace(on.references[0], driver="keyed"),))
    assert [setup.reference for setup in expand(plan(sweep("dc voltage", 3.0)), by_eye, MODELS).setups] == ["truth"]


@pytest.mark.parametrize(
    ("waveform", "driven", "refused"),
    # Peak over rms: sine sqrt(2), square 1, triangle sqrt(3) (check of crest factors: tests/published); the rms limit
    # of 30 V binds first for the square.
    [("sine", 30.0, 30.1), ("square", 30.0, 30.1), ("triangle", 24.49, 24.50)],
)
def test_the_peak_decides_where_it_is_reached_first(waveform: Waveform, driven: float, refused: float) -> None:
    assert hazard_of(Point(measure="ac voltage", nominal=driven, frequency=400.0), waveform) == ""
    assert "42.4 V peak" in hazard_of(Point(measure="ac voltage", nominal=refused, frequency=400.0), waveform)
