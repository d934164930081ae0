"""What is believed at a point: references, sources by their own accuracy, a timebase; every number is invented."""

from dataclasses import replace

import pytest

from sequencer.errors import InputError
from sequencer.steps.choose import Point, choose_reference
from sequencer.steps.expand import expand
from sequencer.values.bench import Bench
from sequencer.values.measure import Measure
from tests.steps.builders import MODELS, believed, bench, plan, sweep


def test_the_best_of_references_and_the_source_itself_is_believed() -> None:
    both = believed(bench(), "dc", "dc voltage")
    both = replace(both, references=bench().references)
    # Half a percent and three digits for both: of 1e-5 V on the reference's 10 V range, 1e-6 V on the source's.
    assert expand(plan(sweep("dc voltage", 3.0)), both, MODELS).setups[0].reference == "dc"
    coarse = replace(MODELS["calibrator"].functions[0].rows[0], resolution=0.1)
    functions = (replace(MODELS["calibrator"].functions[0], rows=(coarse,)), *MODELS["calibrator"].functions[1:])
    models = {**MODELS, "calibrator": replace(MODELS["calibrator"], functions=functions)}
    assert expand(plan(sweep("dc voltage", 3.0)), both, models).setups[0].reference == "truth"


def test_a_plan_may_name_what_is_believed() -> None:
    both = replace(believed(bench(), "dc", "dc voltage"), references=bench().references)
    named = replace(sweep("dc voltage", 3.0), reference="truth")
    assert expand(plan(named), both, MODELS).setups[0].reference == "truth"


def test_only_the_source_that_gives_a_point_is_believed_there() -> None:
    other = believed(bench(), "ac", "dc voltage")
    with pytest.raises(InputError, match="no reference on this bench covers it"):
        expand(plan(sweep("dc voltage", 3.0)), other, MODELS)


def loaded(output_ohm: float, *, remote_sense: bool = False) -> float:
    on = believed(bench(), "dc", "dc voltage")
    sources = tuple(replace(one, output_ohm=output_ohm, remote_sense=remote_sense) for one in on.sources)
    sequence = expand(plan(sweep("dc voltage", 3.0), models=("plain", "plain")), replace(on, sources=sources), MODELS)
    return sequence.steps[0].truth_share


def test_what_the_units_take_from_a_source_is_corrected_where_nobody_measures_it() -> None:
    # Two inputs of 10 MΩ behind 100 Ω and a lead of 0.05 Ω: 5e6 / (5e6 + 100.05); check value L-01 is the formula.
    assert loaded(100.0) == pytest.approx(5e6 / (5e6 + 100.05), rel=1e-12)
    assert loaded(100.0, remote_sense=True) == 1.0


def test_a_reference_at_the_terminals_needs_no_correction() -> None:
    assert expand(plan(sweep("dc voltage", 3.0)), bench(), MODELS).steps[0].truth_share == 1.0


def timebase() -> Bench:
    return believed(bench(), "ac", "frequency")


def test_a_frequency_is_that_of_an_ac_voltage() -> None:
    wanted = replace(sweep("frequency", 50.0, 400.0, 5e3), level=2.0)
    sequence = expand(plan(wanted, models=("hertz",)), timebase(), MODELS)
    (setup,) = sequence.setups
    assert (setup.wiring, setup.source, setup.reference, setup.measure) == ("parallel", "ac", "ac", "frequency")
    # The probe is low in level, not in frequency: a level of at most 1 V at the lowest frequency.
    assert (setup.probe, setup.level) == (50.0, 1.0)
    assert [(step.nominal, step.level, step.frequency) for step in sequence.steps] == [
        (50.0, 2.0, None),
        (400.0, 2.0, None),
        (5e3, 2.0, None),
    ]


def test_a_frequency_has_a_level_of_one_volt_where_nobody_says_more() -> None:
    sequence = expand(plan(sweep("frequency", 400.0), models=("hertz",)), timebase(), MODELS)
    assert sequence.steps[0].level == 1.0


def test_the_level_of_a_frequency_is_kept_below_what_hurts_and_what_the_source_may_give() -> None:
    for level, most_v, words in (
        (31.0, 40.0, "the jack of .* has no printed rating"),
        (31.0, None, "source ac has no hard limit"),
        (20.0, 10.0, "above the hard limit of source ac"),
    ):
        on = timebase()
        limited = replace(on, sources=tuple(replace(one, max_voltage=most_v) for one in on.sources))
        wanted = replace(sweep("frequency", 400.0), level=level)
        with pytest.raises(InputError, match=words):
            expand(plan(wanted, models=("hertz",)), limited, MODELS)


def test_a_source_that_cannot_tell_an_open_loop_is_not_believed_for_a_current() -> None:
    on = believed(bench(), "dc", "dc current")
    (spoken,) = on.dialects
    assert spoken.dc_source is not None
    silent = replace(spoken, dc_source=replace(spoken.dc_source, limiting=None))
    assert choose(on, "dc current", 0.01) == "dc"
    for unable in (replace(on, dialects=(silent,)), by_hand(on)):
        assert choose(unable, "dc current", 0.01) == (
            "source dc cannot say whether its current flows: in a loop its setting is not believed"
        )


def by_hand(on: Bench) -> Bench:
    return replace(on, sources=tuple(replace(one, kind="by hand") for one in on.sources))


def choose(on: Bench, measure: Measure, at: float) -> str:
    (source,) = (one for one in on.sources if one.name == "dc")
    point = Point(measure=measure, nominal=at, frequency=None)
    found = choose_reference(on, MODELS, sweep(measure, at), point, source)
    return found if isinstance(found, str) else found[0].name
