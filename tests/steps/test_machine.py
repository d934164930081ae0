from dataclasses import replace

import hypothesis.strategies as st
import pytest
from hypothesis import given

from sequencer.steps.machine import Machine
from sequencer.values.event import (
    Applied,
    ApplyStep,
    ArtifactMeasured,
    AskUnit,
    Captured,
    CapturePorts,
    ConfirmHazard,
    Event,
    Finish,
    HazardAnswered,
    Keyed,
    LoopOpened,
    MeasureArtifact,
    Probed,
    ProbeSetup,
    Reading,
    Request,
    SegmentEnded,
    SegmentStarted,
    Skipped,
    SwitchedOff,
    SwitchOff,
    TakenAgain,
    TakeZero,
    UnitReading,
    Wired,
    WireSetup,
    Zeroed,
)
from sequencer.values.step import DialSetting, Sequence, Setup, Step, Zero

READING = Reading(of="A", text="3.000", at_s=0.0, format="keyed", value=3.0, resolution=0.001)


def setup(key: str) -> Setup:
    return Setup(
        key=key,
        wiring="parallel",
        measure="dc voltage",
        source="dc",
        reference="truth",
        polarity=1,
        dials=(
            DialSetting(unit=1, function=0, dial="V", jack="V"),
            DialSetting(unit=2, function=0, dial="V", jack="V"),
        ),
        probe=1.0,
        current_limit=0.01,
    )


def sequence(readings: int = 1) -> Sequence:
    steps = tuple(
        Step(
            key=f"{key}.p{place}",
            setup=key,
            measure="dc voltage",
            nominal=float(place),
            units=(1, 2),
            readings=readings,
        )
        for key in ("s1", "s2")
        for place in (1, 2)
    )
    return Sequence(setups=(setup("s1"), setup("s2")), steps=steps)


def answer(request: Request) -> Event:
    at = request.id
    match request:
        case SwitchOff():
            return SwitchedOff(answers=at, at_s=0.0)
        case MeasureArtifact(setup=key):
            return ArtifactMeasured(setup=key, artifact=f"R{key[-1]}", answers=at, at_s=0.0)
        case TakeZero(setup=key, unit=unit):
            return Zeroed(setup=key, unit=UnitReading(unit=unit, reading=READING), answers=at, at_s=0.0)
        case WireSetup(setup=key):
            return Wired(setup=key, answers=at, at_s=0.0)
        case ConfirmHazard(setup=key):
            return HazardAnswered(setup=key, confirmed=True, answers=at, at_s=0.0)
        case ProbeSetup(setup=key):
            return Probed(setup=key, answers=at, at_s=0.0)
        case ApplyStep(step=key):
            return Applied(step=key, settled=True, source_setting=1.0, answers=at, at_s=0.0)
        case CapturePorts(step=key, repeat=repeat, units=units):
            taken = tuple(UnitReading(unit=unit, reading=READING) for unit in units)
            return Captured(step=key, repeat=repeat, units=taken, answers=at, at_s=0.0)
        case AskUnit(step=key, unit=unit, repeat=repeat, attempt=attempt):
            taken_unit = UnitReading(unit=unit, reading=READING)
            return Keyed(step=key, asked_s=0.0, repeat=repeat, attempt=attempt, unit=taken_unit, answers=at, at_s=0.0)
        case Finish():
            return SegmentEnded(outcome="finished", answers=at, at_s=0.0)


def test_a_unit_alone_gets_its_zero_once_no_probe_and_no_source() -> None:
    events = play(Machine(alone(), frozenset()))
    kinds = [type(event).__name__ for event in events[:9]]
    assert kinds == [
        "SwitchedOff", "Zeroed", "Wired", "Applied", "Keyed", "SwitchedOff", "Wired", "Applied", "Keyed",
    ]  # fmt: skip
    assert sum(isinstance(event, Zeroed) for event in events) == 2
    assert not any(isinstance(event, Probed) for event in events)


def hazardous() -> Sequence:
    """One setup of which the second point is dangerous to touch."""
    steps = tuple(
        Step(key=f"s1.p{place}", setup="s1", measure="dc voltage", nominal=volts, units=(1,))
        for place, volts in enumerate((3.0, 100.0), start=1)
    )
    return Sequence(setups=(replace(setup("s1"), has_hazard=True),), steps=steps)


def test_a_hazard_is_confirmed_once_before_anything_is_switched_on_and_again_on_resume() -> None:
    machine = Machine(hazardous(), frozenset())
    kinds = [type(event).__name__ for event in play(machine, most=4)]
    assert kinds == ["SwitchedOff", "Wired", "HazardAnswered", "Probed"]
    machine.receive(SegmentStarted())
    assert [type(event).__name__ for event in play(machine, most=3)] == ["SwitchedOff", "Wired", "HazardAnswered"]


def test_a_hazard_that_is_declined_leaves_its_points_out_and_no_others() -> None:
    machine = Machine(hazardous(), frozenset())
    play(machine, most=2)
    request = first(machine)
    assert isinstance(request, ConfirmHazard)
    said = HazardAnswered(answers=request.id, at_s=0.0, setup="s1", confirmed=False, reason="not qualified")
    assert machine.receive(said)
    assert machine.take_given_up() == (("s1.p2", 1, 0),)
    events = play(machine)
    assert [event.step for event in events if isinstance(event, Applied)] == ["s1.p1"]
    assert machine.finished


def test_a_hazard_is_confirmed_again_once_hands_were_on_the_leads() -> None:
    machine = Machine(hazardous(), frozenset())
    *_, applied = play(machine, most=5)
    assert isinstance(applied, Applied)
    voided = LoopOpened(answers=first(machine).id, at_s=0.0, step=applied.step, text="the loop is open")
    assert machine.receive(voided)
    assert [type(event).__name__ for event in play(machine, most=3)] == ["SwitchedOff", "Wired", "HazardAnswered"]


def test_a_hazard_that_was_declined_since_is_not_gone_back_to() -> None:
    machine = Machine(hazardous(), frozenset())
    play(machine, most=2)
    request = first(machine)
    said = HazardAnswered(answers=request.id, at_s=0.0, setup="s1", confirmed=False, reason="not qualified")
    assert machine.receive(said)
    assert not machine.receive(TakenAgain(answers="", at_s=0.0, step="s1.p2", unit=1, repeat=0, reason="mistyped"))


def measured() -> Sequence:
    """Two units on two artifacts that a reference reads."""
    certified = alone()
    return replace(certified, setups=tuple(replace(each, reference="truth") for each in certified.setups))


def test_an_artifact_is_read_by_its_reference_once_before_the_first_unit() -> None:
    events = play(Machine(measured(), frozenset()))
    kinds = [type(event).__name__ for event in events if isinstance(event, (ArtifactMeasured, Zeroed, Keyed))]
    # Unit 1 on both artifacts, unit 2 on both.
    assert kinds == [
        "ArtifactMeasured", "Zeroed", "Keyed", "ArtifactMeasured", "Keyed", "Zeroed", "Keyed", "Keyed",
    ]  # fmt: skip


def test_a_new_segment_has_artifacts_read_anew() -> None:
    machine = Machine(measured(), frozenset())
    play(machine, most=7)
    machine.receive(SegmentStarted())
    play(machine, most=1)
    assert isinstance(first(machine), MeasureArtifact)


def test_a_new_segment_takes_the_zero_anew() -> None:
    machine = Machine(alone(), frozenset())
    play(machine, most=6)  # the first artifact is read, the output off for the second
    machine.receive(SegmentStarted())
    play(machine, most=1)
    assert isinstance(first(machine), TakeZero)


def first(machine: Machine) -> Request:
    return min(machine.open_requests(), key=lambda request: (not isinstance(request, CapturePorts), request.id))


def play(machine: Machine, most: int = 1000) -> list[Event]:
    events: list[Event] = []
    while machine.open_requests() and len(events) < most:
        event = answer(first(machine))
        assert machine.receive(event)
        events.append(event)
    return events


def alone(readings: int = 1) -> Sequence:
    """Two units, each alone on two artifacts; the zero before the first one holds for both."""
    setups = tuple(
        replace(
            setup(f"a{unit}{place}"),
            wiring="alone",
            measure="resistance",
            source="",
            reference=f"R{place}",
            artifact=f"R{place}",
            dials=(DialSetting(unit=unit, function=0, dial="Ω", jack="V"),),
            zeros=(Zero(key=f"{unit}:0:", unit=unit, leads="shorted"),),
        )
        for unit in (1, 2)
        for place in (1, 2)
    )
    steps = tuple(
        Step(
            key=f"{each.key}.p1",
            setup=each.key,
            measure="resistance",
            nominal=100.0,
            units=(each.dials[0].unit,),
            readings=readings,
        )
        for each in setups
    )
    return Sequence(setups=setups, steps=steps)


def both(readings: int = 1) -> Sequence:
    """Setups side by side, then units alone."""
    one, other = sequence(readings), alone(readings)
    return Sequence(setups=(*one.setups, *other.setups), steps=(*one.steps, *other.steps))


def readings_of(events: list[Event]) -> list[tuple[str, int, int]]:
    taken = [(event.step, event.unit.unit, event.repeat) for event in events if isinstance(event, Keyed)]
    for event in events:
        if isinstance(event, Captured):
            taken.extend((event.step, unit.unit, event.repeat) for unit in event.units)
    return sorted(taken)


def everything(readings: int = 1) -> list[tuple[str, int, int]]:
    steps = both(readings).steps
    return sorted((step.key, unit, repeat) for step in steps for unit in step.units for repeat in range(readings))


def test_a_setup_begins_with_off_wire_probe() -> None:
    machine = Machine(sequence(), frozenset())
    kinds = [type(event).__name__ for event in play(machine)]
    assert kinds[:6] == ["SwitchedOff", "Wired", "Probed", "Applied", "Keyed", "Keyed"]
    assert kinds[-2:] == ["SwitchedOff", "SegmentEnded"]
    assert machine.finished


def test_the_output_is_off_before_every_wiring_and_at_the_end() -> None:
    machine = Machine(sequence(), frozenset())
    before: Event | None = None
    for event in play(machine):
        if isinstance(event, Wired | SegmentEnded):
            assert isinstance(before, SwitchedOff)
        before = event


def test_ports_and_people_are_open_together() -> None:
    machine = Machine(sequence(), frozenset({2}))
    for _ in range(4):
        machine.receive(answer(first(machine)))
    assert {type(request) for request in machine.open_requests()} == {CapturePorts, AskUnit}


def test_an_answer_to_a_closed_request_changes_nothing() -> None:
    machine = Machine(sequence(), frozenset())
    request = first(machine)
    machine.receive(answer(request))
    wanted = machine.open_requests()
    assert not machine.receive(answer(request))
    assert machine.open_requests() == wanted


def test_a_loop_that_opens_twice_leaves_its_step_unread_and_goes_on() -> None:
    machine = Machine(sequence(), frozenset())
    opened = 0
    for _ in range(100):
        request = first(machine)
        if isinstance(request, Finish):
            break
        if isinstance(request, ApplyStep) and request.step == "s1.p1":
            machine.receive(LoopOpened(answers=request.id, at_s=0.0, step=request.step))
            opened += 1
            assert isinstance(first(machine), SwitchOff)
        else:
            machine.receive(answer(request))
    assert opened == 2
    assert machine.take_given_up() == (("s1.p1", 1, 0), ("s1.p1", 2, 0))
    assert machine.take_given_up() == ()
    assert machine.progress() == (4, 4)


def test_a_complaining_probe_is_wired_again_and_then_given_up() -> None:
    machine = Machine(sequence(), frozenset())
    for _ in range(100):
        request = first(machine)
        if isinstance(request, Finish):
            break
        if isinstance(request, ProbeSetup) and request.setup == "s1":
            machine.receive(Probed(answers=request.id, at_s=0.0, setup="s1", complaint="nothing there"))
        else:
            machine.receive(answer(request))
    assert {step for step, _, _ in machine.take_given_up()} == {"s1.p1", "s1.p2"}


def test_giving_up_leaves_what_was_read_before() -> None:
    machine = Machine(sequence(), frozenset())
    play(machine, most=5)  # unit 1 of s1.p1 is read
    for _ in range(20):
        request = first(machine)
        if isinstance(request, AskUnit):
            machine.receive(LoopOpened(answers=request.id, at_s=0.0, step=request.step))
        else:
            machine.receive(answer(request))
        if given_up := machine.take_given_up():
            break
    assert given_up == (("s1.p1", 2, 0),)


def test_a_probe_that_succeeds_forgets_the_complaint_before_it() -> None:
    machine = Machine(sequence(), frozenset())
    complaints = 0
    for _ in range(100):
        request = first(machine)
        if isinstance(request, ProbeSetup) and complaints < 1:
            complaints += 1
            machine.receive(Probed(answers=request.id, at_s=0.0, setup=request.setup, complaint="loose"))
            continue
        if isinstance(request, Finish):
            break
        machine.receive(answer(request))
    assert machine.take_given_up() == ()


def test_a_replay_keeps_readings_whatever_is_ported_today() -> None:
    before = Machine(sequence(), frozenset({2}))
    journal = [SegmentStarted(), *play(before, most=9)]
    after = Machine(sequence(), frozenset({1}))
    for event in journal:
        after.replay(event)
    after.receive(SegmentStarted())
    assert after.progress() == before.progress()
    assert after.progress()[0] > 0


def test_a_retake_opens_the_reading_again_with_the_next_attempt() -> None:
    machine = Machine(sequence(), frozenset())
    events = play(machine, most=5)
    keyed = events[-1]
    assert isinstance(keyed, Keyed)
    again = TakenAgain(answers="", at_s=0.0, step=keyed.step, unit=1, repeat=0, reason="a slip")
    assert machine.receive(again)
    asked = [request for request in machine.open_requests() if isinstance(request, AskUnit)]
    assert (1, 1) in [(request.unit, request.attempt) for request in asked]


def test_a_retake_of_an_earlier_step_goes_back_and_returns() -> None:
    machine = Machine(sequence(), frozenset())
    play(machine, most=7)  # s1.p1 done, s1.p2 applied
    assert machine.receive(TakenAgain(answers="", at_s=0.0, step="s1.p1", unit=2, repeat=0, reason="mistyped"))
    request = first(machine)
    assert isinstance(request, ApplyStep)
    assert request.step == "s1.p1"
    rest = play(machine)
    assert ("s1.p1", 2, 0) in readings_of(rest)
    assert ("s1.p1", 1, 0) not in readings_of(rest)
    assert machine.finished


def test_a_retake_of_what_was_never_read_is_refused() -> None:
    machine = Machine(sequence(), frozenset())
    assert not machine.receive(TakenAgain(answers="", at_s=0.0, step="s2.p1", unit=2, repeat=0, reason="?"))
    assert not machine.receive(TakenAgain(answers="", at_s=0.0, step="nowhere", unit=2, repeat=0, reason="?"))


def test_a_skipped_reading_is_not_asked_for() -> None:
    machine = Machine(sequence(), frozenset())
    play(machine, most=4)
    machine.receive(Skipped(at_s=0.0, step="s1.p1", units=(1,), repeat=0, reason="cannot be seen"))
    assert ("s1.p1", 1, 0) not in readings_of(play(machine))


@pytest.mark.parametrize("ported", [frozenset(), frozenset({1}), frozenset({1, 2})])
@pytest.mark.parametrize("readings", [1, 3])
def test_every_reading_is_taken_once(ported: frozenset[int], readings: int) -> None:
    assert readings_of(play(Machine(both(readings), ported))) == everything(readings)


@given(cuts=st.lists(st.integers(0, 30), max_size=6), ported=st.sets(st.sampled_from([1, 2])))
def test_a_run_cut_anywhere_and_taken_up_again_misses_and_repeats_nothing(cuts: list[int], ported: set[int]) -> None:
    journal: list[Event] = []
    for cut in [*cuts, 1000]:
        machine = Machine(both(), frozenset(ported))
        for event in journal:
            machine.replay(event)
        started = SegmentStarted()
        machine.receive(started)
        journal.append(started)
        journal.extend(play(machine, most=cut))
    assert readings_of(journal) == everything()


@given(cuts=st.lists(st.integers(0, 30), max_size=4))
def test_a_replay_ends_in_the_same_state(cuts: list[int]) -> None:
    machine = Machine(both(), frozenset({1}))
    journal: list[Event] = []
    for cut in cuts:
        machine.receive(SegmentStarted())
        journal.append(SegmentStarted())
        journal.extend(play(machine, most=cut))
    replayed = Machine(both(), frozenset({1}))
    for event in journal:
        replayed.replay(event)
    assert replayed.open_requests() == machine.open_requests()
    assert replayed.progress() == machine.progress()
