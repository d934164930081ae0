"""The order of setups: hands move least, nothing is lost, and every wiring begins at its lowest value."""

from dataclasses import replace
from itertools import groupby, permutations

import hypothesis.strategies as st
from hypothesis import given

from sequencer.steps.expand import expand
from sequencer.steps.moves import count_moves, leads_of
from sequencer.steps.order import DIAL_TURN_S, LEAD_MOVE_S, best_order
from sequencer.values.bench import Cover
from sequencer.values.step import DialSetting, Setup
from tests.steps.builders import ARTIFACTS, MODELS, bench, plan, sweep


def setup(source: str, dials: tuple[str, ...], artifact: str = "") -> Setup:
    return Setup(
        key="",
        wiring="alone" if artifact else "parallel",
        measure="resistance" if artifact else "dc voltage",
        source="" if artifact else source,
        reference=artifact or "truth",
        polarity=1,
        dials=tuple(DialSetting(unit=unit, function=0, dial=dial, jack="V") for unit, dial in enumerate(dials, 1)),
        probe=1.0,
        artifact=artifact,
    )


def cost(setups: list[Setup]) -> float:
    moves = count_moves(setups, frozenset())
    return LEAD_MOVE_S * moves.leads + DIAL_TURN_S * moves.dials


SETUPS = st.lists(
    st.builds(
        setup,
        st.sampled_from(["a", "b", "c"]),
        st.tuples(st.sampled_from(["V", "mV", "Hz"]), st.sampled_from(["V", "Ω"])),
    ),
    max_size=5,
)


@given(setups=SETUPS, lowest=st.lists(st.floats(0.001, 10.0), min_size=5, max_size=5))
def test_every_setup_is_performed_once_with_no_more_moves_than_the_plan_says(
    setups: list[Setup], lowest: list[float]
) -> None:
    order = best_order(setups, lowest, frozenset())
    assert sorted(order) == list(range(len(setups)))
    together = sorted(range(len(setups)), key=lambda index: str(leads_of(setups[index])))
    # No order moves leads less often than one that keeps the same leads together.
    assert count_moves([setups[i] for i in order], frozenset()).leads == len({leads_of(each) for each in setups})
    assert count_moves([setups[i] for i in together], frozenset()).leads == len({leads_of(each) for each in setups})


@given(setups=SETUPS, lowest=st.lists(st.floats(0.001, 10.0), min_size=5, max_size=5))
def test_every_wiring_rises_from_its_lowest_value(setups: list[Setup], lowest: list[float]) -> None:
    order = best_order(setups, lowest, frozenset())
    for _, members in groupby(order, key=lambda index: leads_of(setups[index])):
        values = [lowest[index] for index in members]
        assert values == sorted(values)


def test_a_dial_that_is_needed_again_is_not_turned_in_between() -> None:
    # dc by one source, ac, dc by another source: the dials stay if the two dc wirings follow each other.
    setups = [setup("low", ("V", "V")), setup("ac", ("V~", "V~")), setup("high", ("V", "V"))]
    order = best_order(setups, [1.0, 1.0, 10.0], frozenset())
    least = min(cost([setups[i] for i in tried]) for tried in permutations(range(3)))
    assert cost([setups[i] for i in order]) == least == 3 * LEAD_MOVE_S + 4 * DIAL_TURN_S
    assert cost(setups) == 3 * LEAD_MOVE_S + 6 * DIAL_TURN_S


def test_a_unit_goes_from_artifact_to_artifact_before_the_next_one_begins() -> None:
    on = replace(bench(), artifacts=ARTIFACTS)
    sequence = expand(plan(sweep("resistance", 1e3, 100.0), models=("ohms", "ohms")), on, MODELS)
    assert [(each.dials[0].unit, each.artifact) for each in sequence.setups] == [
        (1, "R100"),
        (1, "R1k"),
        (2, "R100"),
        (2, "R1k"),
    ]


def test_two_sources_of_one_measure_follow_each_other() -> None:
    on = bench()
    low = replace(on.sources[0], name="low", covers=(Cover(measure="dc voltage", low=0.0, high=1.0),))
    on = replace(on, sources=(low, *on.sources))
    wanted = plan(sweep("dc voltage", 0.5), sweep("ac voltage", 1.5, frequencies=(400.0,)), sweep("dc voltage", 12.0))
    assert [each.source for each in expand(wanted, on, MODELS).setups] == ["low", "dc", "ac"]


def test_keys_and_points_follow_the_order() -> None:
    wanted = plan(sweep("ac voltage", 1.5, frequencies=(400.0,)), sweep("dc voltage", 3.0, 0.4))
    sequence = expand(wanted, bench(), MODELS)
    assert [each.key for each in sequence.setups] == ["s01", "s02"]
    assert [step.key for step in sequence.steps] == ["s01.p001", "s02.p001", "s02.p002"]
